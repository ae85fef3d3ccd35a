// The stimuli of a check file: what happens to the parts of a machine.
#include <fmt/format.h>

#include <utility>

#include "description/values.h"
#include "lab/check_values.h"
#include "lab/moved_wire.h"
#include "lab/reading.h"
#include "units/quantity.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr std::int64_t kMostSteps = 10'000;
constexpr std::int64_t kMostLevel = 1'000'000'000;  // 1 kV, or a thousand turns

class StimulusReader : private CheckValues {
 public:
  StimulusReader(std::int64_t& steps, FaultList faults) : CheckValues(faults), steps_(steps) {}

  void read(const JsonValue& entry, LabCheck::Plan& plan) {
    if (faults_.full()) return;
    const std::string example = R"(an object such as {"at": "10 ms", "set": "FLOAT", "to": "2.5 V"})";
    if (!check_kind(entry, JsonKind::object, "a stimulus", example, faults_)) return;
    const Moment at = moment(entry, "at").value_or(Moment{});
    if (const auto part = entry.find("set")) return read_set(entry, *part, at, plan);
    if (const auto part = entry.find("press")) return read_press(entry, *part, at, plan);
    if (const auto part = entry.find("ramp")) return read_ramp(entry, *part, at, plan);
    if (const auto part = entry.find("noise")) return read_noise(entry, *part, at, plan);
    if (const auto held = entry.find("reset")) {
      check_keys(entry, "a reset", {"at", "reset", "about"}, faults_);
      const auto span = moment(*held);
      if (!span) return;
      plan.stimuli.push_back({{at, "RESET", "pressed", held->place(), held->place()}});
      plan.stimuli.push_back(after(at, *span, "RESET", "released", held->place()));
      return;
    }
    if (const auto on = entry.find("power_cycle")) {
      check_keys(entry, "a power cycle", {"at", "power_cycle", "seed", "about"}, faults_);
      if (!check_kind(*on, JsonKind::boolean, "\"power_cycle\"", "true", faults_)) return;
      if (on->text() == "true") plan.power_cycles.push_back({at, seed(entry, "seed"), on->place()});
      return;
    }
    if (const auto pins = entry.find("remove")) return read_remove(entry, *pins, at, plan);
    if (const auto wires = entry.find("short")) return read_short(entry, *wires, at, plan);
    faults_.add("missing-key", entry.place(), "the stimulus does nothing",
                one_of({"set", "press", "ramp", "noise", "reset", "power_cycle", "remove", "short"}), "none of these",
                "");
  }

 private:
  /// Something `span` after `at`: cycles and seconds can be added only when the machine is known.
  static TimedStimulus after(const Moment& at, const Moment& span, std::string part, std::string value, Place place) {
    return {{at, std::move(part), std::move(value), place, place}, span};
  }

  /// What the ends are called, in one text; a fault for one that is no string.
  std::optional<std::string> names_of(const std::vector<JsonValue>& ends, std::string_view last) {
    std::vector<std::string> names;
    for (const JsonValue& end : ends) {
      if (!check_kind(end, JsonKind::string, "an end of a wire", "a string such as \"PIA.PA0\"", faults_)) {
        return std::nullopt;
      }
      names.push_back(end.text());
    }
    return list_of(names, last);
  }

  void move_wires(const JsonValue& entry, WireMove move, LabCheck::Plan& plan) {
    move.held = moment(entry, "held");
    const Place place = move.ends.place();
    const char *first = move.remove ? kPulled : kPlugged, *then = move.remove ? kPlugged : kPulled;
    plan.stimuli.push_back({{move.at, move.part, first, place, place}});
    if (move.held) plan.stimuli.push_back(after(move.at, *move.held, move.part, then, place));
    plan.wire_moves.push_back(std::move(move));
  }

  void read_remove(const JsonValue& entry, const JsonValue& pins, const Moment& at, LabCheck::Plan& plan) {
    check_keys(entry, "a stimulus with \"remove\"", {"at", "remove", "held", "about"}, faults_);
    const std::string example = "a list of pins, such as [\"ADC.INTR\"]";
    if (!check_kind(pins, JsonKind::array, "\"remove\"", example, faults_)) return;
    const std::vector<JsonValue> ends = pins.children();
    if (ends.empty()) {
      faults_.add("bad-value", pins.place(), "\"remove\" names no pin", example, "an empty list", "");
      return;
    }
    const auto names = names_of(ends, "and");
    if (!names) return;
    move_wires(entry, {at, {}, true, pins, fmt::format("the wire at {}", *names)}, plan);
  }

  void read_short(const JsonValue& entry, const JsonValue& wires, const Moment& at, LabCheck::Plan& plan) {
    check_keys(entry, "a stimulus with \"short\"", {"at", "short", "held", "about"}, faults_);
    const std::string example = "a list of wires, such as [[\"PIA.PA0\", \"GND\"]]";
    if (!check_kind(wires, JsonKind::array, "\"short\"", example, faults_)) return;
    std::vector<std::string> names;
    for (const JsonValue& wire : wires.children()) {
      if (!check_kind(wire, JsonKind::array, "a wire", "a list of its ends, such as [\"PIA.PA0\", \"GND\"]", faults_)) {
        return;
      }
      const auto ends = names_of(wire.children(), "to");
      if (!ends) return;
      names.push_back(*ends);
    }
    if (names.empty()) {
      faults_.add("bad-value", wires.place(), "\"short\" names no wire", example, "an empty list", "");
      return;
    }
    move_wires(entry, {at, {}, false, wires, fmt::format("a wire from {}", list_of(names))}, plan);
  }

