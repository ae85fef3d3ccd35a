// What the partner's rules share: who answers where, what the source says, what has been executed, and how to speak.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "partner/op.h"
#include "prewire/machine.h"
#include "prewire/partner.h"

namespace prewire::partner {

/// Who answers at an address.
enum Place : std::uint8_t { kRam = 1, kRom = 2, kDevice = 4, kMirrored = 8 };

/// What the source makes of a byte.
enum class Text : std::uint8_t { none, start, inside, data };

/// The net at a pin, both counted as in `NetView::Pin`; null if nothing is wired to it.
const NetView* net_at(const std::vector<NetView>& nets, int chip, int pin);

/// An instruction that is about to be executed.
struct Step {
  const Cpu& cpu;
  const Op& op;
  std::uint16_t pc;
  std::uint16_t operand;  ///< address of what follows the opcode
  int opcode;             ///< without its page
  Cycle cycle;
};

/// A request line of the processor, as its net is.
struct Request {
  bool low = false;
  bool rose = true;       ///< since the last time it was answered
  bool answered = false;  ///< since RESET
  bool storm = false;     ///< it has been answered again and again without rising
  Cycle since = 0;        ///< when it last fell
  Cycle first = 0;        ///< when it first fell of…
  unsigned ignored = 0;   ///< how often it has fallen since it was last answered, or since RESET
  bool rail = false;      ///< it is a supply rail
  std::string pins{};     ///< that could pull it: "PIA.IRQA, ADC.INTR"
};

class Scene {
 public:
  explicit Scene(Machine& machine);

  Machine& machine;
  const bool mc6809;
  const Ops ops{mc6809};
  Request irq, firq, nmi;
  /// Interrupts that were served to their RTI, and how long the last one took.
  struct Served {
    unsigned count = 0;
    Cycle took = 0;
  } served_irq, served_firq;
  bool stack_set = true;   ///< S has been loaded since reset, or nobody knows
  bool saw_reset = false;  ///< so everything since has been seen

  // Registers by name; 0 for one that the processor has not.
  std::uint16_t a(const Cpu& cpu) const { return cpu.get(a_); }
  std::uint16_t b(const Cpu& cpu) const { return cpu.get(b_); }
  std::uint16_t s(const Cpu& cpu) const { return cpu.get(s_); }
  std::uint16_t dp(const Cpu& cpu) const { return mc6809 ? cpu.get(dp_) : std::uint16_t{0}; }
  std::uint16_t cc(const Cpu& cpu) const { return cpu.get(cc_); }
  /// All but PC, S and CC.
  std::vector<std::uint16_t> working(const Cpu& cpu) const;

  std::uint8_t peek(std::uint32_t address) const { return machine.peek(static_cast<std::uint16_t>(address)); }
  std::uint16_t peek16(std::uint32_t address) const {
    return static_cast<std::uint16_t>(peek(address) << 8 | peek(address + 1));
  }

  /// The operation whose opcode, perhaps that of a page, stands at an address; and where its operand is.
  const Op& op_at(std::uint16_t pc, int opcode) const {
    const Op& op = ops.of(0, opcode);
    return op.traits == kPrefix ? ops.of(opcode == 0x10 ? 1 : 2, peek(pc + 1U)) : op;
  }
  std::uint16_t operand_at(std::uint16_t pc, int opcode) const {
    return static_cast<std::uint16_t>(pc + (ops.of(0, opcode).traits == kPrefix ? 2 : 1));
  }

  bool is(std::uint16_t address, unsigned places) const { return (places_[address] & places) != 0; }
  Text text(std::uint16_t address) const { return texts_[address]; }
  /// The piece of data with a name that the byte belongs to; 0 for none.
  std::uint16_t item(std::uint16_t address) const { return items_[address]; }
  std::string item_name(std::uint16_t item) const;
  /// The address in its chip's own window.
  std::uint16_t home(std::uint16_t address) const;

