#include "partner/line_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <utility>

#include "partner/vector_rules.h"

namespace prewire::partner {

namespace {

constexpr Picoseconds kMillisecond = 1'000'000'000;
constexpr Picoseconds kBounce = 20 * kMillisecond;    // common practice: contacts are at rest after 5 to 20 ms
constexpr Picoseconds kMasked = 20 * kMillisecond;    // longer than any handler should hold others up
constexpr Picoseconds kHandshake = 5 * kMillisecond;  // a converter or another board answers within one
constexpr Picoseconds kUnserved = 50 * kMillisecond;  // longer than a program looks away from what it waits for
constexpr int kEdges = 3;
constexpr int kPolls = 16;
constexpr int kMisses = 4;
constexpr unsigned kIgnored = 8;

// Condition codes.
constexpr unsigned kI = 0x10, kF = 0x40, kN = 0x08;

/// Of a PIA: line 1 is CA1, 4 is CB2.
std::string control_pin(std::string_view chip, std::int64_t line) {
  return fmt::format("{}.C{}{}", chip, line > 2 ? 'B' : 'A', line % 2 == 0 ? 2 : 1);
}

}  // namespace

LineRules::LineRules(Scene& scene, WakeRules& wake) : scene_(scene), wake_(wake) {
  const Machine& machine = scene.machine;
  const std::vector<ChipView> chips = machine.chips();
  const ChipType& cpu = *machine.processor().type;
  for (const NetView& view : machine.nets()) {
    Net net{.name = view.name};
    bool moves = false, by_hand = false;
    for (const NetView::Pin& pin : view.pins) {
      if (pin.chip < 0) {
        const std::string_view name = cpu.pins[static_cast<std::size_t>(pin.pin)].name;
        net.roles |= name == "IRQ"    ? kIrqLine
                     : name == "FIRQ" ? kFirqLine
                     : name == "NMI"  ? kNmiLine
                     : name == "HALT" ? kHaltLine
                                      : 0U;
        continue;
      }
      const ChipView& chip = chips[static_cast<std::size_t>(pin.chip)];
      const PinKind kind = chip.type->pins[static_cast<std::size_t>(pin.pin)].kind;
      const bool contact = chip.type->looks == Looks::contact;
      const bool source = kind == PinKind::passive && !chip.type->input.empty();
      if (drives(kind)) {
        const auto& pins = chip.type->pins;
        net.pullers += fmt::format("{}{}.{}", net.pullers.empty() ? "" : ", ", chip.name,
                                   pins[static_cast<std::size_t>(pin.pin)].name);
      }
      by_hand = by_hand || chip.type->by_hand();
      moves = moves || contact || source || drives(kind);
      // Of a clean contact each edge is a move of its own.
      const bool bounces = contact && (!chip.type->has_parameter("bounce") || (*chip.parameters)["bounce"] > 0);
      if (bounces && !view.rail) net.roles |= kContact;
      net.chips.emplace_back(chip.name);
      net.pins.push_back(fmt::format("{}.{}", chip.name, chip.type->pins[static_cast<std::size_t>(pin.pin)].name));
    }
    moves = moves && !view.rail;
    if (net.roles & kIrqLine) irq_moves_ = moves;
    if (net.roles & kFirqLine) firq_moves_ = moves;
    if (net.roles & kNmiLine) nmi_moves_ = moves;
    if (net.roles & kHaltLine) halt_by_hand_ = by_hand;
    if (net.roles == 0) continue;
    for (Request* request : requests_of(net)) {
      request->rail = view.rail && view.state.level == Level::low;
      request->pins = net.pullers;
    }
    if (net.roles & ~unsigned{kContact}) follow(net, view.state.level, stamp_of(machine.now()));
    nets_.push_back(std::move(net));
  }
}

void LineRules::follow(Net& net, Level level, Stamp when) {
  for (Request* request : requests_of(net)) {
    const bool low = level == Level::low;
    if (low && !request->low) {
      request->since = cycle_of(when);
      if (++request->ignored == 1) request->first = request->since;
    }
    if (!low) request->rose = true;
    request->low = low;
  }
}

std::vector<Request*> LineRules::requests_of(const Net& net) {
  std::vector<Request*> requests;
  if (net.roles & kIrqLine) requests.push_back(&scene_.irq);
  if (net.roles & kFirqLine) requests.push_back(&scene_.firq);
  if (net.roles & kHaltLine) requests.push_back(&halt_);
  return requests;
}

void LineRules::on_net(std::string_view name, const NetState& state, Stamp when) {
  for (Net& net : nets_) {
    // Names of nets stay where they are while a machine lives.
    if (net.name.data() != name.data()) continue;
    follow(net, state.level, when);
    if ((net.roles & kNmiLine) && state.level == Level::low && scene_.mc6809 && !scene_.stack_set) {
      scene_.say("nmi-not-armed", 0, [&] {
        return std::pair(
            std::string("NMI has fallen, but the MC6809 takes no notice of it before the program has loaded S"),
            "begin the program with LDS");
      });
    }
    if (net.roles & kContact) {
      if (net.last < 0 || when - net.last > scene_.machine.timebase().stamps(kBounce)) {
        net.burst = when;
        net.changes = net.flags = 0;
        net.irqs = scene_.served_irq.count;
        net.firqs = scene_.served_firq.count;
        net.first_took = -1;
        net.ignores = false;
      }
      net.last = when;
      ++net.changes;
    }
    return;
  }
}

void LineRules::on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when, const Op* op,
                         std::uint16_t pc, bool in_handler) {
  const auto same = [&](const auto& each) { return each.line == value && each.chip == chip; };
  if (event == "flag") {
    if (std::none_of(flags_.begin(), flags_.end(), same)) flags_.push_back({std::string(chip), value, when});
    for (Net& net : nets_) {
      if (!(net.roles & kContact) || net.last != when) continue;
      if (std::find(net.chips.begin(), net.chips.end(), chip) == net.chips.end()) continue;
      const bool by_irq = scene_.served_irq.count != net.irqs;
      const bool served = by_irq || scene_.served_firq.count != net.firqs;
      const Cycle took = by_irq ? scene_.served_irq.took : scene_.served_firq.took;
      net.irqs = scene_.served_irq.count;
      net.firqs = scene_.served_firq.count;
      if (served && net.first_took >= 0) net.ignores = net.ignores || took != net.first_took;
      if (served && net.first_took < 0) net.first_took = took;
      if (++net.flags < kEdges) continue;
      // A handler that does the same each time may do it often; one that takes a shorter way ignores what comes.
      if (net.ignores || (served && !VectorRules(scene_).counts(by_irq ? 0xFFF8 : 0xFFF6))) continue;
      scene_.say("bounce-counted", static_cast<std::uint64_t>(&net - nets_.data()), [&] {
        return std::pair(
            fmt::format("one move of a contact on net {} has set a flag of {} {} times within {}: contacts "
                        "bounce, and the program is told of each edge",
                        net.name, chip, net.flags, scene_.decimal_time((when - net.burst) / 4 + 1)),
            "after the first edge wait 10 to 20 ms, look whether the contact is still closed, and only then "
            "clear the flag");
      });
    }
  } else if (event == "flag-cleared") {
    std::erase_if(flags_, same);
    if (op == nullptr || !op->has(kModify)) return;
    scene_.say("rmw-clears-flag", pc, [&] {
      return std::pair(
          fmt::format("the instruction at {} reads the port of {} before it writes it back, and the read has "
                      "cleared an interrupt flag",
                      scene_.at(pc), chip),
          "CLR, INC, COM and their like read first; to write only, load an accumulator and store it");
    });
  } else if (event == "edge-missed") {
    missed(chip, value, in_handler);
  } else if (event == "strobe") {
    if (std::none_of(strobes_.begin(), strobes_.end(), same)) strobes_.push_back({std::string(chip), value, when});
  } else if (event == "strobe-end") {
    std::erase_if(strobes_, same);
  }
}

