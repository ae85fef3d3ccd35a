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
#include "description/ranges.h"
#include "units/quantity.h"
#include "units/text.h"

namespace prewire {

namespace {

// Enough for every board with plug-in wires, and safe to touch.
constexpr std::int32_t kHighestRail = 30'000'000;
// A range is short to write: what a hostile file makes of it has to stay small.
constexpr std::size_t kMostWires = 100'000;

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_word(std::string_view text) {
  return std::all_of(text.begin(), text.end(),
                     [](char c) { return is_letter(c) || is_digit(c) || c == '_' || c == '-'; });
}

/// One string of a wire.
struct End {
  enum class Kind : std::uint8_t { unknown, pin, range, rail, label };
  using Pins = std::vector<PinRef>;  // a pin of a package may be one of several parts
  Kind kind = Kind::unknown;
  std::string text{};
  std::vector<Pins> lines{};
  std::int32_t microvolts = 0;
};

/// What has pins: the processor, a chip or a package of several parts.
struct Owner {
  std::string name;
  const ChipType* type = nullptr;
  int chip = -1;
  const PackageSpec* package = nullptr;
  bool shortened = false;  ///< its name is longer, and begins with that of a board
};

class WireReader {
 public:
  /// Of `board`, if it is not null, else of the whole machine.
  WireReader(MachineSpec& spec, FaultList& faults, const BoardSpec* board = nullptr)
      : spec_(spec), faults_(faults), first_(spec.wires.size()), board_(board) {
    std::vector<Owner> shorter;
    const auto add = [&](Owner owner) {
      const std::size_t dot = owner.name.find('.');
      const bool own = board_ == nullptr ? dot == std::string::npos : owner.name.compare(0, dot, board_->name) == 0;
      if (board_ == nullptr) owners_.emplace(owner.name, owner);
      if (dot == std::string::npos) {
        if (board_ != nullptr && owner.name == "CPU") owners_.emplace(owner.name, owner);
        return;
      }
      if (board_ != nullptr && !own) return;
      owner.name.erase(0, dot + 1);
      owner.shortened = board_ == nullptr;
      shorter.push_back(owner);
    };
    add({"CPU", spec.cpu == nullptr ? nullptr : &spec.cpu->chip});
    for (std::size_t i = 0; i < spec.chips.size(); ++i) {
      add({spec.chips[i].name, spec.chips[i].type, static_cast<int>(i)});
    }
    for (const PackageSpec& package : spec.packages) add({package.name, package.type, -1, &package});
    // The name alone will do where no other chip has it.
    for (const Owner& owner : shorter) {
      const auto same = [&](const Owner& other) { return other.name == owner.name; };
      if (std::count_if(shorter.begin(), shorter.end(), same) == 1) owners_.emplace(owner.name, owner);
    }
    for (const auto& [name, owner] : owners_) names_.push_back(name);
  }

  void read(const JsonValue& wire) {
    if (full_) return;
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
    std::vector<PinRef> pins;
    for (const End::Pins& line : end.lines) pins.insert(pins.end(), line.begin(), line.end());
    return pins;
  }

  void read_connector(const JsonValue& value, BoardSpec& board) {
    std::vector<std::string> names{value.key()};
    if (const auto ends = range_ends(value.key())) names = expand_range(ends->first, ends->second);
    const bool fits = !names.empty() && std::all_of(names.begin(), names.end(), [](const std::string& name) {
      return !name.empty() && name.find('.') == std::string::npos;
    });
    if (!fits) {
      faults_.add("bad-connector", value.key_place(),
                  fmt::format("{} is no name of a connector", in_quotes(value.key())),
                  "a name such as \"PA0\", or a range \"PA0..PA7\"", in_quotes(value.key()), "leave dots out");
      return;
    }
    if (!check_kind(value, JsonKind::string, "a connector", "a pin, a range of pins, a rail or a label", faults_))
      return;
    const End end = read_end(value);
    if (end.kind == End::Kind::unknown) return;
    const bool pins = end.kind == End::Kind::pin || end.kind == End::Kind::range;
    if (pins ? end.lines.size() != names.size() : names.size() != 1) {
      faults_.add("range-width", value.place(),
                  fmt::format("{} does not fit {}", in_quotes(end.text), in_quotes(value.key())),
                  counted(names.size(), "pin"), pins ? counted(end.lines.size(), "pin") : in_quotes(end.text),
                  "a range of connectors leads to as many pins, first to first");
      return;
    }
    for (std::size_t i = 0; i < names.size(); ++i) {
      ConnectorSpec connector;
      if (pins) connector.pins = end.lines[i];
      if (end.kind == End::Kind::rail) {
        connector.rail_microvolts = end.microvolts;
        connector.name = end.text;
      } else if (!pins) {
        const auto labelled = [&](const WireSpec& wire) { return wire.label == end.text && !wire.pins.empty(); };
        const auto wire = std::find_if(spec_.wires.begin(), spec_.wires.end(), labelled);
        if (wire == spec_.wires.end()) {
          faults_.add("bad-connector", value.place(),
                      fmt::format("no wire of the board has the label {}", value.shown()),
                      "a pin, a range of pins, a rail or a label", value.shown(), "name a pin of the net");
          return;
        }
        connector.pins = {wire->pins.front()};
      }
      if (!board.connectors.emplace(names[i], std::move(connector)).second) {
        faults_.add("duplicate-chip", value.key_place(),
                    fmt::format("there are two connectors {}", in_quotes(names[i])), "each connector once",
                    in_quotes(value.key()), "rename or remove one of them");
      }
    }
  }

