#include "description/wires.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <map>
#include <optional>
#include <set>
#include <utility>

#include "description/nets.h"
#include "units/quantity.h"
#include "units/text.h"

namespace prewire {

namespace {

// Enough for every board with plug-in wires, and safe to touch.
constexpr std::int32_t kHighestRail = 30'000'000;

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_word(std::string_view text) {
  return std::all_of(text.begin(), text.end(),
                     [](char c) { return is_letter(c) || is_digit(c) || c == '_' || c == '-'; });
}

/// A name that ends with a number or with one letter, as the ends of a range do.
struct Numbered {
  std::string_view prefix;
  int number = 0;  ///< of a letter: its code
  bool letter = false;
};

std::optional<Numbered> numbered(std::string_view name) {
  std::size_t digits = 0;
  while (digits < name.size() && is_digit(name[name.size() - 1 - digits])) ++digits;
  if (digits > 3 || name.empty()) return std::nullopt;
  if (digits > 0) {
    const std::string_view number = name.substr(name.size() - digits);
    if (number.size() > 1 && number[0] == '0') return std::nullopt;
    return Numbered{name.substr(0, name.size() - digits), std::atoi(std::string(number).c_str()), false};
  }
  if (!is_letter(name.back())) return std::nullopt;
  return Numbered{name.substr(0, name.size() - 1), name.back(), true};
}

std::string name_of(const Numbered& of, int number) {
  std::string name(of.prefix);
  if (of.letter) return name + static_cast<char>(number);
  return name + std::to_string(number);
}

/// The same of names that begin with their number, as those of units do: "1D" to "8D".
std::vector<std::string> expand_units(std::string_view first, std::string_view last) {
  const auto unit = [](std::string_view name) {
    return name.size() > 1 && is_digit(name[0]) && name[0] != '0' && !is_digit(name[1]) ? name[0] - '0' : 0;
  };
  const int from = unit(first), to = unit(last);
  if (from == 0 || to == 0 || first.substr(1) != last.substr(1)) return {};
  std::vector<std::string> names;
  for (int number = from;; number += to < from ? -1 : 1) {
    names.push_back(std::to_string(number).append(first.substr(1)));
    if (number == to) return names;
  }
}

/// Names from `first` to `last`, which is a whole name or only what differs; empty if that makes no range.
std::vector<std::string> expand(std::string_view first, std::string_view last) {
  const auto from = numbered(first);
  const auto to = numbered(last);
  if (!from || !to || from->letter != to->letter) return {};
  if (!to->prefix.empty() && to->prefix != from->prefix) return expand_units(first, last);
  if (from->letter && (from->number & 0x20) != (to->number & 0x20)) return {};  // one capital, one small
  std::vector<std::string> names;
  const int step = to->number < from->number ? -1 : 1;
  for (int number = from->number;; number += step) {
    names.push_back(name_of(*from, number));
    if (number == to->number) return names;
  }
}

/// One string of a wire.
struct End {
  enum class Kind : std::uint8_t { unknown, pin, range, rail, label };
  Kind kind = Kind::unknown;
  std::string text;
  std::vector<PinRef> pins;
  std::int32_t microvolts = 0;
};

class WireReader {
 public:
  WireReader(MachineSpec& spec, FaultList& faults) : spec_(spec), faults_(faults), first_(spec.wires.size()) {
    chips_.emplace("CPU", -1);
    for (std::size_t i = 0; i < spec.chips.size(); ++i) chips_.emplace(spec.chips[i].name, static_cast<int>(i));
    for (const auto& [name, chip] : chips_) names_.push_back(name);
  }

  void read(const JsonValue& wire) {
    if (!check_kind(wire, JsonKind::array, "a wire", "a list of its ends, such as [\"PIA.PA0\", \"ADC.DB0\"]",
                    faults_)) {
      return;
    }
    const std::vector<JsonValue> values = wire.children();
    if (values.size() < 2) {
      faults_.add("wire-ends", wire.place(), "a wire needs two ends or more", "two pins, rails or labels",
                  values.empty() ? "none" : values[0].shown(), "name what the wire joins, or remove it");
    }
    std::vector<std::pair<JsonValue, End>> ends;
    for (const JsonValue& value : values) {
      if (faults_.full()) return;
      if (!check_kind(value, JsonKind::string, "an end of a wire", "a string such as \"PIA.PA0\"", faults_)) continue;
      End end = read_end(value);
      if (end.kind != End::Kind::unknown) ends.emplace_back(value, std::move(end));
    }
    if (std::optional<std::size_t> width = common_width(ends)) connect(wire, ends, *width);
  }

