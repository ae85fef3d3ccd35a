// What can be seen of a program before it runs: each instruction that the vectors lead to, wherever jumps, branches and
// calls go by their bytes alone.
#include <fmt/format.h>

#include <array>
#include <bitset>
#include <optional>
#include <vector>

#include "partner/scene.h"
#include "partner/wiring_rules.h"

namespace prewire {

namespace partner {

namespace {

constexpr std::uint16_t kReset = 0xFFFE;
// Data that a program falls into are only sure to be data if there are some of them: a byte or two may be an
// instruction that somebody has written as a number.
constexpr unsigned kSureData = 4;

class Reader {
 public:
  explicit Reader(Scene& scene) : scene_(scene) {}

  void read() {
    for (std::uint32_t vector = scene_.mc6809 ? 0xFFF2 : 0xFFF8; vector <= kReset; vector += 2) {
      const auto at = static_cast<std::uint16_t>(vector);
      if (!loaded(at) || !loaded(static_cast<std::uint16_t>(at + 1))) continue;
      visit(scene_.peek16(at));
    }
    while (!waiting_.empty()) {
      const std::uint16_t pc = waiting_.back();
      waiting_.pop_back();
      run(pc);
    }
    // Where some jump goes nobody knows, S may be set there.
    if (first_use_ && !sets_stack_ && !unknown_) {
      scene_.say("stack-never-set", {.subject = 0, .pc = *first_use_}, [&] {
        return std::pair(fmt::format("the program uses the stack, first at {}, and no instruction of it loads S",
                                     scene_.at(*first_use_)),
                         "begin the program with LDS and the last address of a RAM");
      });
    }
  }

 private:
  bool loaded(std::uint16_t address) const { return scene_.machine.use(address).loaded; }

  void visit(std::uint16_t pc) {
    if (seen_[pc] || !loaded(pc)) return;
    waiting_.push_back(pc);
  }

  /// From there on, as long as one instruction follows the other.
  void run(std::uint16_t pc) {
    while (!seen_[pc] && loaded(pc)) {
      seen_.set(pc);
      const int opcode = scene_.peek(pc);
      const Op& op = scene_.op_at(pc, opcode);
      if (!op.has(kDefined)) return;
      const Outline there = outline(scene_.machine, pc);
      look(pc, op, scene_.operand_at(pc, opcode));
      if (there.target) {
        lead(pc, *there.target, there.flow);
      } else if (there.flow == Flow::jump || there.flow == Flow::call) {
        unknown_ = true;
      }
      if (there.flow == Flow::jump || there.flow == Flow::ret || there.flow == Flow::interrupt_return) return;
      const auto next = static_cast<std::uint16_t>(pc + there.bytes);
      // Behind a call may stand what the subroutine takes.
      const bool takes = there.flow == Flow::call || op.has(kSwi);
      if (scene_.text(next) == Text::data && !skips(next)) {
        if (!takes && scene_.text(pc) == Text::start) fall(pc, next, op);
        return;
      }
      pc = next;
    }
  }

  /// Whether what is written as a number is an instruction all the same.
  bool skips(std::uint16_t at) const {
    for (unsigned i = 1; i < kSureData; ++i) {
      if (scene_.text(static_cast<std::uint16_t>(at + i)) != Text::data) return true;
    }
    return false;
  }

  void fall(std::uint16_t pc, std::uint16_t data, const Op& op) {
    if (op.has(kBranch)) return;  // it may be taken each time
    scene_.say("runs-into-data", {.subject = data, .pc = pc}, [&] {
      return std::pair(fmt::format("behind the instruction at {} the program goes on with data, at {}", scene_.at(pc),
                                   scene_.at(data)),
                       "end the routine with a jump or a return before its data");
    });
  }

  void lead(std::uint16_t pc, std::uint16_t target, Flow flow) {
    visit(target);
    if (flow != Flow::jump && flow != Flow::call) return;
    if (scene_.is(target, kRam | kRom | kDevice)) return;
    scene_.say("astray", {.subject = target, .cause = pc, .address = true, .pc = pc}, [&] {
      return std::pair(fmt::format("the {} at {} leads to ${:04X}, where no chip answers",
                                   flow == Flow::call ? "call" : "jump", scene_.at(pc), target),
                       "look at the address, and at the map: `prewire check --map` lists it");
    });
  }

  void look(std::uint16_t pc, const Op& op, std::uint16_t operand) {
    if (op.has(kSetsStack)) sets_stack_ = true;
    if (op.has(kCall | kPush | kSwi | kWait) && !first_use_) first_use_ = pc;
    // Where DP is nobody knows.
    const bool direct = op.mode == Mode::direct && !scene_.mc6809;
    if (!direct && op.mode != Mode::extended) return;
    const std::uint16_t address = direct ? scene_.peek(operand) : scene_.peek16(operand);
    if (op.has(kWrites) && !op.has(kModify) && scene_.is(address, kRom) && !scene_.is(address, kRam | kDevice)) {
      scene_.say("rom-write", {.subject = address, .cause = 1, .address = true, .pc = pc}, [&] {
        return std::pair(fmt::format("the instruction at {} stores to ${:04X}, in a ROM: the store has no effect",
                                     scene_.at(pc), address),
                         "is the address off, or is a variable reserved in the ROM?");
      });
    }
    if (scene_.is(address, kRam | kRom | kDevice)) return;
    if (op.has(kWrites)) {
      scene_.say("unmapped-write", {.subject = address, .cause = 1, .address = true, .pc = pc}, [&] {
        return std::pair(
            fmt::format("the instruction at {} writes to ${:04X}, where no chip answers", scene_.at(pc), address),
            "compare the address with the map: `prewire check --map` lists it");
      });
    } else if (op.has(kRead)) {
      scene_.say("undriven-read", {.subject = address, .cause = 1, .address = true, .pc = pc}, [&] {
        return std::pair(
            fmt::format("the instruction at {} reads from ${:04X}, where no chip answers", scene_.at(pc), address),
            "compare the address with the map: `prewire check --map` lists it");
      });
    }
  }

  Scene& scene_;
  std::bitset<65536> seen_;
  std::vector<std::uint16_t> waiting_;
  std::optional<std::uint16_t> first_use_;  // of the stack
  bool sets_stack_ = false;
  bool unknown_ = false;  // some jump or call goes where its bytes do not say
};

}  // namespace

}  // namespace partner

std::span<const std::string_view> rules_before_run() {
  static constexpr std::array<std::string_view, 9> kRules{"led-current",     "space-in-rom",   "space-without-memory",
                                                          "stack-never-set", "runs-into-data", "astray",
                                                          "rom-write",       "unmapped-write", "undriven-read"};
  return kRules;
}

void look_before_run(Machine& machine) {
  partner::Scene scene(machine);
  partner::look_at_wiring(scene);
  partner::look_at_source(scene);
  partner::Reader(scene).read();
}

}  // namespace prewire