  /// What only shows when all wires are known: shorts by way of other wires.
  void check_nets() {
    const Nets nets(spec_);
    // Those of wires that were there before have been told.
    const auto mine = [&](const NetConflict& conflict) { return static_cast<std::size_t>(conflict.wire) >= first_; };
    const auto entry = [&](const NetConflict& conflict) {
      return entries_[static_cast<std::size_t>(conflict.wire) - first_];
    };
    for (const NetConflict& conflict : nets.rail_conflicts()) {
      if (!mine(conflict)) continue;
      faults_.add("two-rails", entry(conflict).place(),
                  fmt::format("with this wire the rails {} and {} are joined", conflict.first, conflict.second),
                  "one rail on a net", fmt::format("{} and {}", conflict.first, conflict.second),
                  "this shorts the supply: follow the pins of this wire through the other wires");
    }
    for (const NetConflict& conflict : nets.label_conflicts()) {
      if (!mine(conflict)) continue;
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
    if (dot != std::string::npos && board_ == nullptr) {
      for (const BoardSpec& board : spec_.boards) {
        if (text.compare(0, dot, board.name) == 0) return read_on_board(value, board, dot + 1);
      }
    }
    if (dot != std::string::npos && is_chip_name(text.substr(0, dot))) return read_pins(value, "", text);
    if (text.empty() || !is_word(text) || is_digit(text[0]) || text[0] == '-') {
      faults_.add("bad-wire-end", value.place(), fmt::format("{} is no end of a wire", in_quotes(text)),
                  "a pin \"PIA.PA0\", a range \"PIA.PA0..PA7\", a rail \"+5V\" or \"GND\", or a label", in_quotes(text),
                  "a label is made of letters, digits, '_' and '-'");
      return {};
    }
    const auto owner = owners_.find(text);
    const bool chip = owner != owners_.end() && !owner->second.shortened;
    const bool board = std::any_of(spec_.boards.begin(), spec_.boards.end(),
                                   [&](const BoardSpec& other) { return board_ == nullptr && other.name == text; });
    if (chip || board) {
      faults_.add("label-clash", value.place(),
                  fmt::format("{} is a {}, so it cannot be the label of a net", text, chip ? "chip" : "board"),
                  fmt::format("a pin of {}, or a label that no {} has", text, chip ? "chip" : "board"), in_quotes(text),
                  fmt::format("write \"{}.\" and the pin", text));
      return {};
    }
    // A label of a board is its own affair.
    return {End::Kind::label, board_ == nullptr ? text : fmt::format("{}.{}", board_->name, text), {}, 0};
  }

  /// Behind the name of a board: "PA0", "PA0..PA7", "PIA.PA0" or "R0..R7.1".
  End read_on_board(const JsonValue& value, const BoardSpec& board, std::size_t from) {
    if (board.text == nullptr) return {};  // nobody knows what is on it
    const std::string& text = value.text();
    const std::string rest = text.substr(from);
    const std::size_t dot = rest.find('.');
    const bool range = dot != std::string::npos && rest.compare(dot, 2, "..") == 0;
    if (range ? rest.find('.', dot + 2) != std::string::npos : dot != std::string::npos) {
      return read_pins(value, board.name + ".", rest);
    }
    std::vector<std::string> names{rest};
    if (range) names = expand_range(rest.substr(0, dot), rest.substr(dot + 2));
    if (names.empty()) {
      add_bad_range(value, false);
      return {};
    }
    End end{.kind = range ? End::Kind::range : End::Kind::pin, .text = text};
    for (const std::string& name : names) {
      const auto found = board.connectors.find(name);
      if (found == board.connectors.end()) {
        std::vector<std::string> known;
        for (const auto& [connector, leads] : board.connectors) known.push_back(connector);
        const bool chip = owners_.contains(fmt::format("{}.{}", board.name, name));
        faults_.add(
            "unknown-connector", value.place(), fmt::format("{} has no connector {}", board.name, in_quotes(name)),
            known.empty() ? fmt::format("a pin such as \"{}.PIA.PA0\"", board.name) : pin_list(known), in_quotes(text),
            chip ? fmt::format("{} is a chip on it: write {} and the pin", name,
                               in_quotes(fmt::format("{}.{}.", board.name, name)))
                 : meant(name, known, "connectors are in the file of the board"));
        return {};
      }
      const ConnectorSpec& connector = found->second;
      if (!connector.pins.empty()) {
        end.lines.push_back(connector.pins);
      } else if (range) {
        faults_.add("bad-pin-range", value.place(), fmt::format("{} is no pin", in_quotes(name)),
                    "connectors that are pins", in_quotes(text),
                    fmt::format("wire {}.{} on its own", board.name, name));
        return {};
      } else {
        return {End::Kind::rail, connector.name, {}, *connector.rail_microvolts};
      }
    }
    return end;
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

  /// `body` is the text of the end, without the `prefix` of a board.
  End read_pins(const JsonValue& value, const std::string& prefix, const std::string& body) {
    const std::string& text = value.text();
    std::size_t dot = body.find('.');
    // "R0..R7.1": the same pin of several chips.
    const bool chips = body.compare(dot, 2, "..") == 0;
    if (chips) dot = body.find('.', dot + 2);
    std::vector<std::string> names{body.substr(0, dot)};
    const std::string pin_text = dot == std::string::npos ? "" : body.substr(dot + 1);
    const auto ends = range_ends(pin_text);
    if (chips) {
      const auto [first, last] = *range_ends(names[0]);
      names = expand_range(first, last);
    }
    if (names.empty() || (chips && (pin_text.empty() || ends))) {
      add_bad_range(value, chips);
      return {};
    }
    End end{.kind = chips || ends ? End::Kind::range : End::Kind::pin, .text = text};
    for (const std::string& name : names) {
      const Owner* owner = find(value, prefix + name);
      if (owner == nullptr || owner->type == nullptr) return {};
      std::vector<std::string> pins{pin_text};
      if (ends) pins = expand_range(ends->first, ends->second);
      if (pins.empty()) {
        add_bad_range(value, chips);
        return {};
      }
      for (const std::string& pin : pins) {
        const int number = owner->type->pin(pin);
        if (number < 0) {
          add_unknown_pin(value, *owner, pin);
          return {};
        }
        end.lines.push_back(pins_of(*owner, number));
      }
    }
    for (const End::Pins& line : end.lines) {
      for (const PinRef pin : line) {
        if (!on_bus(pin)) continue;
        faults_.add("bus-pin", value.place(),
                    fmt::format("{} is on the system bus and cannot be wired", spec_.pin_name(pin)),
                    "a pin that is not part of the bus", in_quotes(text), bus_hint(pin.chip));
        return {};
      }
    }
    return end;
  }

  const Owner* find(const JsonValue& value, const std::string& name) {
    const auto owner = owners_.find(name);
    if (owner != owners_.end()) return &owner->second;
    const auto missing = [](const BoardSpec& board) { return board.text == nullptr; };
    if (std::any_of(spec_.boards.begin(), spec_.boards.end(), missing)) return nullptr;
    faults_.add("unknown-chip", value.place(), fmt::format("there is no chip {}", in_quotes(name)),
                "a name from \"chips\", or CPU", in_quotes(value.text()), chip_meant(value.text(), name));
    return nullptr;
  }

  std::string chip_meant(const std::string& text, const std::string& name) const {
    const std::vector<std::string> range = range_in_disguise(name);
    const auto known = [&](const std::string& chip) { return owners_.contains(chip); };
    if (!range.empty() && std::all_of(range.begin(), range.end(), known)) {
      const std::string pin = text.substr(std::min(text.size(), text.find(name) + name.size()));
      return fmt::format("write a range with two dots: {}",
                         in_quotes(fmt::format("{}..{}{}", range.front(), range.back(), pin)));
    }
    // Chips that were meant as a range, and are one of a strange name.
    for (const auto& [other, owner] : owners_) {
      const std::vector<std::string> meant_by = range_in_disguise(other);
      if (std::find(meant_by.begin(), meant_by.end(), name) == meant_by.end()) continue;
      return fmt::format("{} is one chip; for {} chips name it {}", in_quotes(other), meant_by.size(),
                         in_quotes(fmt::format("{}..{}", meant_by.front(), meant_by.back())));
    }
    return meant(name, names_, "add the chip, or correct the name");
  }

  void add_bad_range(const JsonValue& value, bool chips) {
    const std::string& text = value.text();
    std::string hint =
        chips ? "both chips differ in their number, without a 0 in front, or in their last letter, and one "
                "pin of each is joined"
              : "both ends differ in their number, or in their last letter";
    // "R0.1..R7.1": the pin stands once.
    const std::size_t dots = text.find(".."), dot = text.find('.');
    if (!chips && dot < dots && text.find('.', dots + 2) != std::string::npos) {
      const std::string pin = text.substr(dot + 1, dots - dot - 1);
      const std::string last = text.substr(dots + 2, text.find('.', dots + 2) - dots - 2);
      if (text.substr(text.find('.', dots + 2) + 1) == pin && !expand_range(text.substr(0, dot), last).empty()) {
        hint =
            fmt::format("name the pin once: {}", in_quotes(fmt::format("{}..{}.{}", text.substr(0, dot), last, pin)));
      }
    }
    faults_.add("bad-pin-range", value.place(), fmt::format("{} is no range of pins", in_quotes(text)),
                "a range such as \"PIA.PA0..PA7\", \"PIA.PA0..7\" or \"R0..R7.1\"", in_quotes(text), std::move(hint));
  }

  End::Pins pins_of(const Owner& owner, int pin) const {
    if (owner.package == nullptr) return {{owner.chip, pin}};
    End::Pins pins;
    for (std::size_t unit = 0; unit < owner.type->units.size(); ++unit) {
      const std::vector<int>& at = owner.type->units[unit].pins;
      for (std::size_t i = 0; i < at.size(); ++i) {
        if (at[i] == pin) pins.push_back({owner.package->first + static_cast<int>(unit), static_cast<int>(i)});
      }
    }
    return pins;
  }

  /// The system bus has the pin already.
  bool on_bus(PinRef pin) const {
    return pin.chip >= 0 && spec_.pins_of(pin.chip)[pin.pin].implied == Implied::bus && spec_.chips[pin.chip].at;
  }

  /// A way out that does not lead to the next message.
  std::string bus_hint(int chip) const {
    if (spec_.chips[static_cast<std::size_t>(chip)].type->bus->required) {
      return "leave the wire out: \"at\" has joined the pin to the bus; or remove \"at\", and wire all its bus pins";
    }
    return "leave the wire out: \"at\" has joined the pin to the bus. To drive the chip from a port, or to wire its "
           "selects yourself, remove \"at\" and wire all these pins";
  }

  void add_unknown_pin(const JsonValue& value, const Owner& owner, const std::string& name) {
    const auto known = [&](const std::string& pin) { return owner.type->pin(pin) >= 0; };
    const std::vector<std::string> range = range_in_disguise(name);
    std::vector<std::string> pins;
    for (std::size_t i = 0; i < owner.type->pins.size(); ++i) {
      const PinRef ref{owner.chip, static_cast<int>(i)};
      if (owner.package != nullptr || !on_bus(ref)) pins.emplace_back(owner.type->pins[i].name);
    }
    std::string hint;
    if (!range.empty() && std::all_of(range.begin(), range.end(), known)) {
      hint = fmt::format("write a range with two dots: {}",
                         in_quotes(fmt::format("{}.{}..{}", owner.name, range.front(), range.back())));
    } else {
      hint = meant(name, pins, "compare with the data sheet; active-low pins are written without a bar");
    }
    faults_.add("unknown-pin", value.place(), fmt::format("{} has no pin {}", owner.name, in_quotes(name)),
                fmt::format("a pin of {}: {}", owner.type->name, pin_list(pins)), in_quotes(value.text()),
                std::move(hint));
  }

  /// How many nets the ends make, 1 without ranges; empty if they do not fit together.
  std::optional<std::size_t> common_width(const std::vector<std::pair<JsonValue, End>>& ends) {
    const End* first = nullptr;
    for (const auto& [value, end] : ends) {
      if (end.kind == End::Kind::range && first == nullptr) first = &end;
    }
    if (first == nullptr) return 1;
    const std::size_t width = first->lines.size();
    bool fits = true;
    for (const auto& [value, end] : ends) {
      if (end.kind != End::Kind::range || end.lines.size() == width) continue;
      faults_.add("range-width", value.place(),
                  fmt::format("{} does not fit {}", in_quotes(end.text), in_quotes(first->text)),
                  fmt::format("a range of {}, or one pin, rail or label for all", counted(width, "pin")),
                  counted(end.lines.size(), "pin"), "a wire with ranges joins them pin by pin, first to first");
      fits = false;
    }
    if (!fits) return std::nullopt;
    return width;
  }

  void connect(const JsonValue& wire, const std::vector<std::pair<JsonValue, End>>& ends, std::size_t width) {
    if (spec_.wires.size() + width > kMostWires) {
      if (!std::exchange(full_, true)) {
        faults_.add("too-many-wires", wire.place(), "there are too many wires", fmt::format("at most {}", kMostWires),
                    "more, with those that ranges make", "");
      }
      return;
    }
    if (width > 1) check_joined(ends);
    for (std::size_t line = 0; line < width; ++line) {
      WireSpec net;
      std::set<std::pair<int, int>> seen;
      net.pointer = pointer_of(wire);
      for (const auto& [value, end] : ends) {
        if (end.kind == End::Kind::rail) {
          tie(net, value, end, line == 0);
        } else if (end.kind == End::Kind::label) {
          name(net, value, end);
        } else {
          for (const PinRef pin : end.lines[end.kind == End::Kind::range ? line : 0]) {
            if (seen.emplace(pin.chip, pin.pin).second) {
              net.pins.push_back(pin);
            } else {
              add_repeated(value);
            }
          }
        }
      }
      spec_.wires.push_back(std::move(net));
      entries_.push_back(wire);
    }
  }

  std::string pointer_of(const JsonValue& value) const {
    return board_ == nullptr ? value.pointer() : fmt::format("{}:{}", board_->name, value.pointer());
  }

  /// Outputs of a range that a single end makes one net: seldom meant.
  void check_joined(const std::vector<std::pair<JsonValue, End>>& ends) {
    for (const auto& [single, one] : ends) {
      if (one.kind != End::Kind::pin && one.kind != End::Kind::label) continue;
      for (const auto& [value, end] : ends) {
        if (end.kind != End::Kind::range) continue;
        const auto driving = std::count_if(end.lines.begin(), end.lines.end(), [&](const End::Pins& line) {
          const PinKind kind = spec_.pins_of(line.front().chip)[static_cast<std::size_t>(line.front().pin)].kind;
          return kind == PinKind::output || kind == PinKind::three_state;
        });
        if (driving < 2) continue;
        faults_.add("range-joined", Weight::warn, single.place(),
                    fmt::format("{} joins all pins of {} to one net, and {} of them can drive it", in_quotes(one.text),
                                in_quotes(end.text), driving),
                    fmt::format("a range of {}", counted(end.lines.size(), "pin")), in_quotes(one.text),
                    "name a range here too, to join pin to pin");
        return;
      }
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
  const BoardSpec* const board_;
  std::map<std::string, Owner, std::less<>> owners_;
  std::vector<std::string> names_;
  std::string repeated_;
  bool full_ = false;
};

}  // namespace

bool is_chip_name(std::string_view text) { return !text.empty() && is_letter(text[0]) && is_word(text); }

std::string wire_end_pattern() {
  return fmt::format("^([A-Za-z][A-Za-z0-9_-]*[.].+|GND|{}|[A-Za-z_][A-Za-z0-9_-]*)$",
                     quantity_pattern(Unit::microvolts));
}

namespace {

void read_all(const JsonValue& wires, WireReader reader, FaultList& faults) {
  if (!check_kind(wires, JsonKind::array, in_quotes(wires.key()), "a list of wires", faults)) return;
  for (const JsonValue& wire : wires.children()) reader.read(wire);
  if (!wires.children().empty()) reader.check_nets();
}

}  // namespace

void read_wires(const JsonValue& wires, MachineSpec& spec, FaultList& faults) {
  read_all(wires, WireReader(spec, faults), faults);
}

void read_board_wires(const JsonValue& wires, MachineSpec& spec, FaultList& faults) {
  read_all(wires, WireReader(spec, faults, &spec.boards.back()), faults);
}

void read_connectors(const JsonValue& connectors, MachineSpec& spec, FaultList& faults) {
  const std::string expected = "an object: the name of each connector, and where it leads";
  if (!check_kind(connectors, JsonKind::object, "\"connectors\"", expected, faults)) return;
  BoardSpec& board = spec.boards.back();
  WireReader reader(spec, faults, &board);
  for (const JsonValue& connector : connectors.children()) reader.read_connector(connector, board);
}

std::vector<PinRef> read_pins(const JsonValue& end, MachineSpec& spec, FaultList& faults) {
  if (!check_kind(end, JsonKind::string, "a pin", "a string such as \"ADC.INTR\"", faults)) return {};
  return WireReader(spec, faults).read_pins_of(end);
}

}  // namespace prewire
