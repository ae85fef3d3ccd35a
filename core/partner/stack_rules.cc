#include "partner/stack_rules.h"

#include <fmt/format.h>

#include <bit>
#include <cctype>
#include <cstdlib>

#include "partner/vector_rules.h"
#include "prewire/liveness.h"

namespace prewire::partner {

namespace {

constexpr std::size_t kDeepest = 1000;  // frames to keep; a recursion that runs away has its findings before
constexpr unsigned kStorm = 16;
// A program may well push some bytes, or call itself some times.
constexpr unsigned kOften = 8, kGrowing = 64;
constexpr Picoseconds kGrowingFor = 200'000'000'000;
constexpr std::uint16_t kReset = 0xFFFE, kNmi = 0xFFFC, kIrq = 0xFFF8, kFirq = 0xFFF6;

std::uint16_t vector_of(Entry entry) {
  switch (entry) {
    case Entry::reset: return kReset;
    case Entry::nmi: return kNmi;
    case Entry::irq: return kIrq;
    case Entry::firq: return kFirq;
  }
  return kReset;
}

/// Bytes that a postbyte of PSHS or PULS moves.
unsigned moved(std::uint8_t postbyte) {
  return static_cast<unsigned>(std::popcount(postbyte)) + static_cast<unsigned>(std::popcount(postbyte & 0xF0U));
}

}  // namespace

std::string StackRules::name_of(const Frame& frame) const {
  if (frame.kind == Kind::call) return fmt::format("the call at {}", scene_->at(frame.from));
  if (frame.kind == Kind::swi) return fmt::format("the SWI at {}", scene_->at(frame.from));
  return fmt::format("the {} that came at {}", vector_name(frame.vector), scene_->at(frame.from));
}

unsigned StackRules::pushed_by(const Step& step) const {
  if (step.op.has(kCall)) return 2;
  if (step.op.has(kPush)) return scene_->mc6809 ? moved(scene_->peek(step.operand)) : 1;
  return scene_->mc6809 ? 12 : 7;  // SWI, WAI, CWAI
}

void StackRules::move(const Step& step) {
  const Op& op = step.op;
  if (op.has(kSetsStack)) {
    // TFR and EXG have their registers in a postbyte; S is 4.
    const bool pair = op.mode == Mode::pair;
    const std::uint8_t post = pair ? scene_->peek(step.operand) : 0;
    const bool exchanged = pair && step.opcode == 0x1E && (post >> 4) == 4;
    if (pair && (post & 0x0F) != 4 && !exchanged) return;
    scene_->stack_set = true;
    home_known_ = false;
    // LEAS and TXS make room on the same stack.
    const bool moves = scene_->mc6809 ? step.opcode == 0x32 : step.opcode == 0x35;
    switched_ = switched_ || (!moves && !frames_.empty());
    return;
  }
  if (op.has(kRts)) return give_back(step, false, scene_->s(step.cpu));
  if (op.has(kRti)) return give_back(step, true, scene_->s(step.cpu));
  if (op.has(kPull)) {
    const std::uint8_t post = scene_->peek(step.operand);
    if (post & 0x80) give_back(step, false, static_cast<std::uint16_t>(scene_->s(step.cpu) + moved(post & 0x7F)));
    return;
  }
  push(step, pushed_by(step));
  if (op.has(kCall)) pending_ = Kind::call;
  if (op.has(kSwi)) pending_ = Kind::swi;
  from_ = step.pc;
}

void StackRules::push(const Step& step, unsigned bytes) {
  if (!scene_->stack_set) {
    blame_stack(scene_->say("stack-never-set", 0, [&] {
      return std::pair(fmt::format("the instruction at {} uses the stack, but nothing has loaded S since reset: it is "
                                   "${:04X} by chance, and "
                                   "on the bench it will be another",
                                   scene_->at(step.pc), scene_->s(step.cpu)),
                       "begin the program with LDS and the highest address of the RAM that the stack may use");
    }));
    return;  // where a stack by chance leads to is of no interest
  }
  note_depth(step.pc, scene_->s(step.cpu), step.cycle);
  check_room(scene_->s(step.cpu), step.pc, {}, bytes);
}

/// How often in a row S has been lower each time the same instruction has pushed, or the same handler was entered.
void StackRules::note_depth(std::uint16_t pc, std::uint16_t s, Cycle now) {
  if (depths_.empty()) depths_.resize(65536);
  Depth& at = depths_[pc];
  at.times = s < at.s ? static_cast<std::uint16_t>(std::min(at.times + 1, 0xFFFF)) : std::uint16_t{0};
  at.s = s;
  if (at.times == 1) at.since = now;
  if (at.times != kGrowing || now - at.since < scene_->machine.timebase().cycles(kGrowingFor)) return;
  scene_->say("stack-grows", {.subject = pc, .since = at.since, .pc = pc}, [&] {
    return std::pair(fmt::format("each time the program comes to {}, S is lower: {} times in a row, down to ${:04X}",
                                 scene_->at(pc), kGrowing, s),
                     "in that time something is pushed, called or interrupted and never pulled or returned from");
  });
}

std::string StackRules::growth(std::uint16_t pc) const {
  const unsigned times = depths_.empty() ? 0U : depths_[pc].times;
  if (times < kOften) return {};
  return fmt::format("; {} times in a row S has been lower there than the time before: what is pushed is not pulled",
                     times);
}

void StackRules::blame_stack(std::int64_t finding) {
  if (scene_->bad_stack < 0) scene_->bad_stack = finding;
}

/// The bytes that are about to be pushed: the MC6800 stores, then counts down; the MC6809 counts down, then stores.
void StackRules::check_room(std::uint16_t s, std::uint16_t pc, std::string_view interrupt, unsigned bytes) {
  const std::uint16_t place = interrupt.empty() ? pc : arrived_;
  const auto who = [&] {
    return interrupt.empty() ? fmt::format("the instruction at {} pushes", scene_->at(pc))
                             : fmt::format("the {} that came at {} stacks", interrupt, scene_->at(pc));
  };
  if (!home_known_ && scene_->stack_set) {
    home_ = scene_->item(static_cast<std::uint16_t>(scene_->mc6809 ? s - 1 : s));
    home_known_ = true;
  }
  for (unsigned i = 0; i < bytes; ++i) {
    const auto address = static_cast<std::uint16_t>(s - i - (scene_->mc6809 ? 1 : 0));
    if (!scene_->is(address, kRam)) {
      // Whoever pushes, one stack is one case.
      blame_stack(scene_->say("stack-outside-ram", {.subject = address, .address = true}, [&] {
        return std::pair(fmt::format("{} a byte to ${:04X}, where no RAM answers: what comes back at the return is not "
                                     "what was saved{}",
                                     who(), address, growth(place)),
                         "load S with the last address of a RAM and see that pushes and pulls balance");
      }));
      return;
    }
    stores_->wrote(address);
    if (scene_->marks[address] != 0 || scene_->text(address) == Text::start || scene_->text(address) == Text::inside) {
      blame_stack(scene_->say("stack-into-program", 0, [&] {
        return std::pair(
            fmt::format("{} a byte to ${:04X}, over an instruction of the program{}", who(), address, growth(place)),
            "the stack has grown too far: start it elsewhere, or look for pushes without pulls");
      }));
      scene_->marks[address] = 0;
    }
    const std::uint16_t item = scene_->item(address);
    if (item == 0 || item == home_ || !home_known_) continue;
    blame_stack(scene_->say("stack-into-data", {.subject = item}, [&] {
      return std::pair(fmt::format("{} a byte to ${:04X}, over {}: the stack has grown into the program's data{}",
                                   who(), address, scene_->item_name(item), growth(place)),
                       "give the stack more room, or look for pushes without pulls");
    }));
  }
}

void StackRules::enter(const Cpu& cpu, Entry entry, bool waited, std::uint16_t pc) {
  pending_ = Kind::interrupt;
  entry_ = entry;
  waited_ = waited;
  before_ = scene_->s(cpu);
  from_ = pc;
  entered_ = scene_->machine.now();
  working_ = scene_->working(cpu);
}

void StackRules::storm(Request& request, unsigned& count, std::string_view line, std::uint16_t pc) {
  count = request.rose ? 1 : count + 1;
  request.rose = false;
  if (count != kStorm) return;
  request.storm = true;
  const std::uint16_t vector = vector_of(entry_);
  if (exchanged(vector, pc)) return;
  scene_->say(line == "IRQ" ? "irq-storm" : "firq-storm", at_entry(pc), [&] {
    if (request.rail) {
      return std::pair(fmt::format("{} is wired to GND, so the handler at {} is entered again and again: the program "
                                   "gets nowhere, and no handler could change that",
                                   line, scene_->at(pc)),
                       fmt::format("take CPU.{} off GND; let a resistor to +5V hold it high", line));
    }
    const std::string who =
        request.pins.empty() ? "nothing that a program could silence; look at its wires" : request.pins;
    return std::pair(
        fmt::format(
            "the handler at {} has been left {} times with {} still low: each time it is entered again, and the "
            "program gets nowhere. On the line: {}{}",
            scene_->at(pc), kStorm - 1, line, who, VectorRules(*scene_).left_alone(vector)),
        std::string("let the handler clear the flag that asks: a PIA's by a read of its port, not of its control "
                    "register; look at every chip on the line, and whether it is this line's handler"));
  });
}

/// Tells of it if the handler at the vector is that of another one.
bool StackRules::exchanged(std::uint16_t vector, std::uint16_t pc) {
  if (scene_->machine.found("vectors-exchanged", vector)) return true;
  const auto texts = VectorRules(*scene_).exchanged(vector);
  if (texts) scene_->say("vectors-exchanged", {.subject = vector, .since = entered_, .pc = pc}, [&] { return *texts; });
  return texts.has_value();
}

void StackRules::stops_here(std::uint16_t pc) {
  if (frames_.empty()) return;
  const Frame& frame = frames_.back();
  // SWI is a usual way to end a program; only a trap right behind it is not.
  if (frame.kind == Kind::call || (frame.kind == Kind::swi && arrived_ != pc)) return;
  if (frame.kind == Kind::interrupt && exchanged(frame.vector, pc)) return;
  scene_->say("handler-never-returns", {.subject = pc, .pc = pc}, [&] {
    const std::string trap = arrived_ == pc ? "leads to a branch to itself" : "ends in a branch to itself, not in RTI";
    std::string what =
        fmt::format("{} {}, at {}: the program stands there for ever", name_of(frame), trap, scene_->at(pc));
    what[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(what[0])));
    return std::pair(what, frame.vector == 0
                               ? std::string("fill the vector of the software interrupt with its handler, or "
                                             "look at what executes SWI")
                               : fmt::format("is the handler of {} where its vector at ${:04X} leads, and "
                                             "should this line be wired to {}?",
                                             vector_name(frame.vector), frame.vector, vector_name(frame.vector)));
  });
}

