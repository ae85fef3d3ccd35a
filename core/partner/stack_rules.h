// Rules about S, calls, returns and interrupt entries.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "partner/scene.h"
#include "partner/store_rules.h"

namespace prewire::partner {

class StackRules {
 public:
  StackRules(Scene& scene, StoreRules& stores) : scene_(&scene), stores_(&stores) {}

  /// An instruction with one of the traits `kMoves`.
  void move(const Step& step);
  /// An interrupt or reset entry begins; `waited`: the processor was in WAI or CWAI.
  void enter(const Cpu& cpu, Entry entry, bool waited, std::uint16_t pc);
  /// The first instruction after a call or an entry is about to run.
  bool arriving() const { return pending_ != Kind::none; }
  void arrive(const Cpu& cpu, std::uint16_t pc);
  /// Whether an interrupt handler is running, as far as the stack tells.
  bool in_handler() const;
  /// The same for one that is no software interrupt.
  bool in_interrupt() const;
  /// A branch to itself has been met for the first time.
  void stops_here(std::uint16_t pc);

  void forget_frames() { frames_.clear(); }

 private:
  enum class Kind : std::uint8_t { none, call, swi, interrupt };
  struct Frame {
    std::uint16_t s;
    Kind kind;
    std::uint16_t from;                  ///< the call, or where the program was interrupted
    std::uint16_t vector;                ///< of an interrupt
    std::vector<std::uint16_t> working;  ///< registers that a fast interrupt does not save
    std::int64_t astray = -1;            ///< the program was, when it was interrupted
    Cycle entered = 0;                   ///< when an interrupt came
  };

  void push(const Step& step, unsigned bytes);
  /// `s` is the stack pointer before; `interrupt` is the name of one that came at `pc`, or empty: the instruction there
  /// pushes.
  void check_room(std::uint16_t s, std::uint16_t pc, std::string_view interrupt, unsigned bytes);
  /// Of the interrupt that has led here: its first instructions may have been spared.
  Occurrence at_entry(std::uint16_t pc) const;
  void storm(Request& request, unsigned& count, std::string_view line, std::uint16_t pc);
  bool exchanged(std::uint16_t vector, std::uint16_t pc);
  void note_depth(std::uint16_t pc, std::uint16_t s, Cycle now);
  std::string growth(std::uint16_t pc) const;
  std::uint16_t address_of_return(bool rti, std::uint16_t s) const;
  void check_return(const Step& step, bool rti, std::uint16_t s, const Frame& frame);
  void blame_stack(std::int64_t finding);
  void give_back(const Step& step, bool rti, std::uint16_t s);
  void unmatched(const Step& step, bool rti, std::uint16_t s, const Frame* dropped);
  /// False if it leads to no instruction.
  bool check_vector(std::uint16_t vector, std::uint16_t pc);
  bool clobbers(const Frame& frame, const Cpu& cpu) const;
  bool restores_all(std::uint16_t s) const;
  unsigned pushed_by(const Step& step) const;
  std::string name_of(const Frame& frame) const;

  Scene* scene_;
  StoreRules* stores_;
  std::vector<Frame> frames_;  // the latest last
  Kind pending_ = Kind::none;
  Entry entry_ = Entry::reset;
  bool waited_ = false;
  std::uint16_t from_ = 0;
  std::uint16_t before_ = 0;  // S before the entry
  std::uint16_t home_ = 0;    // the named data in which S started
  bool home_known_ = false;
  bool switched_ = false;                // S has been loaded while calls or interrupts were open
  unsigned storm_ = 0, fast_storm_ = 0;  // entries for IRQ and FIRQ since the line was last high
  std::uint16_t arrived_ = 0;            // where the last call or entry has led
  std::vector<std::uint16_t> working_;   // registers as the entry began
  Cycle entered_ = 0;                    // when the entry began
  /// Of instructions that push, and of handlers.
  struct Depth {
    std::uint16_t s = 0;
    std::uint16_t times = 0;
    Cycle since = 0;
  };
  std::vector<Depth> depths_;  // by address
};

}  // namespace prewire::partner
