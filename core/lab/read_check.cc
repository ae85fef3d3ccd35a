// Reads check files: every fault in one go. docs/lab-checks.md specifies the format.
#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <set>
#include <utility>

#include "asm/confined.h"
#include "description/text_file.h"
#include "description/values.h"
#include "lab/check_values.h"
#include "lab/judging.h"
#include "lab/plan.h"
#include "lab/reading.h"
#include "prewire/text.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr const char* kCheckFile = "a check file";

class CheckReader : private CheckValues {
 public:
  CheckReader(std::shared_ptr<const JsonText> text, std::string name, std::vector<Fault>& faults)
      : CheckValues(FaultList(faults)), text_(std::move(text)), name_(std::move(name)), all_(faults) {}

  /// Faults of the checks themselves come with these.
  std::vector<ReadCheck> read(const JsonValue& top) {
    std::vector<ReadCheck> checks;
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
    int number = 0;
    for (const JsonValue& value : list->children()) {
      if (faults_.full()) break;
      ++number;
      const std::size_t before = all_.size();
      LabCheck::Plan plan = common;
      read_check(value, plan);
      if (machines.empty()) continue;  // then all is told at once
      if (plan.name.empty()) plan.name = fmt::format("check {}", number);
      const std::vector<Fault> own = take_faults(before);
      for (const JsonValue& machine : machines) {
        auto one = std::make_shared<LabCheck::Plan>(plan);
        one->machine = machine.text();
        one->machine_place = machine.place();
        one->title = one->name;
        if (machines.size() > 1) one->name += fmt::format(" [{}]", machine.text());
        if (!names_.insert(one->name).second) {
          faults_.add("check-name", plan.place, fmt::format("two checks have the name {}", in_quotes(one->name)),
                      "another name for each", in_quotes(one->name), "a name tells checks apart: change one of them");
        }
        std::vector<Fault> faults = own;
        for (Fault& fault : take_faults(before)) faults.push_back(std::move(fault));
        if (!faults.empty()) faults = InputError(std::move(faults)).faults();  // in order
        checks.push_back({LabCheck(std::move(one)), std::move(faults)});
      }
    }
    return checks;
  }

 private:
  /// Those behind the first so many.
  std::vector<Fault> take_faults(std::size_t before) {
    const auto first = all_.begin() + static_cast<std::ptrdiff_t>(std::min(before, all_.size()));
    std::vector<Fault> taken(std::make_move_iterator(first), std::make_move_iterator(all_.end()));
    all_.erase(first, all_.end());
    return taken;
  }

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
               {"check", "about", "tags", "points", "limits", "rules", "partner", "for", "seed", "wiring", "stimuli",
                "expect"},
               faults_);
    if (const auto name = need(value, "check", "the check", "its name", faults_)) {
      if (check_kind(*name, JsonKind::string, "\"check\"", "a name", faults_)) {
        plan.name = name->text();
        plan.place = name->place();
        if (plan.name.empty() || plan.name != printable(plan.name)) {
          faults_.add("check-name", name->place(), "this cannot be the name of a check", "a text in one line",
                      name->shown(), "");
          plan.name.clear();
        }
      }
    }
    if (const auto tags = value.find("tags")) read_tags(*tags, plan);
    if (const auto points = value.find("points")) {
      const ParameterSpec range{.name = "points", .minimum = 0, .maximum = 1000, .help = {}};
      plan.points = read_setting(*points, range, " of the check", faults_).value_or(0);
    }
    if (const auto limits = value.find("limits")) read_limits(*limits, plan.limits);
    read_judging(value, plan);
    plan.length = moment(value, "for");
    plan.seed = seed(value, "seed");
    if (const auto wiring = value.find("wiring")) read_wiring(*wiring, plan);
    if (const auto stimuli = value.find("stimuli")) {
      if (check_kind(*stimuli, JsonKind::array, "\"stimuli\"", "a list of what happens", faults_)) {
        for (const JsonValue& entry : stimuli->children()) add_stimulus(entry, plan, steps_, faults_);
      }
    }
    const auto expect = need(value, "expect", "the check", "a list of what is expected", faults_);
    if (!expect || !check_kind(*expect, JsonKind::array, "\"expect\"", "a list of what is expected", faults_)) return;
    for (const JsonValue& entry : expect->children()) add_expectation(entry, plan, faults_);
  }

  void read_wiring(const JsonValue& value, LabCheck::Plan& plan) {
    const std::string example = "an object such as {\"remove\": [\"ADC.INTR\"], \"short\": [[\"PIA.PA0\", \"GND\"]]}";
    if (!check_kind(value, JsonKind::object, "\"wiring\"", example, faults_)) return;
    check_keys(value, "\"wiring\"", {"remove", "short"}, faults_);
    plan.remove = value.find("remove");
    plan.shorts = value.find("short");
  }

  std::shared_ptr<const JsonText> text_;
  std::string name_;
  std::vector<Fault>& all_;
  std::set<std::string> names_;
  std::int64_t steps_ = 0;
};

std::vector<ReadCheck> read_each(std::string_view json, const std::string& name) {
  const auto text = std::make_shared<const JsonText>(json, name, kCheckFile);
  std::vector<Fault> faults = text->faults();
  std::vector<ReadCheck> checks;
  if (const auto root = text->root()) checks = CheckReader(text, name, faults).read(*root);
  if (faults.empty()) return checks;
  for (const ReadCheck& each : checks) faults.insert(faults.end(), each.faults.begin(), each.faults.end());
  throw InputError(std::move(faults));
}

}  // namespace

const std::string& LabCheck::name() const { return plan_->name; }
const std::string& LabCheck::title() const { return plan_->title; }
std::int64_t LabCheck::points() const { return plan_->points; }
const std::vector<std::string>& LabCheck::tags() const { return plan_->tags; }
const std::string& LabCheck::machine() const { return plan_->machine; }
Place LabCheck::machine_place() const { return plan_->machine_place; }
const CheckLimits& LabCheck::limits() const { return plan_->limits; }
bool LabCheck::expects_nothing() const { return plan_->expectations.empty(); }

LabCheck LabCheck::with_seed(std::uint64_t seed) const {
  auto plan = std::make_shared<Plan>(*plan_);
  plan->seed = seed;
  return LabCheck(std::move(plan));
}

bool LabCheck::with_the_partner() const { return wants_partner(*plan_); }

LabCheck LabCheck::with_partner() const {
  auto plan = std::make_shared<Plan>(*plan_);
  plan->partner = true;
  return LabCheck(std::move(plan));
}

std::vector<LabCheck> read_checks(std::string_view json, const std::string& name) {
  std::vector<LabCheck> checks;
  std::vector<Fault> faults;
  for (ReadCheck& each : read_each(json, name)) {
    faults.insert(faults.end(), each.faults.begin(), each.faults.end());
    checks.push_back(std::move(each.check));
  }
  if (!faults.empty()) throw InputError(std::move(faults));
  return checks;
}

std::vector<ReadCheck> read_each_check(const std::filesystem::path& file) {
  return read_each(read_text_file(file, "the check file"), file.string());
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