Occurrence StackRules::at_entry(std::uint16_t pc) const { return {.since = entered_, .pc = pc}; }

void StackRules::arrive(const Cpu& cpu, std::uint16_t pc) {
  Frame frame{scene_->s(cpu), pending_, from_, 0, {}};
  const Kind kind = pending_;
  pending_ = Kind::none;
  // The first instructions there may have been spared.
  if (kind == Kind::interrupt) pc = scene_->peek16(vector_of(entry_));
  arrived_ = pc;
  if (scene_->astray() && scene_->known_code(pc)) {
    if (kind == Kind::interrupt && entry_ != Entry::reset) frame.astray = scene_->astray_finding();
    frames_.clear();
    scene_->come_back();
  }
  if (kind == Kind::interrupt) {
    frame.vector = vector_of(entry_);
    frame.entered = entered_;
    if (entry_ == Entry::reset) {
      frames_.clear();
      scene_->saw_reset = true;
      scene_->stack_set = false;
      storm_ = fast_storm_ = 0;
      switched_ = false;
      scene_->bad_stack = -1;
      for (Request* request : {&scene_->irq, &scene_->firq, &scene_->nmi}) request->answered = false;
      check_vector(frame.vector, pc);
      return;
    }
    // A fast interrupt saves no working registers, unless CWAI has saved all of them.
    if (entry_ == Entry::firq && !waited_) frame.working = working_;
    if (!scene_->stack_set && !waited_) {
      blame_stack(scene_->say("interrupt-without-stack", at_entry(pc), [&] {
        return std::pair(fmt::format("{} came before anything had loaded S: the registers went to ${:04X}, by chance",
                                     vector_name(frame.vector), before_),
                         scene_->mc6809 ? "load S first of all; clear the masks afterwards"
                                        : "load S before CLI, and before a chip may pull NMI");
      }));
    }
    note_depth(pc, before_, entered_);
    if (scene_->stack_set && !waited_) {
      check_room(before_, from_, vector_name(frame.vector), static_cast<std::uint16_t>(before_ - frame.s));
    }
    if (frame.vector == kIrq) storm(scene_->irq, storm_, "IRQ", pc);
    if (frame.vector == kFirq) storm(scene_->firq, fast_storm_, "FIRQ", pc);
    if (frame.vector == kNmi) {
      unsigned nested = 1;
      for (const Frame& other : frames_) nested += other.kind == Kind::interrupt && other.vector == kNmi ? 1U : 0U;
      if (nested == 3) {
        scene_->say("nmi-nested", at_entry(pc), [&] {
          return std::pair(
              fmt::format("NMI came again before its handler at {} was through, {} deep: nothing can mask it, "
                          "and the stack grows each time",
                          scene_->at(pc), nested),
              "make the handler shorter than the time between two edges, or the edges rarer; a switch on "
              "NMI bounces");
        });
      }
    }
    Request& request = frame.vector == kIrq ? scene_->irq : frame.vector == kFirq ? scene_->firq : scene_->nmi;
    request.answered = true;
    request.ignored = 0;
    check_vector(frame.vector, pc);
  }
  if (kind == Kind::swi) {
    for (const std::uint16_t vector : {std::uint16_t{0xFFFA}, std::uint16_t{0xFFF4}, std::uint16_t{0xFFF2}}) {
      if (scene_->peek16(vector) != pc) continue;
      check_vector(vector, pc);
      break;
    }
  }
  if (frames_.size() == kDeepest) frames_.erase(frames_.begin(), frames_.begin() + kDeepest / 2);
  frames_.push_back(std::move(frame));
}