  /// The pins of an end that is a pin or a range; any other end is a fault.
  std::vector<PinRef> read_pins_of(const JsonValue& value) {
    End end = read_end(value);
    if (end.kind == End::Kind::rail || end.kind == End::Kind::label) {
      faults_.add("bad-wire-end", value.place(), fmt::format("{} is no pin", in_quotes(end.text)),
                  "a pin \"PIA.PA0\", or a range \"PIA.PA0..PA7\"", in_quotes(end.text), "name the chip and the pin");
    }
    return std::move(end.pins);
  }

  /// What only shows when all wires are known: shorts by way of other wires.
  void check_nets() {
    const Nets nets(spec_);
    const auto entry = [&](const NetConflict& conflict) {
      return entries_[std::max<std::size_t>(static_cast<std::size_t>(conflict.wire), first_) - first_];
    };
    for (const NetConflict& conflict : nets.rail_conflicts()) {
      faults_.add("two-rails", entry(conflict).place(),
                  fmt::format("with this wire the rails {} and {} are joined", conflict.first, conflict.second),
                  "one rail on a net", fmt::format("{} and {}", conflict.first, conflict.second),
                  "this shorts the supply: follow the pins of this wire through the other wires");
    }
    for (const NetConflict& conflict : nets.label_conflicts()) {
      faults_.add("label-clash", entry(conflict).place(),
                  fmt::format("with this wire the net has two labels, {} and {}", conflict.first, conflict.second),
                  "one label for a net", fmt::format("{} and {}", conflict.first, conflict.second), "keep one of them");
    }
  }

 private:
  End read_end(const JsonValue& value) {
    const std::string& text = value.text();
    if (looks_like_rail(text)) return read_rail(value);
    const std::size_t dot = text.find('.');
    if (dot != std::string::npos && is_chip_name(text.substr(0, dot))) return read_pins(value, dot);
    if (text.empty() || !is_word(text) || is_digit(text[0]) || text[0] == '-') {
      faults_.add("bad-wire-end", value.place(), fmt::format("{} is no end of a wire", in_quotes(text)),
                  "a pin \"PIA.PA0\", a range \"PIA.PA0..PA7\", a rail \"+5V\" or \"GND\", or a label", in_quotes(text),
                  "a label is made of letters, digits, '_' and '-'");
      return {};
    }
    if (chips_.contains(text)) {
      faults_.add("label-clash", value.place(), fmt::format("{} is a chip, so it cannot be the label of a net", text),
                  fmt::format("a pin of {}, or a label that no chip has", text), in_quotes(text),
                  fmt::format("write \"{}.\" and the pin", text));
      return {};
    }
    return {End::Kind::label, text, {}, 0};
  }

  /// The rail that is meant by the name of a supply on a schematic, in capitals or not; else empty.
  static std::string_view supply(std::string_view text) {
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 5> kNames = {
        {{"GND", "GND"}, {"VCC", "+5V"}, {"VDD", "+5V"}, {"VSS", "GND"}, {"VEE", "-12V"}}};
    for (const auto& [name, rail] : kNames) {
      const auto same = [](char a, char b) { return (a & ~0x20) == b; };
      if (std::equal(text.begin(), text.end(), name.begin(), name.end(), same)) return rail;
    }
    return "";
  }

  static bool looks_like_rail(std::string_view text) {
    return !text.empty() && (text[0] == '+' || text[0] == '-' || is_digit(text[0]) || !supply(text).empty());
  }

  End read_rail(const JsonValue& value) {
    const std::string& text = value.text();
    if (text == "GND") return {End::Kind::rail, text, {}, 0};
    const Quantity volts = read_quantity(text, Unit::microvolts);
    const bool is_signed = text[0] == '+' || text[0] == '-';
    if (volts.trouble != QuantityTrouble::none || (volts.value != 0 && !is_signed)) {
      std::string hint = "write the voltage with its sign and its unit";
      if (volts.trouble == QuantityTrouble::none) hint = fmt::format("write \"+{}\"", text);
      if (!supply(text).empty()) hint = fmt::format("did you mean \"{}\"?", supply(text));
      faults_.add("bad-rail", value.place(), fmt::format("{} is no rail", in_quotes(text)),
                  "\"GND\", or a voltage with its sign such as \"+5V\" or \"-12V\"", in_quotes(text), std::move(hint));
      return {};
    }
    if (volts.value < -kHighestRail || volts.value > kHighestRail) {
      faults_.add("out-of-range", value.place(), fmt::format("the rail {} is out of range", in_quotes(text)),
                  "-30 V to 30 V", in_quotes(text), "boards with plug-in wires work with low voltages only");
      return {};
    }
    return {End::Kind::rail, text, {}, static_cast<std::int32_t>(volts.value)};
  }