  void read_bounce(const JsonValue& entry, const Named& part, LabCheck::Plan& plan) {
    const auto value = entry.find("bounce");
    if (!value) return;
    const ParameterSpec bounce{
        .name = "bounce", .unit = Unit::picoseconds, .minimum = 0, .maximum = 10'000'000'000, .help = {}};
    const auto length = read_setting(*value, bounce, "", faults_);
    if (!length) return;
    for (const BouncePlan& other : plan.bounces) {
      if (other.part.text != part.text || other.length == *length) continue;
      faults_.add("check-bounce", value->place(), fmt::format("{} bounces in two ways", part.text),
                  "one \"bounce\" for a part in a check", value->shown(), "make two checks of it");
    }
    plan.bounces.push_back({part, *length});
  }

  void read_set(const JsonValue& entry, const JsonValue& value, const Moment& at, LabCheck::Plan& plan) {
    check_keys(entry, "a stimulus with \"set\"", {"at", "set", "to", "bounce", "about"}, faults_);
    const auto part = text(value, "the name of a part");
    const auto to = text(entry, "to", "the stimulus", "what a person does to the part, such as \"2.5 V\"");
    if (!part || !to) return;
    plan.stimuli.push_back({{at, part->text, to->text, part->place, to->place}});
    read_bounce(entry, *part, plan);
  }

  void read_press(const JsonValue& entry, const JsonValue& value, const Moment& at, LabCheck::Plan& plan) {
    check_keys(entry, "a stimulus with \"press\"", {"at", "press", "held", "bounce", "about"}, faults_);
    const auto part = text(value, "the name of a button");
    if (!part) return;
    plan.stimuli.push_back({{at, part->text, "pressed", part->place, part->place}});
    if (const auto held = moment(entry, "held")) {
      plan.stimuli.push_back(after(at, *held, part->text, "released", part->place));
    }
    read_bounce(entry, *part, plan);
  }

  /// A voltage or a part of the whole turn.
  std::optional<std::int64_t> level(const JsonValue& object, std::string_view key, std::optional<Unit>& unit) {
    const std::string example = "a voltage such as \"2.5 V\", or a position such as \"25 %\"";
    const auto value = need(object, key, "the stimulus", example, faults_);
    if (!value) return std::nullopt;
    for (const Unit candidate : {Unit::microvolts, Unit::millionths}) {
      const bool plain = candidate == Unit::millionths && value->is(JsonKind::number);
      if (!value->is(JsonKind::string) && !plain) continue;
      const auto number = parse_quantity(value->text(), candidate);
      if (!number || *number < -kMostLevel || *number > kMostLevel) continue;
      if (unit && *unit != candidate) {
        faults_.add("bad-value", value->place(), fmt::format("{} has another unit", in_quotes(key)),
                    "volts everywhere, or parts of the turn everywhere", value->shown(), "");
        return std::nullopt;
      }
      unit = candidate;
      return number;
    }
    faults_.add("bad-value", value->place(), fmt::format("{} cannot be read", in_quotes(key)), example, value->shown(),
                "");
    return std::nullopt;
  }

  std::int64_t steps(const JsonValue& entry) {
    const ParameterSpec setting{.name = "steps", .fallback = 1, .minimum = 1, .maximum = kMostSteps, .help = {}};
    const auto value = need(entry, "steps", "the stimulus", "how often the part is set", faults_);
    const std::int64_t count = value ? read_setting(*value, setting, "", faults_).value_or(1) : 1;
    steps_ += count;
    if (steps_ > 4 * kMostSteps) {
      faults_.add("out-of-range", entry.place(), "the file sets parts too often",
                  fmt::format("at most {} steps in all", 4 * kMostSteps), "more", "");
    }
    return count;
  }

  void read_ramp(const JsonValue& entry, const JsonValue& value, const Moment& at, LabCheck::Plan& plan) {
    check_keys(entry, "a ramp", {"at", "ramp", "from", "to", "over", "steps", "about"}, faults_);
    const auto part = text(value, "the name of a part");
    std::optional<Unit> unit;
    const auto from = level(entry, "from", unit);
    const auto to = level(entry, "to", unit);
    const auto over_value = need(entry, "over", "the ramp", kMomentExample, faults_);
    const auto over = over_value ? moment(*over_value) : std::nullopt;
    const std::int64_t count = steps(entry);
    if (!part || !from || !to || !over) return;
    plan.sweeps.push_back({at, *over, *part, *unit, *from, *to, count, false, 0});
  }

  void read_noise(const JsonValue& entry, const JsonValue& value, const Moment& at, LabCheck::Plan& plan) {
    check_keys(entry, "noise", {"at", "noise", "around", "by", "over", "steps", "seed", "about"}, faults_);
    const auto part = text(value, "the name of a part");
    std::optional<Unit> unit;
    const auto around = level(entry, "around", unit);
    const auto by = level(entry, "by", unit);
    const auto over_value = need(entry, "over", "the noise", kMomentExample, faults_);
    const auto over = over_value ? moment(*over_value) : std::nullopt;
    const std::int64_t count = steps(entry);
    const std::uint64_t number = seed(entry, "seed").value_or(1);
    if (!part || !around || !by || !over) return;
    const std::int64_t width = *by < 0 ? -*by : *by;
    plan.sweeps.push_back({at, *over, *part, *unit, *around - width, *around + width, count, true, number});
  }

  std::int64_t& steps_;
};

}  // namespace

void add_stimulus(const JsonValue& entry, LabCheck::Plan& plan, std::int64_t& steps, FaultList faults) {
  StimulusReader(steps, faults).read(entry, plan);
}

}  // namespace prewire