bool StackRules::in_handler() const {
  if (pending_ == Kind::swi || in_interrupt()) return true;
  for (const Frame& frame : frames_) {
    if (frame.kind != Kind::call) return true;
  }
  return false;
}

bool StackRules::in_interrupt() const {
  if (pending_ == Kind::interrupt && entry_ != Entry::reset) return true;
  for (const Frame& frame : frames_) {
    if (frame.kind == Kind::interrupt) return true;
  }
  return false;
}

bool StackRules::check_vector(std::uint16_t vector, std::uint16_t pc) {
  // Vectors that a program may change lead to jumps in RAM: common practice.
  if (scene_->known_code(pc) || scene_->stored_code(pc)) return true;
  const std::int64_t found =
      scene_->say("vector-not-code", {.subject = vector, .cause = vector, .since = entered_}, [&] {
        const auto swapped = static_cast<std::uint16_t>(pc >> 8 | pc << 8);
        const bool blank = !scene_->machine.use(vector).loaded;
        std::string hint = blank ? fmt::format("fill the vector: ORG ${:04X}, FDB and the label of the handler", vector)
                                 : std::string("correct the vector: the address of the handler, high byte first");
        if (!blank && scene_->known_code(swapped)) {
          hint =
              fmt::format("${:04X} holds program code: are the two bytes swapped? The high byte comes first", swapped);
        }
        return std::pair(
            fmt::format("the vector of {} at ${:04X} {} ${:04X}, where no instruction of the program starts",
                        vector_name(vector), vector, blank ? "was never filled and leads to" : "leads to", pc),
            hint);
      });
  scene_->led_away = found;
  return false;
}

