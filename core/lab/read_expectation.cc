// The expectations of a check file.
#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "description/values.h"
#include "lab/check_values.h"
#include "lab/reading.h"
#include "units/text.h"

namespace prewire {

namespace {

class ExpectationReader : private CheckValues {
  using Kind = ExpectationPlan::Kind;

 public:
  explicit ExpectationReader(FaultList faults) : CheckValues(faults) {}

  void read(const JsonValue& entry, LabCheck::Plan& plan) {
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

 private:
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
};

}  // namespace

void add_expectation(const JsonValue& entry, LabCheck::Plan& plan, FaultList faults) {
  ExpectationReader(faults).read(entry, plan);
}

}  // namespace prewire
