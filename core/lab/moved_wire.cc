#include "lab/moved_wire.h"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "description/wires.h"
#include "prewire/chip.h"

namespace prewire {

namespace {

constexpr std::size_t kMostWires = 256;

/// All wires of one entry: they move together, and do not bounce.
class MovedWires final : public Chip {
 public:
  MovedWires(Socket& socket, int wires, bool plugged_at_first)
      : Chip(socket), wires_(wires), plugged_at_first_(plugged_at_first) {}

  void power_on() override { move(plugged_at_first_); }
  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    if (text == kPulled) return 0;
    if (text == kPlugged) return 1;
    return std::nullopt;
  }
  void input(std::int64_t value) override { move(value != 0); }
  // The board keeps where the contacts are.

 private:
  void move(bool plugged) {
    for (int i = 0; i < wires_; ++i) socket().link(i, plugged ? 0 : Socket::kOpen);
  }

  const int wires_;
  const bool plugged_at_first_;
};

/// Two pins for each wire: "1a", "1b", "2a" and so on.
std::string_view pin_name(std::size_t pin) {
  static const std::vector<std::string> kNames = [] {
    std::vector<std::string> names;
    for (std::size_t i = 0; i < kMostWires; ++i) {
      names.push_back(fmt::format("{}a", i + 1));
      names.push_back(fmt::format("{}b", i + 1));
    }
    return names;
  }();
  return kNames[pin];
}

std::shared_ptr<const ChipType> type_of(std::size_t wires, bool plugged_at_first) {
  auto type = std::make_shared<ChipType>();
  type->name = "wires";
  type->title = "wires that a check moves";
  for (std::size_t i = 0; i < wires; ++i) {
    type->pins.push_back({.name = pin_name(2 * i)});
    type->pins.push_back({.name = pin_name(2 * i + 1)});
    type->links.push_back({static_cast<int>(2 * i), static_cast<int>(2 * i + 1)});
  }
  type->input = fmt::format("{} or {}", kPulled, kPlugged);
  type->make = [wires, plugged_at_first](Socket& socket, const Parameters&) {
    return std::make_unique<MovedWires>(socket, static_cast<int>(wires), plugged_at_first);
  };
  return type;
}

/// The contacts as they are put on the board: the part's pins come in pairs.
class Contacts {
 public:
  explicit Contacts(int chip) : chip_(chip) {}
  PinRef near() const { return {chip_, static_cast<int>(2 * count_)}; }
  PinRef far() const { return {chip_, static_cast<int>(2 * count_ + 1)}; }
  void next() { ++count_; }
  std::size_t count() const { return count_; }

 private:
  const int chip_;
  std::size_t count_ = 0;
};

/// A contact between each pin and each of its wires.
void take_off(const JsonValue& ends, MachineSpec& spec, Contacts& contacts, FaultList& faults) {
  for (const JsonValue& end : ends.children()) {
    for (const PinRef pin : read_pins(end, spec, faults)) {
      WireSpec own{.pins = {pin}};
      for (WireSpec& wire : spec.wires) {
        for (PinRef& at : wire.pins) {
          if (at.chip != pin.chip || at.pin != pin.pin) continue;
          at = contacts.far();
          own.pins.push_back(contacts.near());
          contacts.next();
        }
      }
      if (own.pins.size() > 1) {
        spec.wires.push_back(std::move(own));
        continue;
      }
      faults.add("no-wire", end.place(), fmt::format("there is no wire at {}", spec.pin_name(pin)),
                 "a pin that a wire goes to", end.shown(), "name the other end, or leave it out");
    }
  }
}

/// A contact between the first end of each wire and each of its others.
void put_between(const JsonValue& wires, MachineSpec& spec, Contacts& contacts, FaultList& faults) {
  const std::size_t before = spec.wires.size(), faults_before = faults.count();
  read_wires(wires, spec, faults);
  if (faults.count() > faults_before) return;
  std::vector<WireSpec> whole(std::make_move_iterator(spec.wires.begin() + static_cast<std::ptrdiff_t>(before)),
                              std::make_move_iterator(spec.wires.end()));
  spec.wires.resize(before);
  for (const WireSpec& wire : whole) {
    std::vector<WireSpec> ends;
    for (const PinRef pin : wire.pins) ends.push_back({.pins = {pin}});
    if (wire.rail_microvolts) ends.push_back({.rail_microvolts = wire.rail_microvolts, .rail = wire.rail});
    if (!wire.label.empty()) ends.push_back({.label = wire.label});
    for (std::size_t i = 1; i < ends.size(); ++i) {
      ends[0].pins.push_back(contacts.near());
      ends[i].pins.push_back(contacts.far());
      contacts.next();
    }
    std::move(ends.begin(), ends.end(), std::back_inserter(spec.wires));
  }
}

}  // namespace

void add_moved_wires(const WireMove& move, MachineSpec& spec, FaultList& faults) {
  const bool there =
      std::any_of(spec.chips.begin(), spec.chips.end(), [&](const ChipSpec& chip) { return chip.name == move.part; });
  if (there) return;  // an earlier entry moves the same wires
  Contacts contacts(static_cast<int>(spec.chips.size()));
  const std::size_t before = faults.count();
  if (move.remove) {
    take_off(move.ends, spec, contacts, faults);
  } else {
    put_between(move.ends, spec, contacts, faults);
  }
  if (contacts.count() > kMostWires) {
    faults.add("out-of-range", move.ends.place(), "too many wires move at once", fmt::format("at most {}", kMostWires),
               std::to_string(contacts.count()), "");
  }
  if (faults.count() > before) return;
  ChipSpec chip;
  chip.name = move.part;
  spec.types.push_back(type_of(contacts.count(), move.remove));
  chip.type = spec.types.back().get();
  spec.chips.push_back(std::move(chip));
}

}  // namespace prewire