/// Whether an RTI finds E set in the CC on the stack: then everything was stacked, by CWAI or by the handler itself.
bool StackRules::restores_all(std::uint16_t s) const { return scene_->mc6809 && (scene_->peek(s) & 0x80) != 0; }

/// Whether a register is not what it was that the program still needs where it was interrupted.
bool StackRules::clobbers(const Frame& frame, const Cpu& cpu) const {
  const std::vector<std::uint16_t> now = scene_->working(cpu);
  for (std::size_t i = 0; i < now.size(); ++i) {
    if (now[i] == frame.working[i]) continue;
    if (i > 1 || !unread_until_overwritten(scene_->machine, frame.from, i == 0 ? 'A' : 'B')) return true;
  }
  return false;
}

/// RTS, RTI or PULS takes the frame that begins above `s`.
void StackRules::give_back(const Step& step, bool rti, std::uint16_t s) {
  // A FIRQ handler may have stacked the other registers, too, and set E.
  const auto all_of_firq = static_cast<std::uint16_t>(s + 12 - 3);
  if (rti && restores_all(s) && !frames_.empty() && frames_.back().vector == kFirq && frames_.back().s == all_of_firq) {
    s = all_of_firq;
    frames_.back().working.clear();
  }
  Frame dropped{};
  bool any_dropped = false;
  while (!frames_.empty() && frames_.back().s < s) {
    dropped = std::move(frames_.back());
    any_dropped = true;
    frames_.pop_back();
  }
  if (frames_.empty() || frames_.back().s != s) return unmatched(step, rti, s, any_dropped ? &dropped : nullptr);
  const Frame frame = std::move(frames_.back());
  frames_.pop_back();
  check_return(step, rti, s, frame);
  if (rti && frame.kind == Kind::interrupt && frame.vector != kNmi) {
    Scene::Served& served = frame.vector == kIrq ? scene_->served_irq : scene_->served_firq;
    served = {served.count + 1, step.cycle - frame.entered};
  }
  if (frame.astray >= 0) scene_->go_astray(frame.astray, scene_->machine.now());  // on, where it was interrupted
  if (rti && frame.kind == Kind::call) {
    scene_->led_away = scene_->say("rti-in-subroutine", step.pc, [&] {
      return std::pair(
          fmt::format("RTI at {} ends a subroutine: {} stacked a return address only, and RTI takes registers "
                      "and an address from it",
                      scene_->at(step.pc), name_of(frame)),
          "end a subroutine with RTS");
    });
  } else if (!rti && frame.kind != Kind::call) {
    scene_->led_away = scene_->say("rts-in-handler", step.pc, [&] {
      const bool pulls = step.op.has(kPull);
      return std::pair(
          fmt::format("{} at {} ends an interrupt handler: {} stacked the registers, and {} takes two of "
                      "them for an address",
                      pulls ? "a pull of PC" : "RTS", scene_->at(step.pc), name_of(frame), pulls ? "it" : "RTS"),
          "end an interrupt handler with RTI");
    });
  } else if (rti && !frame.working.empty() && !restores_all(s) && clobbers(frame, step.cpu)) {
    scene_->say("firq-clobbers", step.pc, [&] {
      return std::pair(
          fmt::format("the FIRQ handler that ends at {} has changed registers: FIRQ saves CC and PC only, so "
                      "the program goes on at {} with wrong values",
                      scene_->at(step.pc), scene_->at(frame.from)),
          "push what the handler uses with PSHS and pull it before RTI");
    });
  }
}

