// Rules about an instruction when it is met for the first time at its address.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "partner/scene.h"

namespace prewire::partner {

class CodeRules {
 public:
  explicit CodeRules(Scene& scene) : scene_(scene) {}

  /// What was executed just before.
  struct Before {
    const Op* op = nullptr;  ///< null: a vector has led here
    std::uint16_t pc = 0;
    Cycle cycle = 0;
  };
  /// `in_handler`: an interrupt is being served.
  void first_visit(const Step& step, const Before& before, bool in_handler);
  void undefined(const Step& step, const Before& before);
  void forget() {
    in_data_ = false;
    loaded_ = kAll;
  }

 private:
  /// Is this no place for an instruction, so that the program is astray?
  bool where(const Step& step, const Before& before);
  /// How the program came here: "the jump at $F810 (gauge.asm:4) has led there".
  std::string way(const Before& before, std::uint16_t pc) const;
  bool leads(std::uint16_t from, std::uint16_t pc) const;
  /// Some instruction that has been executed and leads there.
  std::optional<std::uint16_t> leader_of(std::uint16_t pc) const;
  /// Bytes that hide an instruction behind an opcode that does nothing else: common practice to skip it.
  bool skips(std::uint16_t pc) const;
  bool hidden(std::uint16_t pc) const;
  void what(const Step& step, const Op* before, std::uint16_t before_pc);
  void written(const Step& step);
  void page(const Step& step, std::string_view operand);
  std::int64_t blame_data(Cycle since);
  void index(const Step& step, bool in_handler);

  Scene& scene_;
  // Since the program executes bytes that it has stored and that the source calls data. That may be meant.
  bool in_data_ = false;
  std::uint16_t data_at_ = 0;
  Before data_from_{};
  // Index registers that have been loaded since power-on.
  enum Index : unsigned { kX = 1, kY = 2, kU = 4, kAll = 7 };
  unsigned loaded_ = 0;
};

}  // namespace prewire::partner
