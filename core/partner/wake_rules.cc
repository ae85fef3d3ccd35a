#include "partner/wake_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>

namespace prewire::partner {

namespace {

constexpr int kFarthest = 4;  // from a request through the chips that lead to it
constexpr unsigned kI = 0x10, kF = 0x40;

}  // namespace

std::string WakeRules::pin_name(int chip, int pin) const {
  const auto number = static_cast<std::size_t>(pin);
  if (chip < 0) return fmt::format("CPU.{}", scene_.machine.processor().type->pins[number].name);
  const ChipView& view = chips_[static_cast<std::size_t>(chip)];
  return fmt::format("{}.{}", view.name, view.type->pins[number].name);
}

void WakeRules::look_around() {
  nets_ = scene_.machine.nets();
  chips_ = scene_.machine.chips();
}

void WakeRules::follow(int chip, const Blocked& blocked, int depth, Way& way) {
  if (!blocked.why.empty()) way.blocks.push_back(blocked.why);
  // Of a chip that cannot tell, anything may come.
  if (blocked.unknown()) way.person = true;
  way.armed = way.armed || blocked.armed;
  way.flag = way.flag || blocked.flag;
  if (depth == kFarthest) return;
  for (const int pin : blocked.waits_for) at_net(chip, pin, depth + 1, way);
}

/// What could move the net at a pin?
void WakeRules::at_net(int chip, int pin, int depth, Way& way) {
  const NetView* net = net_at(nets_, chip, pin);
  const std::string name = pin_name(chip, pin);
  if (net == nullptr) {
    way.blocks.push_back(fmt::format("{} is not wired", name));
    return;
  }
  if (net->rail) {
    way.blocks.push_back(fmt::format("{} is tied to {}", name, net->name));
    return;
  }
  bool any = false;
  for (const NetView::Pin& other : net->pins) {
    if (other.chip == chip && other.pin == pin) continue;
    if (other.chip < 0) continue;
    const ChipView& part = chips_[static_cast<std::size_t>(other.chip)];
    const PinSpec& spec = part.type->pins[static_cast<std::size_t>(other.pin)];
    if (part.type->by_hand()) {
      any = way.person = true;
    } else if (drives(spec.kind)) {
      any = true;
      follow(other.chip, scene_.machine.why_not(other.chip, other.pin), depth, way);
    } else if (spec.kind == PinKind::passive && !part.type->links.empty()) {
      // Behind a resistor there may be more; what, nobody has asked.
      any = any || part.type->links.size() > 1;
    }
  }
  if (!any) {
    way.blocks.push_back(
        fmt::format("nothing on the net of {} can move it: it stays {}", name, to_string(net->state.level)));
  }
}

bool WakeRules::may_be_asked() {
  look_around();
  for (const std::string_view line : {"IRQ", "FIRQ"}) {
    const int pin = scene_.machine.processor().type->pin(line);
    const NetView* net = pin < 0 ? nullptr : net_at(nets_, -1, pin);
    if (net == nullptr || net->rail) continue;
    for (const NetView::Pin& other : net->pins) {
      if (other.chip < 0) continue;
      const ChipType& type = *chips_[static_cast<std::size_t>(other.chip)].type;
      const PinKind kind = type.pins[static_cast<std::size_t>(other.pin)].kind;
      if (type.by_hand()) return true;
      if (!drives(kind)) continue;
      const Blocked blocked = scene_.machine.why_not(other.chip, other.pin);
      if (blocked.armed || blocked.flag || blocked.unknown()) return true;
    }
  }
  return false;
}

void WakeRules::waits(std::uint16_t pc, Cycle since) {
  look_around();
  const Machine& machine = scene_.machine;
  const unsigned cc = scene_.cc(machine.cpu());
  const ChipType& cpu = *machine.processor().type;
  std::vector<std::string> lines;
  bool stuck = false;
  for (const std::string_view line : {"IRQ", "FIRQ", "NMI"}) {
    const int pin = cpu.pin(line);
    if (pin < 0) continue;
    Way way;
    const NetView* net = net_at(nets_, -1, pin);
    if ((line == "IRQ" && (cc & kI)) || (line == "FIRQ" && (cc & kF))) way.blocks.push_back("it is masked");
    if (net != nullptr && !net->rail) {
      for (const NetView::Pin& other : net->pins) {
        if (other.chip < 0) continue;
        const ChipView& part = chips_[static_cast<std::size_t>(other.chip)];
        const PinSpec& spec = part.type->pins[static_cast<std::size_t>(other.pin)];
        way.person = way.person || part.type->by_hand();
        if (spec.kind != PinKind::open_drain && spec.kind != PinKind::output) continue;
        Way own;
        follow(other.chip, machine.why_not(other.chip, other.pin), 0, own);
        way.person = way.person || own.person;
        way.armed = way.armed || own.armed;
        way.flag = way.flag || own.flag;
        if (own.blocks.empty()) continue;
        std::string text = fmt::format("{}: ", pin_name(other.chip, other.pin));
        for (std::size_t i = 0; i < own.blocks.size(); ++i) text += (i == 0 ? "" : "; ") + own.blocks[i];
        way.blocks.push_back(text);
      }
    } else {
      way.blocks.push_back(net == nullptr ? "it is not wired" : fmt::format("it is tied to {}", net->name));
    }
    if (way.person) return;  // somebody may press a key
    stuck = stuck || way.armed || way.flag;
    for (const std::string& block : way.blocks) lines.push_back(fmt::format("{}: {}", line, block));
  }
  // Where no chip was set up to ask, the program has ended like this on purpose.
  if (!stuck) return;
  // A chip that was set up says most.
  std::stable_sort(lines.begin(), lines.end(), [](const std::string& a, const std::string& b) {
    const auto says = [](const std::string& text) { return text.find('.') == std::string::npos; };
    return says(a) < says(b);
  });
  scene_.say("wait-stuck", {.subject = pc, .since = since, .pc = pc}, [&] {
    return std::pair(
        fmt::format("the processor waits at {}, and nothing can wake it any more. {}", scene_.at(pc),
                    fmt::join(lines, ". ")),
        std::string("look at the last thing named in that chain: it is where the way to the interrupt is broken"));
  });
}

/// Whether those bits stay, and why.
bool WakeRules::poll(const Poll& poll, std::vector<std::string>& told) {
  for (std::size_t i = 0; i < chips_.size(); ++i) {
    const ChipView& chip = chips_[i];
    if (!chip.place || poll.address < chip.place->mirror_first || poll.address > chip.place->mirror_last) continue;
    if (chip.place->spec.kind != BusSpec::Kind::registers) continue;
    const unsigned reg = chip.place->wired
                             ? chip.place->reg(poll.address)
                             : static_cast<unsigned>((poll.address - chip.place->first) & (chip.place->spec.size - 1));
    Way way;
    follow(static_cast<int>(i), scene_.machine.why_steady(static_cast<int>(i), reg, poll.mask), 0, way);
    if (way.person || way.blocks.empty()) return false;
    const std::string what = poll.mask == 0xFF ? "the byte"
                             : std::has_single_bit(poll.mask)
                                 ? fmt::format("bit {} of the byte", std::countr_zero(poll.mask))
                                 : fmt::format("bits ${:02X} of the byte", poll.mask);
    told.push_back(
        fmt::format("{} at ${:04X} of {} to change, and nothing can change it any more: the byte is "
                    "${:02X} for ever. {}",
                    what, poll.address, chip.name, scene_.peek(poll.address), fmt::join(way.blocks, "; ")));
    return true;
  }
  return false;
}

void WakeRules::polls(std::uint16_t start, const std::vector<Poll>& polls, Cycle since) {
  look_around();
  std::vector<std::string> told;
  for (const Poll& each : polls) {
    if (each.mask != 0 && !poll(each, told)) return;
  }
  scene_.say("wait-stuck", {.subject = start, .since = since, .pc = start}, [&] {
    return std::pair(
        fmt::format("the loop at {} waits for {}", scene_.at(start), fmt::join(told, ". It waits, too, for ")),
        std::string("look at the last thing named in that chain, and whether it is this bit that the loop "
                    "should look at"));
  });
}

}  // namespace prewire::partner