/// Where what was left for the return to find it begins.
std::uint16_t StackRules::address_of_return(bool rti, std::uint16_t s) const {
  const auto at = static_cast<std::uint16_t>(s + (scene_->mc6809 ? 0 : 1));
  if (!rti) return at;
  return static_cast<std::uint16_t>(at + (scene_->mc6809 ? (restores_all(at) ? 10 : 1) : 5));
}

/// A program may change a return address, to another instruction.
void StackRules::check_return(const Step& step, bool rti, std::uint16_t s, const Frame& frame) {
  if (rti != (frame.kind != Kind::call)) return;  // of that there is more to say
  const std::uint16_t at = address_of_return(rti, s);
  const std::uint16_t target = scene_->peek16(at);
  if (!scene_->is(at, kRam) || scene_->known_code(target) || scene_->stored_code(target)) return;
  const auto behind = static_cast<std::uint16_t>(
      frame.from + (frame.kind == Kind::interrupt ? 0 : outline(scene_->machine, frame.from).bytes));
  if (target == behind) return;
  const Occurrence follows{.subject = step.pc, .cause = step.pc, .follows = scene_->bad_stack};
  scene_->led_away = scene_->say("stack-overwritten", follows, [&] {
    return std::pair(
        fmt::format("the return at {} finds ${:04X} at ${:04X}, and {} left ${:04X} there: something has stored over "
                    "the stack meanwhile",
                    scene_->at(step.pc), target, at, name_of(frame), behind),
        fmt::format("look for a store through a pointer that goes too far; `prewire run --why '${:04X}'` tells what "
                    "has written there last",
                    at));
  });
}