  End read_pins(const JsonValue& value, std::size_t dot) {
    const std::string& text = value.text();
    const std::string chip_name = text.substr(0, dot);
    const std::string pin_text = text.substr(dot + 1);
    const auto chip = chips_.find(chip_name);
    if (chip == chips_.end()) {
      faults_.add("unknown-chip", value.place(), fmt::format("there is no chip {}", in_quotes(chip_name)),
                  "a name from \"chips\", or CPU", in_quotes(text),
                  meant(chip_name, names_, "add the chip, or correct the name"));
      return {};
    }
    const ChipType* type = type_of(chip->second);
    if (type == nullptr) return {};

    const std::size_t dots = pin_text.find("..");
    const bool range = dots != std::string::npos;
    std::vector<std::string> names{pin_text};
    if (range) {
      names = expand(std::string_view(pin_text).substr(0, dots), std::string_view(pin_text).substr(dots + 2));
      if (names.empty()) {
        faults_.add("bad-pin-range", value.place(), fmt::format("{} is no range of pins", in_quotes(text)),
                    "a range such as \"PIA.PA0..PA7\" or \"PIA.PA0..7\"", in_quotes(text),
                    "both ends differ in their number, or in their last letter");
        return {};
      }
    }
    End end{range ? End::Kind::range : End::Kind::pin, text, {}, 0};
    for (const std::string& name : names) {
      const int pin = type->pin(name);
      if (pin < 0) {
        add_unknown_pin(value, chip->first, chip->second, name);
        return {};
      }
      end.pins.push_back({chip->second, pin});
    }
    for (PinRef pin : end.pins) {
      if (!on_bus(pin)) continue;
      faults_.add("bus-pin", value.place(),
                  fmt::format("{} is on the system bus and cannot be wired", spec_.pin_name(pin)),
                  "a pin that is not part of the bus", in_quotes(text), bus_hint(pin.chip));
      return {};
    }
    return end;
  }

  const ChipType* type_of(int chip) const {
    if (chip >= 0) return spec_.chips[chip].type;
    return spec_.cpu == nullptr ? nullptr : &spec_.cpu->chip;
  }

  /// The system bus has the pin already.
  bool on_bus(PinRef pin) const {
    return pin.chip >= 0 && spec_.pins_of(pin.chip)[pin.pin].implied == Implied::bus && spec_.chips[pin.chip].at;
  }

  /// A way out that does not lead to the next message.
  std::string bus_hint(int chip) const {
    if (type_of(chip)->bus->required) {
      return "leave the wire out: \"at\" has joined the pin to the bus; or remove \"at\", and wire all its bus pins";
    }
    return "leave the wire out: \"at\" has joined the pin to the bus. To drive the chip from a port, or to wire its "
           "selects yourself, remove \"at\" and wire all these pins";
  }

  /// Two pins with the wrong sign between them.
  std::string range_meant(int chip, const std::string& name) const {
    for (const char sign : {'-', ':', '~', '.', '/'}) {
      const std::size_t at = name.find(sign);
      if (at == std::string::npos || at + 1 >= name.size()) continue;
      const std::string first = name.substr(0, at), last = name.substr(name.find_first_not_of(sign, at));
      const std::vector<std::string> pins = expand(first, last);
      const auto known = [&](const std::string& pin) { return type_of(chip)->pin(pin) >= 0; };
      if (pins.size() < 2 || !std::all_of(pins.begin(), pins.end(), known)) continue;
      return fmt::format("write a range with two dots: {}",
                         in_quotes(fmt::format("{}.{}..{}", spec_.name_of(chip), pins.front(), pins.back())));
    }
    return "";
  }

  void add_unknown_pin(const JsonValue& value, const std::string& chip_name, int chip, const std::string& name) {
    const std::string range = range_meant(chip, name);
    std::vector<std::string> pins;
    for (std::size_t i = 0; i < spec_.pins_of(chip).size(); ++i) {
      if (!on_bus({chip, static_cast<int>(i)})) pins.emplace_back(spec_.pins_of(chip)[i].name);
    }
    faults_.add("unknown-pin", value.place(), fmt::format("{} has no pin {}", chip_name, in_quotes(name)),
                fmt::format("a pin of {}: {}", type_of(chip)->name, pin_list(pins)), in_quotes(value.text()),
                range.empty()
                    ? meant(name, pins, "compare with the data sheet; active-low pins are written without a bar")
                    : range);
  }

