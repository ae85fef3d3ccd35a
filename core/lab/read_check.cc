// Reads check files: every fault in one go. docs/lab-checks.md specifies the format.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <set>
#include <utility>

#include "asm/confined.h"
#include "description/text_file.h"
#include "description/values.h"
#include "lab/plan.h"
#include "prewire/text.h"
#include "units/quantity.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr const char* kCheckFile = "a check file";
constexpr const char* kSpanExample = "a count of cycles such as 8, or a time such as \"10 us\"";
constexpr const char* kNumberExample = "a number such as 125 or \"$7D\"";
constexpr std::int64_t kMostSteps = 10'000;
constexpr std::int64_t kMostLevel = 1'000'000'000;  // 1 kV, or a thousand turns

using Kind = ExpectationPlan::Kind;

class CheckReader {
 public:
  CheckReader(std::shared_ptr<const JsonText> text, std::string name, std::vector<Fault>& faults)
      : text_(std::move(text)), name_(std::move(name)), faults_(faults) {}

  std::vector<LabCheck> read(const JsonValue& top) {
    std::vector<LabCheck> checks;
    const std::string example = "an object with \"machine\" and \"checks\"";
    if (!check_kind(top, JsonKind::object, kCheckFile, example, faults_)) return checks;
    check_keys(top, kCheckFile, {"machine", "checks", "about", "tags", "limits", "rules", "partner", "$schema"},
               faults_);
    LabCheck::Plan common;
    common.text = text_;
    common.file = name_;
    const std::vector<JsonValue> machines = read_machines(top);
    if (const auto tags = top.find("tags")) read_tags(*tags, common);
    if (const auto limits = top.find("limits")) read_limits(*limits, common.limits);
    read_judging(top, common);
    const auto list = need(top, "checks", "the file", "a list of checks", faults_);
    if (!list || !check_kind(*list, JsonKind::array, "\"checks\"", "a list of checks", faults_)) return checks;
    if (list->children().empty()) {
      faults_.add("check-empty", list->place(), "the file has no checks", "one check or more", "an empty list", "");
    }
    for (const JsonValue& value : list->children()) {
      if (faults_.full()) break;
      LabCheck::Plan plan = common;
      read_check(value, plan);
      for (const JsonValue& machine : machines) {
        auto one = std::make_shared<LabCheck::Plan>(plan);
        one->machine = machine.text();
        one->machine_place = machine.place();
        if (machines.size() > 1) one->name += fmt::format(" [{}]", machine.text());
        if (!names_.insert(one->name).second) {
          faults_.add("check-name", plan.place, fmt::format("two checks have the name {}", in_quotes(one->name)),
                      "another name for each", in_quotes(one->name), "a name tells checks apart: change one of them");
        }
        checks.emplace_back(std::move(one));
      }
    }
    return checks;
  }

 private:
  std::vector<JsonValue> read_machines(const JsonValue& top) {
    const std::string example = "the name of a machine file, or a list of such names";
    std::vector<JsonValue> machines;
    const auto value = need(top, "machine", "the file", example, faults_);
    if (!value) return machines;
    if (!value->is(JsonKind::array)) {
      if (check_kind(*value, JsonKind::string, "\"machine\"", example, faults_)) machines.push_back(*value);
      return machines;
    }
    for (const JsonValue& entry : value->children()) {
      if (check_kind(entry, JsonKind::string, "a machine", "the name of a machine file", faults_)) {
        machines.push_back(entry);
      }
    }
    if (value->children().empty()) {
      faults_.add("check-empty", value->place(), "the file has no machine", example, "an empty list", "");
    }
    return machines;
  }

  void read_tags(const JsonValue& value, LabCheck::Plan& plan) {
    const std::string example = "a list of words";
    if (!check_kind(value, JsonKind::array, "\"tags\"", example, faults_)) return;
    for (const JsonValue& tag : value.children()) {
      if (!check_kind(tag, JsonKind::string, "a tag", "a word", faults_)) continue;
      const bool known = std::find(plan.tags.begin(), plan.tags.end(), tag.text()) != plan.tags.end();
      if (!known) plan.tags.push_back(tag.text());
    }
  }

