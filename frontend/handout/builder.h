// Collects parts and nets while a board is made.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "board.h"

namespace prewire::handout {

class Builder {
 public:
  explicit Builder(const Machine& machine);

  const Machine& machine() const { return machine_; }
  Board& board() { return board_; }
  const std::vector<ChipView>& chips() const { return chips_; }
  /// The chip behind a part with `chip` of -1 or more.
  ChipView view(const Part& part) const;

  int add(Part part);
  /// The designator that `prefix` gets next. Names of the machine file are not used for something else.
  std::string next_ref(const std::string& prefix);
  /// A part without a package that the machine file leaves out: a capacitor, say.
  int add_loose(const std::string& prefix, std::string what, std::string value, std::vector<std::string> terminals);
  int add_block(std::string ref, std::string what, std::string value, std::vector<std::string> terminals);

  int part_of(int chip) const { return part_of_.at(chip); }
  End end(int chip, int model_pin) const;
  End end(int part, std::string_view terminal) const;
  /// The rail of that voltage; made where there is none.
  End rail(std::int32_t microvolts);
  /// The terminal of a block; made where there is none.
  End block_end(int part, const std::string& terminal);

  /// Joins two pins. The name and purpose are those of a new net; a net that exists keeps its own.
  void join(End a, End b, std::string_view name, Purpose purpose);
  bool wired(End end) const { return net_of_.contains(end); }
  int net_of(End end) const;
  void leave_open(End end, std::string why) { board_.open.push_back({end, std::move(why)}); }

 private:
  const Machine& machine_;
  std::vector<ChipView> chips_;
  Board board_;
  std::map<int, int> part_of_;  // chip to part
  std::map<End, int> net_of_;
  std::map<std::int32_t, int> rails_;
  std::map<std::string, int> next_;
};

// Each adds what its name says, in this order.
void add_parts(Builder& builder);
void add_nets(Builder& builder);             ///< those of the machine file
void add_supplies(Builder& builder);         ///< supply pins
void add_clock_and_reset(Builder& builder);  ///< and the processor's own inputs
void add_bus(Builder& builder);
void add_practice(Builder& builder);  ///< what the data sheets want besides: unused inputs, clocks of converters
void add_steps(Builder& builder);
void add_notes(Builder& builder);

}  // namespace prewire::handout