  /// How many nets the ends make, 1 without ranges; empty if they do not fit together.
  std::optional<std::size_t> common_width(const std::vector<std::pair<JsonValue, End>>& ends) {
    const End* first = nullptr;
    for (const auto& [value, end] : ends) {
      if (end.kind == End::Kind::range && first == nullptr) first = &end;
    }
    if (first == nullptr) return 1;
    const std::size_t width = first->pins.size();
    bool fits = true;
    for (const auto& [value, end] : ends) {
      if (end.kind == End::Kind::rail || (end.kind == End::Kind::range && end.pins.size() == width)) continue;
      std::string found = end.kind == End::Kind::label ? "a label" : counted(end.pins.size(), "pin");
      faults_.add("range-width", value.place(),
                  fmt::format("{} does not fit {}", in_quotes(end.text), in_quotes(first->text)),
                  fmt::format("a range of {}, or a rail", counted(width, "pin")), std::move(found),
                  "a wire with a range joins pin to pin; wire single pins on their own");
      fits = false;
    }
    if (!fits) return std::nullopt;
    return width;
  }

  void connect(const JsonValue& wire, const std::vector<std::pair<JsonValue, End>>& ends, std::size_t width) {
    for (std::size_t line = 0; line < width; ++line) {
      WireSpec net;
      std::set<std::pair<int, int>> seen;
      net.pointer = wire.pointer();
      for (const auto& [value, end] : ends) {
        if (end.kind == End::Kind::rail) {
          tie(net, value, end, line == 0);
        } else if (end.kind == End::Kind::label) {
          name(net, value, end);
        } else {
          const PinRef pin = end.pins[line];
          if (seen.emplace(pin.chip, pin.pin).second) {
            net.pins.push_back(pin);
          } else {
            add_repeated(value);
          }
        }
      }
      spec_.wires.push_back(std::move(net));
      entries_.push_back(wire);
    }
  }

  void tie(WireSpec& net, const JsonValue& value, const End& end, bool report) {
    if (net.rail_microvolts && *net.rail_microvolts != end.microvolts) {
      if (report) {
        faults_.add("two-rails", value.place(), fmt::format("the wire joins the rails {} and {}", net.rail, end.text),
                    "one rail on a wire", in_quotes(end.text), "this shorts the supply: wire the rails apart");
      }
      return;
    }
    if (net.rail_microvolts && report) add_repeated(value);
    net.rail_microvolts = end.microvolts;
    net.rail = end.text;
  }

  void name(WireSpec& net, const JsonValue& value, const End& end) {
    if (!net.label.empty() && net.label != end.text) {
      faults_.add("label-clash", value.place(), fmt::format("the net has two labels, {} and {}", net.label, end.text),
                  "one label for a net", in_quotes(end.text), "keep one of them");
      return;
    }
    if (!net.label.empty()) add_repeated(value);
    net.label = end.text;
  }

  void add_repeated(const JsonValue& value) {
    if (std::exchange(repeated_, value.pointer()) == value.pointer()) return;  // said for another line of the range
    faults_.add("repeated-end", Weight::warn, value.place(), "the wire names the same end twice", "each end once",
                value.shown(), "a slip of the pen? name the end that was meant");
  }

  MachineSpec& spec_;
  FaultList& faults_;
  const std::size_t first_;         // wires that were there before
  std::vector<JsonValue> entries_;  // where each of the others comes from
  std::map<std::string, int, std::less<>> chips_;
  std::vector<std::string> names_;
  std::string repeated_;
};

}  // namespace

bool is_chip_name(std::string_view text) { return !text.empty() && is_letter(text[0]) && is_word(text); }

std::string pin_list(const std::vector<std::string>& names) {
  std::string list;
  for (std::size_t i = 0; i < names.size();) {
    // The longest run of names that count up, written as a range.
    std::size_t end = i + 1;
    const auto first = numbered(names[i]);
    while (first && !first->letter && end < names.size() &&
           names[end] == name_of(*first, first->number + static_cast<int>(end - i))) {
      ++end;
    }
    if (!list.empty()) list += ", ";
    list += names[i];
    if (end - i > 2) {
      list += ".." + names[end - 1];
      i = end;
    } else {
      ++i;
    }
  }
  return list;
}

std::string wire_end_pattern() {
  return fmt::format("^([A-Za-z][A-Za-z0-9_-]*[.].+|GND|{}|[A-Za-z_][A-Za-z0-9_-]*)$",
                     quantity_pattern(Unit::microvolts));
}

void read_wires(const JsonValue& wires, MachineSpec& spec, FaultList& faults) {
  if (!check_kind(wires, JsonKind::array, in_quotes(wires.key()), "a list of wires", faults)) return;
  WireReader reader(spec, faults);
  for (const JsonValue& wire : wires.children()) reader.read(wire);
  if (!wires.children().empty()) reader.check_nets();
}

std::vector<PinRef> read_pins(const JsonValue& end, MachineSpec& spec, FaultList& faults) {
  if (!check_kind(end, JsonKind::string, "a pin", "a string such as \"ADC.INTR\"", faults)) return {};
  return WireReader(spec, faults).read_pins_of(end);
}

}  // namespace prewire