/// The line whose flag is bit 7 of the register at that address: 1 is CA1, 3 is CB1. 0 if it is no such register.
std::int64_t LineRules::line_shown(std::uint16_t address) const {
  for (const ChipView& chip : scene_.machine.chips()) {
    if (!chip.place || address < chip.place->mirror_first || address > chip.place->mirror_last) continue;
    const std::size_t reg = (address - chip.place->first) & (chip.place->spec.size - 1);
    const auto& names = chip.place->spec.registers;
    if (reg < names.size() && (names[reg] == "CRA" || names[reg] == "CRB")) return names[reg] == "CRA" ? 1 : 3;
  }
  return 0;
}

void LineRules::sign_tested(const Step& step, const Step& before) {
  if ((scene_.cc(step.cpu) & kN) == 0) return;
  bool wrapped = false;
  const auto address = scene_.effective(before, wrapped);
  if (!address || !scene_.is(*address, kDevice)) return;
  const std::vector<std::string> names = scene_.machine.answering(*address);
  if (names.empty()) return;
  const std::int64_t line = line_shown(*address);
  for (Flag& flag : flags_) {
    if (flag.chip != names[0] || (line > 0 && flag.line != line) || ++flag.polls < kPolls) continue;
    flag.polls = 0;
    scene_.say("flag-never-cleared", *address, [&] {
      return std::pair(
          fmt::format("the program has seen bit 7 at ${:04X} set {} times, and no read of {} has cleared it: "
                      "it takes one event for many",
                      *address, kPolls, flag.chip),
          "read the chip's data register after each flag: reading the control register clears nothing");
    });
    return;
  }
}