  /// Bytes that have been executed: `kStart` with the opcode, `kInside` an instruction, or `kSkipped` within one whose
  /// operand hides another; with `kStart` perhaps `kSpared`, where nothing more is to be learned.
  static constexpr std::uint16_t kStart = 0x100, kInside = 0x200, kSkipped = 0x400, kSpared = 0x800;
  std::array<std::uint16_t, 65536> marks{};
  bool code_in_ram = false;  ///< some of it
  bool has_mirrors() const { return !mirrors_.empty(); }
  /// Whether something makes an instruction at this address likely.
  bool known_code(std::uint16_t address) const;

  /// Whether that vector leads to a handler that was written to do something: no bare RTI, no trap, not the start.
  bool has_handler(std::uint16_t vector) const;
  /// Whether the program has stored instructions there, up to a jump or a return.
  bool stored_code(std::uint16_t address) const;

  /// Where the instruction looks for its operand in memory. `wrapped`: a short offset has led past an end of memory.
  std::optional<std::uint16_t> effective(const Step& step, bool& wrapped) const;

  /// "$F810", with source line or label where there is one: "$F810 (gauge.asm:42)".
  std::string at(std::uint16_t address) const;
  /// Whether the program, as far as it is known, has an instruction that clears these bits of CC; -1 if not, else
  /// where.
  std::int32_t clears(unsigned bits) const;
  /// What to do about a mask that keeps a request out.
  std::string unmask_hint(bool fast) const;
  std::string decimal_time(Cycle cycles) const;  ///< "1.25 ms"

  /// `texts` returns a pair of message and hint; only called the first time. Each subject is a case of its own.
  template <class Texts>
  std::int64_t say(std::string_view id, std::uint64_t subject, Texts&& texts) {
    return say(id, Occurrence{.subject = subject, .cause = subject}, std::forward<Texts>(texts));
  }
  /// The finding that this is or has been, as it counts in the machine's list; below 0 if the rule is off.
  template <class Texts>
  std::int64_t say(std::string_view id, const Occurrence& occurrence, Texts&& texts) {
    if (machine.found(id, occurrence.subject)) {
      machine.report(id, Weight::hint, occurrence, "", "");
    } else {
      const std::pair<std::string, std::string> said = texts();
      machine.report(id, weight_of(id), occurrence, said.first, said.second);
    }
    return latest(id);
  }

  /// Addresses of chips that some executed instruction reads.
  std::vector<std::uint16_t> device_reads;
  /// Whether one of them is a control or status register of that chip.
  bool reads_control(const BusPlace& place) const;

  // Astray: the program executes what nobody has written as a program. It ends at RESET, or in a handler that a vector
  // leads to; after its return the program is astray again.
  bool astray() const { return astray_ >= 0; }
  std::int64_t astray_finding() const { return astray_; }
  /// `finding` tells of it, and what was found since that cycle follows from it.
  void go_astray(std::int64_t finding, Cycle since);
  void come_back();
  /// The latest finding that a return or an entry has led to nowhere; below 0 if the instruction before has not.
  std::int64_t led_away = -1;
  /// The first finding about the stack that explains returns to anywhere; below 0: none.
  std::int64_t bad_stack = -1;

 private:
  std::int64_t latest(std::string_view id) const;
  static Weight weight_of(std::string_view id);
  void learn_places();
  void learn_texts();
  std::uint16_t indexed(const Step& step, bool& wrapped) const;

  std::array<std::uint8_t, 65536> places_{};
  std::array<Text, 65536> texts_{};
  std::array<std::uint16_t, 65536> items_{};
  std::vector<std::string> item_names_{""};
  struct Window {
    std::uint16_t first, last, mirror_first, mirror_last;
    std::uint32_t size;
  };
  std::vector<Window> mirrors_;
  std::int64_t astray_ = -1;
  std::size_t a_ = 0, b_ = 0, x_ = 0, y_ = 0, u_ = 0, s_ = 0, dp_ = 0, cc_ = 0;
};

}  // namespace prewire::partner