  void read_limits(const JsonValue& value, CheckLimits& limits) {
    if (!check_kind(value, JsonKind::object, "\"limits\"", "an object such as {\"cycles\": 2000000}", faults_)) return;
    check_keys(value, "\"limits\"", {"cycles", "wall", "output"}, faults_);
    const ParameterSpec cycles{.name = "cycles", .minimum = 1, .maximum = 1'000'000'000'000'000, .help = {}};
    const ParameterSpec wall{.name = "wall",
                             .unit = Unit::picoseconds,
                             .minimum = 1'000'000'000,
                             .maximum = 3'600'000'000'000'000,
                             .help = {}};
    const ParameterSpec output{.name = "output", .minimum = 1, .maximum = std::int64_t{1} << 40, .help = {}};
    if (const auto given = value.find("cycles")) {
      if (const auto count = read_setting(*given, cycles, " of the limits", faults_)) limits.cycles = *count;
    }
    if (const auto given = value.find("wall")) {
      if (const auto span = read_setting(*given, wall, " of the limits", faults_)) limits.wall = *span;
    }
    if (const auto given = value.find("output")) {
      if (const auto bytes = read_setting(*given, output, " of the limits", faults_)) {
        limits.output = static_cast<std::uint64_t>(*bytes);
      }
    }
  }

  void read_judging(const JsonValue& owner, LabCheck::Plan& plan) {
    const auto partner = owner.find("partner");
    if (partner && check_kind(*partner, JsonKind::boolean, "\"partner\"", "true or false", faults_)) {
      plan.partner = partner->text() == "true";
    }
    const auto rules = owner.find("rules");
    if (!rules ||
        !check_kind(*rules, JsonKind::object, "\"rules\"", "an object such as {\"irq-storm\": \"stop\"}", faults_)) {
      return;
    }
    for (const JsonValue& rule : rules->children()) {
      const std::vector<std::string> words{"off", "hint", "warn", "stop"};
      constexpr std::optional<Weight> kWeights[] = {std::nullopt, Weight::hint, Weight::warn, Weight::stop};
      plan.rules.push_back({{rule.key(), rule.key_place()}, kWeights[choice(rule, words)]});
    }
  }

  void read_check(const JsonValue& value, LabCheck::Plan& plan) {
    plan.place = value.place();
    if (!check_kind(value, JsonKind::object, "a check", "an object with \"check\" and \"expect\"", faults_)) return;
    check_keys(value, "a check",
               {"check", "about", "tags", "limits", "rules", "partner", "for", "seed", "wiring", "stimuli", "expect"},
               faults_);
    if (const auto name = need(value, "check", "the check", "its name", faults_)) {
      if (check_kind(*name, JsonKind::string, "\"check\"", "a name", faults_)) {
        plan.name = name->text();
        plan.place = name->place();
        if (plan.name.empty() || plan.name != printable(plan.name)) {
          faults_.add("check-name", name->place(), "this cannot be the name of a check", "a text in one line",
                      name->shown(), "");
        }
      }
    }
    if (const auto tags = value.find("tags")) read_tags(*tags, plan);
    if (const auto limits = value.find("limits")) read_limits(*limits, plan.limits);
    read_judging(value, plan);
    plan.length = moment(value, "for");
    plan.seed = seed(value, "seed");
    if (const auto wiring = value.find("wiring")) read_wiring(*wiring, plan);
    if (const auto stimuli = value.find("stimuli")) {
      if (check_kind(*stimuli, JsonKind::array, "\"stimuli\"", "a list of what happens", faults_)) {
        for (const JsonValue& entry : stimuli->children()) read_stimulus(entry, plan);
      }
    }
    const auto expect = need(value, "expect", "the check", "a list of what is expected", faults_);
    if (!expect || !check_kind(*expect, JsonKind::array, "\"expect\"", "a list of what is expected", faults_)) return;
    for (const JsonValue& entry : expect->children()) read_expectation(entry, plan);
  }

  void read_wiring(const JsonValue& value, LabCheck::Plan& plan) {
    const std::string example = "an object such as {\"remove\": [\"ADC.INTR\"], \"short\": [[\"PIA.PA0\", \"GND\"]]}";
    if (!check_kind(value, JsonKind::object, "\"wiring\"", example, faults_)) return;
    check_keys(value, "\"wiring\"", {"remove", "short"}, faults_);
    plan.remove = value.find("remove");
    plan.shorts = value.find("short");
  }

  // Values ------------------------------------------------------------------------------------------------------------

  std::optional<Moment> moment(const JsonValue& object, std::string_view key) {
    const auto value = object.find(key);
    return value ? moment(*value) : std::nullopt;
  }

  std::optional<Moment> moment(const JsonValue& value) {
    const std::string subject = in_quotes(value.key());
    if (!check_kind(value, JsonKind::string, subject, kMomentExample, faults_)) return std::nullopt;
    const auto moment = parse_moment(value.text());
    if (!moment) {
      faults_.add("bad-moment", value.place(), fmt::format("{} is no time", subject), kMomentExample, value.shown(),
                  "time counts from power-on");
    }
    return moment;
  }

  std::optional<Moment> span(const JsonValue& value) {
    const std::string subject = in_quotes(value.key());
    if (value.is(JsonKind::number)) {
      const auto count = parse_quantity(value.text(), Unit::count);
      if (count && *count >= 0 && *count <= 1'000'000'000'000) return Moment{*count, true};
    } else if (value.is(JsonKind::string)) {
      if (const auto moment = parse_moment(value.text())) return moment;
    }
    faults_.add("bad-moment", value.place(), fmt::format("{} is no span of time", subject), kSpanExample, value.shown(),
                "");
    return std::nullopt;
  }

  std::optional<std::uint64_t> seed(const JsonValue& object, std::string_view key) {
    const auto value = object.find(key);
    if (!value) return std::nullopt;
    const auto number = read_setting(*value, seed_setting(), "", faults_);
    if (!number) return std::nullopt;
    return static_cast<std::uint64_t>(*number);
  }

  std::optional<std::int64_t> number(const JsonValue& value, std::int64_t most) {
    std::optional<std::int64_t> number;
    if (value.is(JsonKind::number)) number = parse_quantity(value.text(), Unit::count);
    if (value.is(JsonKind::string)) {
      if (const auto address = parse_address(value.text())) number = *address;
    }
    if (number && *number >= 0 && *number <= most) return number;
    faults_.add("bad-value", value.place(), fmt::format("{} is no such value", value.shown()), kNumberExample,
                value.shown(), fmt::format("0 to {}", most));
    return std::nullopt;
  }

  std::optional<Named> text(const JsonValue& value, const std::string& example) {
    if (!check_kind(value, JsonKind::string, in_quotes(value.key()), example, faults_)) return std::nullopt;
    return Named{value.text(), value.place()};
  }

  std::optional<Named> text(const JsonValue& object, std::string_view key, const std::string& subject,
                            const std::string& example) {
    const auto value = need(object, key, subject, example, faults_);
    return value ? text(*value, example) : std::nullopt;
  }

  // Stimuli -----------------------------------------------------------------------------------------------------------

  void read_stimulus(const JsonValue& entry, LabCheck::Plan& plan) {
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
    faults_.add("missing-key", entry.place(), "the stimulus does nothing",
                one_of({"set", "press", "ramp", "noise", "reset", "power_cycle"}), "none of these", "");
  }

  /// Something `span` after `at`: cycles and seconds can be added only when the machine is known.
  static TimedStimulus after(const Moment& at, const Moment& span, std::string part, std::string value, Place place) {
    return {{at, std::move(part), std::move(value), place, place}, span};
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

  // Expectations ------------------------------------------------------------------------------------------------------

  void read_expectation(const JsonValue& entry, LabCheck::Plan& plan) {
    if (faults_.full()) return;
    const std::string example = R"(an object such as {"at": "100 ms", "display": "LEVEL", "shows": "125"})";
    if (!check_kind(entry, JsonKind::object, "an expectation", example, faults_)) return;
    ExpectationPlan expectation;
    expectation.place = entry.place();
    const std::size_t before = faults_.count();
    if (const auto never = entry.find("never")) {
      check_keys(entry, "an expectation with \"never\"", {"never", "from", "to", "about"}, faults_);
      expectation.never = true;
      expectation.from = moment(entry, "from");
      expectation.to = moment(entry, "to");
      if (!check_kind(*never, JsonKind::object, "\"never\"", R"(an object such as {"led": "FULL", "is": "on"})",
                      faults_)) {
        return;
      }
      read_subject(*never, expectation, {});
      if (!expectation.is_state()) {
        faults_.add("check-when", never->key_place(), "\"never\" takes something that is or is not",
                    one_of({"display", "led", "net", "memory", "register", "stack", "reached"}), "a measurement", "");
      }
    } else {
      read_subject(entry, expectation, {"at", "from", "to", "within", "held", "about"});
      read_when(entry, expectation);
    }
    if (faults_.count() == before) plan.expectations.push_back(std::move(expectation));
  }

  /// `keys` may stand beside those of the subject.
  void read_subject(const JsonValue& entry, ExpectationPlan& plan, std::vector<std::string> keys) {
    const auto take = [&](std::vector<std::string> more) {
      more.insert(more.end(), keys.begin(), keys.end());
      check_keys(entry, "this expectation", more, faults_);
    };
    const auto name = [&](const JsonValue& value, Kind kind, const std::string& example) {
      plan.kind = kind;
      if (const auto named = text(value, example)) plan.subject = *named;
    };
    if (const auto group = entry.find("display")) {
      take({"display", "shows"});
      name(*group, Kind::display, "the name of a group of digits");
      if (const auto shows = text(entry, "shows", "the expectation", "what stands on the digits")) {
        plan.shows = trim(shows->text);
      }
    } else if (const auto led = entry.find("led")) {
      take({"led", "is"});
      name(*led, Kind::led, "the name of an LED");
      plan.on = word(entry, "is", {"on", "off"}) == 0;
    } else if (const auto net = entry.find("net")) {
      read_net(entry, *net, plan, take);
    } else if (const auto memory = entry.find("memory")) {
      take({"memory", "is", "min", "max"});
      name(*memory, Kind::memory, "an address or a label");
      const auto is = entry.find("is");
      if (is && is->is(JsonKind::array)) {
        for (const JsonValue& byte : is->children()) {
          plan.bytes.push_back(static_cast<std::uint8_t>(number(byte, 0xFF).value_or(0)));
        }
        if (plan.bytes.empty() || plan.bytes.size() > 256) {
          faults_.add("bad-value", is->place(), "\"is\" has no such length", "1 to 256 bytes",
                      std::to_string(plan.bytes.size()), "");
        }
      } else {
        read_bounds(entry, plan, 0xFF, true);
      }
    } else if (const auto reg = entry.find("register")) {
      take({"register", "is", "min", "max"});
      name(*reg, Kind::reg, "a register such as \"A\"");
      read_bounds(entry, plan, 0xFFFF, true);
    } else if (const auto stack = entry.find("stack")) {
      take({"stack", "empty", "is", "min", "max"});
      name(*stack, Kind::stack, "a stack pointer such as \"S\"");
      if (const auto empty = text(entry, "empty", "the expectation", "what it holds when nothing is on the stack")) {
        plan.other = *empty;
      }
      read_bounds(entry, plan, 0xFFFF, true);
    } else if (const auto reached = entry.find("reached")) {
      take({"reached", "is", "min", "max"});
      name(*reached, Kind::reached, "an address or a label");
      read_bounds(entry, plan, 1'000'000'000, false);
      if (!plan.bounds.least && !plan.bounds.most) plan.bounds.least = 1;
    } else if (const auto cycles = entry.find("cycles")) {
      take({"cycles", "is", "min", "max"});
      read_pair(*cycles, Kind::cycles, "two places in the program such as [\"start\", \"measure\"]", plan);
      read_spans(entry, plan);
    } else if (const auto latency = entry.find("latency")) {
      take({"latency", "edge", "is", "min", "max"});
      read_pair(*latency, Kind::latency, "a net and a place in the program such as [\"CPU.IRQ\", \"handler\"]", plan);
      if (entry.find("edge")) plan.on = word(entry, "edge", {"rise", "fall"}) == 0;
      read_spans(entry, plan);
    } else if (const auto finding = entry.find("finding")) {
      take({"finding", "occurs"});
      name(*finding, Kind::finding, "a rule such as \"floating-input\"");
      const auto occurs = need(entry, "occurs", "the expectation", "true or false", faults_);
      if (occurs && check_kind(*occurs, JsonKind::boolean, "\"occurs\"", "true or false", faults_)) {
        plan.on = occurs->text() == "true";
      }
    } else if (entry.find("ends")) {
      take({"ends"});
      plan.kind = Kind::ends;
      word(entry, "ends", {"undefined opcode"});
    } else {
      faults_.add("missing-key", entry.place(), "the expectation looks at nothing",
                  one_of({"display", "led", "net", "memory", "register", "stack", "reached", "cycles", "latency",
                          "finding", "ends", "never"}),
                  "none of these", "");
    }
  }

  template <class Take>
  void read_net(const JsonValue& entry, const JsonValue& net, ExpectationPlan& plan, const Take& take) {
    plan.kind = Kind::net;
    if (const auto named = text(net, "a pin or a label")) plan.subject = *named;
    if (const auto frequency = entry.find("frequency")) {
      take({"net", "frequency"});
      plan.kind = Kind::frequency;
      read_range(
          *frequency, plan,
          {.name = "frequency", .unit = Unit::millihertz, .minimum = 0, .maximum = 100'000'000'000'000, .help = {}});
    } else if (const auto duty = entry.find("duty")) {
      take({"net", "duty"});
      plan.kind = Kind::duty;
      read_range(*duty, plan,
                 {.name = "duty", .unit = Unit::millionths, .minimum = 0, .maximum = 1'000'000, .help = {}});
    } else if (entry.find("pulse")) {
      take({"net", "pulse", "is", "min", "max"});
      plan.kind = Kind::pulse;
      plan.level = word(entry, "pulse", {"low", "high"}) == 1 ? Level::high : Level::low;
      read_spans(entry, plan);
    } else {
      take({"net", "is"});
      constexpr Level kLevels[] = {Level::low, Level::high, Level::floating, Level::unknown};
      plan.level = kLevels[word(entry, "is", {"low", "high", "floating", "unknown"})];
    }
  }

  /// The index of a word in a list; 0 after a fault.
  std::size_t word(const JsonValue& entry, std::string_view key, const std::vector<std::string>& words) {
    const auto value = need(entry, key, "the expectation", one_of(words), faults_);
    return value ? choice(*value, words) : 0;
  }

  std::size_t choice(const JsonValue& value, const std::vector<std::string>& words) {
    return read_choice(value, words, in_quotes(value.key()), faults_).value_or(0);
  }

  void read_bounds(const JsonValue& entry, ExpectationPlan& plan, std::int64_t most, bool needed) {
    if (const auto is = entry.find("is")) plan.bounds.least = plan.bounds.most = number(*is, most);
    if (const auto min = entry.find("min")) plan.bounds.least = number(*min, most);
    if (const auto max = entry.find("max")) plan.bounds.most = number(*max, most);
    judge_bounds(entry, needed, plan.bounds.least && plan.bounds.most && *plan.bounds.least > *plan.bounds.most);
  }

  void read_spans(const JsonValue& entry, ExpectationPlan& plan) {
    if (const auto is = entry.find("is")) plan.spans.least = plan.spans.most = span(*is);
    if (const auto min = entry.find("min")) plan.spans.least = span(*min);
    if (const auto max = entry.find("max")) plan.spans.most = span(*max);
    const auto& [least, most] = plan.spans;
    judge_bounds(entry, true, least && most && least->in_cycles == most->in_cycles && least->count > most->count);
  }

  void judge_bounds(const JsonValue& entry, bool needed, bool crossed) {
    const bool is = entry.find("is").has_value();
    const bool range = entry.find("min") || entry.find("max");
    if (needed && !is && !range) {
      faults_.add("bad-bounds", entry.place(), "the expectation compares with nothing", one_of({"is", "min", "max"}),
                  "none of these", "");
    }
    if (is && range) {
      faults_.add("bad-bounds", entry.place(), "\"is\" stands beside \"min\" or \"max\"", "one or the other", "both",
                  "");
    }
    if (crossed) {
      faults_.add("bad-bounds", entry.place(), "\"min\" is larger than \"max\"", "\"min\" up to \"max\"", "the reverse",
                  "are they swapped?");
    }
  }

  /// {"min": …, "max": …} in a unit.
  void read_range(const JsonValue& value, ExpectationPlan& plan, const ParameterSpec& unit) {
    const std::string subject = in_quotes(value.key());
    const std::string example =
        fmt::format("an object with \"min\", \"max\" or both, each {}", quantity_example(unit.unit));
    if (!check_kind(value, JsonKind::object, subject, example, faults_)) return;
    check_keys(value, subject, {"min", "max"}, faults_);
    const std::string owner = fmt::format(" of {}", subject);
    if (const auto min = value.find("min")) plan.bounds.least = read_setting(*min, unit, owner, faults_);
    if (const auto max = value.find("max")) plan.bounds.most = read_setting(*max, unit, owner, faults_);
    judge_bounds(value, true, plan.bounds.least && plan.bounds.most && *plan.bounds.least > *plan.bounds.most);
  }

  void read_pair(const JsonValue& value, Kind kind, const std::string& example, ExpectationPlan& plan) {
    plan.kind = kind;
    if (!check_kind(value, JsonKind::array, in_quotes(value.key()), example, faults_)) return;
    const std::vector<JsonValue> ends = value.children();
    if (ends.size() != 2) {
      faults_.add("wrong-type", value.place(), fmt::format("{} has the wrong length", in_quotes(value.key())), example,
                  std::to_string(ends.size()), "");
      return;
    }
    for (std::size_t i = 0; i < 2; ++i) {
      if (!check_kind(ends[i], JsonKind::string, "an end of " + in_quotes(value.key()), example, faults_)) continue;
      (i == 0 ? plan.subject : plan.other) = {ends[i].text(), ends[i].place()};
    }
  }

  // When --------------------------------------------------------------------------------------------------------------

  void read_when(const JsonValue& entry, ExpectationPlan& plan) {
    const auto at = entry.find("at");
    if (at && check_kind(*at, JsonKind::string, "\"at\"",
                         "a time, a count of cycles, or an address or label that the program reaches", faults_)) {
      plan.at = parse_moment(at->text());
      if (!plan.at) plan.at_place = {at->text(), at->place()};
    }
    plan.from = moment(entry, "from");
    plan.to = moment(entry, "to");
    plan.within = moment(entry, "within");
    plan.held = moment(entry, "held");
    const bool place = !plan.at_place.text.empty();
    std::vector<std::string> keys;
    if (plan.is_state() && plan.kind != Kind::reached) {
      const bool eye = plan.kind == Kind::display || plan.kind == Kind::led;
      if (place && eye) {
        faults_.add("check-when", at->place(), "what a person sees has a time, not a place in the program",
                    kMomentExample, at->shown(), "");
      }
      keys = plan.within ? std::vector<std::string>{"from", "within", "held"}
             : place     ? std::vector<std::string>{"at", "from", "to"}
                         : std::vector<std::string>{"at", "held"};
    } else if (plan.kind != Kind::finding && plan.kind != Kind::ends) {
      keys = {"from", "to"};
    }
    for (const char* key : {"at", "from", "to", "within", "held"}) {
      const auto value = entry.find(key);
      if (!value || std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
      faults_.add("check-when", value->key_place(), fmt::format("\"{}\" has no meaning there", key),
                  keys.empty() ? "no time: it counts for all of the check" : one_of(keys), fmt::format("\"{}\"", key),
                  "\"at\" with \"held\", \"within\" with \"from\" and \"held\", or \"from\" and \"to\"");
    }
  }

  std::shared_ptr<const JsonText> text_;
  std::string name_;
  FaultList faults_;
  std::set<std::string> names_;
  std::int64_t steps_ = 0;
};

}  // namespace

const std::string& LabCheck::name() const { return plan_->name; }
const std::vector<std::string>& LabCheck::tags() const { return plan_->tags; }
const std::string& LabCheck::machine() const { return plan_->machine; }
Place LabCheck::machine_place() const { return plan_->machine_place; }
const CheckLimits& LabCheck::limits() const { return plan_->limits; }
bool LabCheck::expects_nothing() const { return plan_->expectations.empty(); }

std::vector<LabCheck> read_checks(std::string_view json, const std::string& name) {
  const auto text = std::make_shared<const JsonText>(json, name, kCheckFile);
  std::vector<Fault> faults = text->faults();
  std::vector<LabCheck> checks;
  if (const auto root = text->root()) checks = CheckReader(text, name, faults).read(*root);
  if (!faults.empty()) throw InputError(std::move(faults));
  return checks;
}

std::vector<LabCheck> read_check_file(const std::filesystem::path& file) {
  return read_checks(read_text_file(file, "the check file"), file.string());
}

std::filesystem::path machine_file(const LabCheck& check, const std::filesystem::path& file,
                                   const std::filesystem::path& root) {
  const std::filesystem::path folder = file.parent_path().empty() ? "." : file.parent_path();
  // A name that stands for itself in messages.
  const std::filesystem::path path =
      file.parent_path().empty() ? std::filesystem::path(check.machine()) : folder / check.machine();
  Refusal refusal = refuse_path(path, root.empty() ? folder : root, "the check file");
  if (refusal.what.empty()) return path.lexically_normal();
  throw InputError(Fault{.id = "machine-place",
                         .weight = Weight::stop,
                         .place = check.machine_place(),
                         .what = std::move(refusal.what),
                         .expected = std::move(refusal.expected),
                         .found = in_quotes(check.machine()),
                         .hint = std::move(refusal.hint)});
}

}  // namespace prewire
