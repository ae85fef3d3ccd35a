// Rules about request lines, contacts and the flags of chips, as nets and events tell of them.
#pragma once

#include <algorithm>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "partner/scene.h"
#include "partner/wake_rules.h"

namespace prewire::partner {

class LineRules {
 public:
  LineRules(Scene& scene, WakeRules& wake);

  void on_net(std::string_view net, const NetState& state, Stamp when);
  /// `op` is that of the instruction under way, or null.
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when, const Op* op,
                std::uint16_t pc, bool in_handler);
  /// BPL or BMI has the sign of a byte that `before` has read from a chip.
  void sign_tested(const Step& step, const Step& before);
  bool flag_pending() const { return !flags_.empty(); }
  /// WAI or CWAI.
  void wait(const Step& step);
  /// Looks at what takes time, now and then. `in_handler`: an interrupt is being served; `waits`: where the instruction
  /// stands that the processor waits in, below 0 if it does not wait.
  void look(const Cpu& cpu, Cycle now, bool in_handler, std::int32_t waits = -1);
  void conclude(bool executed);
  void forget();

  /// Whether an interrupt could come, with these condition codes.
  bool may_interrupt(unsigned cc) const;

 private:
  enum Role : unsigned { kIrqLine = 1, kFirqLine = 2, kNmiLine = 4, kContact = 8, kHaltLine = 16 };
  struct Net {
    std::string_view name;  // as observers get it, by the address of its text
    unsigned roles = 0;
    std::vector<std::string> chips{};  // on it
    std::vector<std::string> pins{};   // of theirs
    std::string pullers{};             // outputs on it: "PIA.IRQA, ADC.INTR"
    Stamp burst = 0, last = -1;        // of changes that follow each other as those of a bouncing contact do
    int changes = 0, flags = 0;
    // Of the handler that each flag has led to: how often one has run, how long the first one took, and whether one
    // took another way since.
    unsigned irqs = 0, firqs = 0;
    Cycle first_took = -1;
    bool ignores = false;

    bool has(std::string_view pin) const { return std::find(pins.begin(), pins.end(), pin) != pins.end(); }
  };
  struct Flag {
    std::string chip;
    std::int64_t line;
    Stamp since;
    int polls = 0;  // reads that have shown it to the program
    bool told = false;
    bool missed = false;  // an edge has come meanwhile
  };
  /// Requests during which an edge of the same line came.
  struct Misses {
    std::string chip;
    std::int64_t line;
    int count;
  };
  struct Strobe {
    std::string chip;
    std::int64_t line;
    Stamp since;
    bool told = false;
  };

  std::int64_t line_shown(std::uint16_t address) const;
  std::vector<Request*> requests_of(const Net& net);
  void missed(std::string_view chip, std::int64_t line, bool in_handler);
  void masked(const Request& request, bool fast, bool mask, Cycle now, std::int32_t waits);
  bool reads_asking(unsigned role) const;
  bool wanted(const Net& net) const;
  bool asked(const Net& net, const std::vector<ChipView>& chips) const;
  void unserved(Flag& flag, Cycle now);
  void follow(Net& net, Level level, Stamp when);
  Cycle cycles(Picoseconds span) const { return scene_.machine.timebase().cycles(span); }

  Scene& scene_;
  WakeRules& wake_;
  std::vector<Net> nets_;
  std::vector<Flag> flags_;
  std::vector<Strobe> strobes_;
  std::vector<Misses> misses_;
  Request halt_;
  bool halt_by_hand_ = false;
  bool irq_moves_ = false, firq_moves_ = false, nmi_moves_ = false;  // something on the net could pull it
};

}  // namespace prewire::partner