bool LineRules::may_interrupt(unsigned cc) const {
  return nmi_moves_ || (irq_moves_ && !(cc & kI)) || (scene_.mc6809 && firq_moves_ && !(cc & kF));
}

void LineRules::wait(const Step& step) {
  unsigned cc = scene_.cc(step.cpu);
  if (scene_.mc6809) cc &= scene_.peek(step.operand);
  if (may_interrupt(cc)) return;
  // Without any source that was set up to ask, an intended end of the program looks like this.
  if ((!irq_moves_ && !firq_moves_) || !wake_.may_be_asked()) return;
  scene_.say("wait-masked", step.pc, [&] {
    return std::pair(
        fmt::format("the processor waits at {} with its interrupts masked: only RESET can wake it", scene_.at(step.pc)),
        scene_.mc6809 ? std::string("clear the mask in CWAI: #$EF for IRQ, #$BF for FIRQ, #$AF for both")
                      : scene_.unmask_hint(false));
  });
}

void LineRules::look(const Cpu& cpu, Cycle now, bool in_handler, std::int32_t waits) {
  if (!in_handler) {
    masked(scene_.irq, false, (scene_.cc(cpu) & kI) != 0, now, waits);
    masked(scene_.firq, true, scene_.mc6809 && (scene_.cc(cpu) & kF) != 0, now, waits);
  }
  for (Flag& flag : flags_) unserved(flag, now);
  for (Strobe& strobe : strobes_) {
    if (strobe.told || now - cycle_of(strobe.since) < cycles(kHandshake)) continue;
    strobe.told = true;
    const std::vector<ChipView> chips = scene_.machine.chips();
    const auto chip =
        std::find_if(chips.begin(), chips.end(), [&](const auto& each) { return each.name == strobe.chip; });
    const auto number = static_cast<std::uint64_t>(chip - chips.begin());
    scene_.say("handshake-open", number << 8 | static_cast<std::uint64_t>(strobe.line), [&] {
      const auto pin = [&](std::int64_t line) { return control_pin(strobe.chip, line); };
      const std::int64_t line = strobe.line;
      return std::pair(
          fmt::format("{} has held its strobe low for {}: no answer has come to {}", pin(line),
                      scene_.decimal_time(now - cycle_of(strobe.since)), pin(line - 1)),
          fmt::format("look at the wire from {} to the other side and back to {}, and at which edge of the "
                      "answer counts; for a strobe without an answer choose the pulse",
                      pin(line), pin(line - 1)));
    });
  }
}

/// Only handlers are meant: what a program that polls leaves out, it may leave out on purpose.
void LineRules::missed(std::string_view chip, std::int64_t line, bool in_handler) {
  if (!in_handler) return;
  const auto flag = std::find_if(flags_.begin(), flags_.end(),
                                 [&](const Flag& each) { return each.line == line && each.chip == chip; });
  if (flag == flags_.end() || flag->missed) return;
  flag->missed = true;
  const auto counter = std::find_if(misses_.begin(), misses_.end(),
                                    [&](const Misses& each) { return each.line == line && each.chip == chip; });
  if (counter == misses_.end()) {
    misses_.push_back({std::string(chip), line, 1});
    return;
  }
  if (++counter->count < kMisses) return;
  const std::string pin = control_pin(chip, line);
  // A contact bounces while its flag stands, and a person will press it again.
  for (const Net& net : nets_) {
    const bool on_it = std::find(net.chips.begin(), net.chips.end(), chip) != net.chips.end();
    if ((net.roles & kContact) && on_it && std::find(net.pins.begin(), net.pins.end(), pin) != net.pins.end()) return;
  }
  scene_.say("edge-missed", {.subject = static_cast<std::uint64_t>(line), .cause = std::hash<std::string_view>{}(chip)},
             [&] {
               return std::pair(
                   fmt::format("{} has had edges while the flag of the one before still stood, after {} requests: they "
                               "count for nothing, since the handler takes longer than the time between two of them",
                               pin, counter->count),
                   "clear the flag at the beginning of the handler, make it shorter, or the edges rarer");
             });
}