void StackRules::unmatched(const Step& step, bool rti, std::uint16_t s, const Frame* dropped) {
  // A program may put an address or a whole frame on the stack and return to it: common practice for jump tables.
  const std::uint16_t target = scene_->peek16(address_of_return(rti, s));
  const Frame* frame = dropped != nullptr ? dropped : frames_.empty() ? nullptr : &frames_.back();
  const int off = frame == nullptr ? 0 : static_cast<int>(frame->s) - s;
  // Of the stacks of several tasks the frames lie anywhere.
  if (scene_->known_code(target) && (off % 2 == 0 || switched_)) return;
  const Occurrence follows{.subject = step.pc, .cause = step.pc, .follows = scene_->bad_stack};
  if (frame == nullptr) {
    if (!scene_->saw_reset) return;
    scene_->led_away = scene_->say("return-without-call", follows, [&] {
      return std::pair(
          fmt::format("{} at {} returns to ${:04X}, but no {} is open: it takes two bytes that nobody put there",
                      rti ? "RTI" : "RTS", scene_->at(step.pc), target, rti ? "interrupt" : "call"),
          "the program has run into the subroutine from above: end what stands before it with a branch");
    });
    return;
  }
  scene_->led_away = scene_->say("stack-unbalanced", follows, [&] {
    const int bytes = std::abs(off);
    return std::pair(
        fmt::format("the return at {} finds S at ${:04X}, but {} left it at ${:04X}: {} byte{} too {}, so it "
                    "goes to ${:04X}",
                    scene_->at(step.pc), s, name_of(*frame), frame->s, bytes, bytes == 1 ? "" : "s",
                    off > 0 ? "many on the stack" : "few on the stack", target),
        off > 0 ? "pull as often as you push, on every way through the subroutine"
                : "something pulls, or counts S up, once too often");
  });
}

}  // namespace prewire::partner
