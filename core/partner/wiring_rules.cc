#include "partner/wiring_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace prewire::partner {

namespace {

// Common practice: small LEDs and segments take 20 mA, and outputs of the family less.
constexpr std::int64_t kMostMicroamps = 20'000;
constexpr std::int64_t kSupply = 5'000'000;

/// What an LED keeps for itself, in microvolts. A part that tells no colour, such as a digit, counts as red: most are.
std::int64_t forward(const ChipView& lamp) {
  const Parameters& parameters = *lamp.parameters;
  if (lamp.type->has_parameter("forward") && parameters.given("forward")) return parameters["forward"];
  const auto color = lamp.type->has_parameter("color") ? static_cast<std::size_t>(parameters["color"]) : 0;
  return color < kLedForward.size() ? kLedForward[color] : kLedForward[0];
}

class Board {
 public:
  explicit Board(const Machine& machine) : chips(machine.chips()), nets_(machine.nets()) {
    for (std::size_t net = 0; net < nets_.size(); ++net) {
      for (const NetView::Pin& pin : nets_[net].pins) net_of_[{pin.chip, pin.pin}] = net;
    }
  }

  /// The resistance of the one resistor that the pin is wired to and nothing else is; 0 if it is not like that.
  std::int64_t series(int chip, int pin) const {
    const auto net = net_of_.find({chip, pin});
    if (net == net_of_.end()) return 0;
    const NetView& view = nets_[net->second];
    if (view.rail || view.pins.size() != 2) return 0;
    const NetView::Pin other = view.pins[view.pins[0].chip == chip && view.pins[0].pin == pin ? 1 : 0];
    if (other.chip < 0) return 0;
    const ChipView& part = chips[static_cast<std::size_t>(other.chip)];
    if (part.type->links.size() != 1 || !part.type->has_parameter("ohms") || part.type->pins.size() != 2) return 0;
    return (*part.parameters)["ohms"];
  }

  const std::vector<ChipView> chips;

 private:
  std::vector<NetView> nets_;
  std::map<std::pair<int, int>, std::size_t> net_of_;
};

}  // namespace

void look_at_wiring(Scene& scene) {
  const Board board(scene.machine);
  for (std::size_t i = 0; i < board.chips.size(); ++i) {
    const ChipView& lamp = board.chips[i];
    if (lamp.type->looks != Looks::led && lamp.type->looks != Looks::digit) continue;
    const auto chip = static_cast<int>(i);
    const auto pins = static_cast<int>(lamp.type->pins.size());
    // The resistors on both sides of an LED add up; each segment of a digit has its own.
    std::int64_t ohms = 0;
    for (int pin = 0; pin < pins; ++pin) {
      const std::int64_t own = board.series(chip, pin);
      if (lamp.type->looks == Looks::led) {
        ohms += own;
      } else if (own > 0 && lamp.type->pins[static_cast<std::size_t>(pin)].name != "COM") {
        ohms = ohms == 0 ? own : std::min(ohms, own);
      }
    }
    if (ohms <= 0) continue;
    const std::int64_t microamps = (kSupply - forward(lamp)) / ohms;
    if (microamps <= kMostMicroamps) continue;
    scene.say("led-current", i, [&] {
      return std::pair(
          fmt::format("{} Ohm let some {} mA through {} at 5 V: more than the 20 mA that LEDs take, and more "
                      "than a port gives",
                      ohms, microamps / 1000, lamp.name),
          "take 910 Ohm or more at a port, 270 to 330 Ohm at a driver");
    });
  }
}

namespace {

/// Variables that stand one behind the other where they cannot be.
struct Space {
  std::uint16_t first;
  std::uint32_t end;  // the address behind it
  bool rom;
  std::vector<std::string> names;
  SourcePlace place{};  // of the first one
};

void tell(Scene& scene, const Space& space) {
  scene.say(
      space.rom ? "space-in-rom" : "space-without-memory", {.subject = space.first, .address = true, .pc = space.first},
      [&] {
        constexpr std::size_t kMost = 6;
        const std::size_t more = space.names.size() > kMost + 1 ? space.names.size() - kMost : 0;
        std::string names = fmt::format(
            "{}", fmt::join(space.names.begin(), space.names.end() - static_cast<std::ptrdiff_t>(more), ", "));
        if (more > 0) names += fmt::format(" and {} more", more);
        return std::pair(
            fmt::format("{} {} reserved at ${:04X}{} ({}), {}", names, space.names.size() > 1 ? "are" : "is",
                        space.first, space.end - space.first > 1 ? fmt::format(" to ${:04X}", space.end - 1) : "",
                        to_string(space.place),
                        space.rom ? "in a ROM: what the program stores there is lost" : "where no memory answers"),
            "ORG with an address of the RAM before the variables; `prewire check --map` shows where it is");
      });
}

}  // namespace

void look_at_source(Scene& scene) {
  for (const Image* image : scene.machine.programs()) {
    if (image->source == nullptr) continue;
    std::vector<Space> spaces;
    for (const SourceMap::Line& line : image->source->lines) {
      if (line.kind != LineKind::space || line.size == 0) continue;
      const auto address = static_cast<std::uint16_t>(line.address);
      const std::string name(scene.machine.label_at(address));
      if (name.empty() || scene.is(address, kRam | kDevice) || scene.machine.use(address).loaded) continue;
      const bool rom = scene.is(address, kRom);
      const auto end = static_cast<std::uint32_t>(line.address + line.size);
      if (!spaces.empty() && spaces.back().end == address && spaces.back().rom == rom) {
        spaces.back().end = end;
        spaces.back().names.push_back(name);
      } else {
        spaces.push_back({address, end, rom, {name}, {image->source.get(), &line}});
      }
    }
    for (const Space& space : spaces) tell(scene, space);
  }
}

}  // namespace prewire::partner