/// Whether the program reads a chip that may ask on a line of that role, as one that polls it does.
bool LineRules::reads_asking(unsigned role) const {
  const std::vector<ChipView> chips = scene_.machine.chips();
  for (const Net& net : nets_) {
    if (!(net.roles & role)) continue;
    for (const ChipView& chip : chips) {
      if (!chip.place || std::find(net.chips.begin(), net.chips.end(), chip.name) == net.chips.end()) continue;
      const auto in_it = [&](std::uint16_t address) {
        return address >= chip.place->mirror_first && address <= chip.place->mirror_last;
      };
      if (std::any_of(scene_.device_reads.begin(), scene_.device_reads.end(), in_it)) return true;
    }
  }
  return false;
}

void LineRules::masked(const Request& request, bool fast, bool mask, Cycle now, std::int32_t waits) {
  // A handler that leaves its line low is another fault, and told.
  if (!mask || request.storm) return;
  // Requests that come and go unseen, as those of a converter that is started again and again.
  // Only where the program has opened the other line: it might mask both, and poll.
  const bool often = fast && (scene_.cc(scene_.machine.cpu()) & kI) == 0 && request.ignored >= kIgnored &&
                     now - request.first >= cycles(kMasked) && scene_.has_handler(0xFFF6) && !reads_asking(kFirqLine);
  if (!often && (!request.low || now - request.since < cycles(kMasked))) return;
  // A program that has served requests before may well mask them and stop.
  const Cpu& cpu = std::as_const(scene_.machine).cpu();
  const Outline there = outline(scene_.machine, cpu.pc());
  if (request.answered && there.flow == Flow::jump && there.target == cpu.pc()) return;
  const char mask_name = fast ? 'F' : 'I';
  scene_.say(fast ? "firq-masked" : "irq-masked", {.subject = 0, .pc = waits}, [&] {
    if (request.rail) {
      return std::pair(fmt::format("{0} is wired to GND, and {1} is 1: as soon as the program clears {1} it will be "
                                   "interrupted without end",
                                   fast ? "FIRQ" : "IRQ", mask_name),
                       fmt::format("take CPU.{} off GND; let a resistor to +5V hold it high", fast ? "FIRQ" : "IRQ"));
    }
    const std::string_view line = fast ? "FIRQ" : "IRQ";
    const std::string what =
        often ? fmt::format("{} has fallen {} times in {}", line, request.ignored,
                            scene_.decimal_time(now - request.first))
              : fmt::format("{} has been low for {}", line, scene_.decimal_time(now - request.since));
    return std::pair(fmt::format("{}, but {} is 1: the processor does not look at it{}", what, mask_name,
                                 request.pins.empty() ? "" : fmt::format(". On the line: {}", request.pins)),
                     scene_.unmask_hint(fast));
  });
}

/// Whether the program waits for the interrupt of that line: its mask is clear, there is a handler, and so far nothing
/// has come of it. A flag of a line that nobody uses stands for ever in good programs.
bool LineRules::wanted(const Net& net) const {
  const unsigned cc = scene_.cc(scene_.machine.cpu());
  const auto waits = [&](unsigned role, const Request& request, unsigned mask, std::uint16_t vector) {
    return (net.roles & role) != 0 && (cc & mask) == 0 && !request.answered && scene_.has_handler(vector);
  };
  return waits(kIrqLine, scene_.irq, kI, 0xFFF8) || waits(kFirqLine, scene_.firq, kF, 0xFFF6) ||
         waits(kNmiLine, scene_.nmi, 0, 0xFFFC);
}

/// Whether something on that net may ask, or could be made to by a person.
bool LineRules::asked(const Net& net, const std::vector<ChipView>& chips) const {
  for (std::size_t i = 0; i < chips.size(); ++i) {
    const ChipType& type = *chips[i].type;
    for (std::size_t pin = 0; pin < type.pins.size(); ++pin) {
      if (!net.has(fmt::format("{}.{}", chips[i].name, type.pins[pin].name))) continue;
      if (type.by_hand()) return true;
      if (scene_.machine.why_not(static_cast<int>(i), static_cast<int>(pin)).armed) return true;
    }
  }
  return false;
}

void LineRules::unserved(Flag& flag, Cycle now) {
  if (flag.told || flag.polls > 0 || now - cycle_of(flag.since) < cycles(kUnserved)) return;
  const auto may_ask = [&](const Net& net) {
    return std::find(net.chips.begin(), net.chips.end(), flag.chip) != net.chips.end() && wanted(net);
  };
  if (std::none_of(nets_.begin(), nets_.end(), may_ask)) return;
  flag.told = true;
  const std::vector<ChipView> chips = scene_.machine.chips();
  for (std::size_t i = 0; i < chips.size(); ++i) {
    const ChipView& chip = chips[i];
    if (chip.name != flag.chip || !chip.place) continue;
    // A program that reads the register of the flag may look at it in many ways.
    if (scene_.reads_control(*chip.place)) return;
    for (std::size_t pin = 0; pin < chip.type->pins.size(); ++pin) {
      if (chip.type->pins[pin].kind != PinKind::open_drain && chip.type->pins[pin].kind != PinKind::output) continue;
      const Blocked blocked = scene_.machine.why_not(static_cast<int>(i), static_cast<int>(pin));
      if (!blocked.flag) continue;
      const std::string name = fmt::format("{}.{}", chip.name, chip.type->pins[pin].name);
      const auto net = std::find_if(nets_.begin(), nets_.end(), [&](const Net& each) { return each.has(name); });
      if (net == nets_.end() || !wanted(*net) || asked(*net, chips)) continue;
      scene_.say("flag-unserved", {.subject = i << 8 | pin, .cause = i, .since = cycle_of(flag.since)}, [&] {
        return std::pair(
            fmt::format("{}.{} asks for nothing: {}. It has stood for {}, and nobody reads it", chip.name,
                        chip.type->pins[pin].name, blocked.why, scene_.decimal_time(now - cycle_of(flag.since))),
            "set the enable bit in the control register, or poll the flag");
      });
      return;
    }
  }
}

void LineRules::conclude(bool executed) {
  const Machine& machine = scene_.machine;
  if (executed && machine.cpu().state() == CpuState::halted && halt_.low && !halt_by_hand_ &&
      machine.now() - halt_.since >= cycles(kMasked)) {
    scene_.say("halt-held", {.subject = 0, .since = halt_.since}, [&] {
      return std::pair(
          fmt::format("HALT has been low for {}, and the processor stands still: no program could raise it. "
                      "On the line: {}",
                      scene_.decimal_time(machine.now() - halt_.since), halt_.pins),
          "take HALT off that line and tie it to +5V");
    });
  }
  if (executed || machine.now() < cycles(kMasked)) return;
  if (machine.cpu().state() == CpuState::reset) {
    scene_.say("reset-held", 0, [&] {
      return std::pair(std::string("RESET is low all the time: the processor has executed nothing"),
                       "let a resistor hold the line high; something on it pulls it low");
    });
  } else if (machine.cpu().state() == CpuState::halted) {
    scene_.say("halt-held", 0, [&] {
      return std::pair(std::string("HALT is low all the time: the processor has executed nothing"),
                       "tie HALT to +5V if nothing shall stop the processor");
    });
  }
}

void LineRules::forget() {
  flags_.clear();
  misses_.clear();
  strobes_.clear();
  for (Request* request : {&scene_.irq, &scene_.firq}) {
    request->rose = true;
    request->storm = false;
  }
  const std::vector<NetView> views = scene_.machine.nets();
  for (Net& net : nets_) {
    net.last = -1;
    for (const NetView& view : views) {
      if (view.name.data() == net.name.data()) follow(net, view.state.level, stamp_of(scene_.machine.now()));
    }
  }
}

}  // namespace prewire::partner
