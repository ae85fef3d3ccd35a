// Writes what a run has shown as expectations.

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "lab/plan.h"
#include "prewire/text.h"
#include "units/text.h"

namespace prewire {

namespace {

using Json = nlohmann::ordered_json;
using Kind = ExpectationPlan::Kind;

constexpr const char* kAbout =
    "Recorded from a run: it says what is, not what should be. Review it before you trust it.";

/// A moment exactly, in the unit that is shorter to read.
std::string shown(Stamp when, const Timebase& timebase) {
  if (!timebase.in_range(when)) return fmt::format("{} cycles", when / 4);
  return format_quantity(timebase.span_of_stamp(when), Unit::picoseconds);
}

/// What a person sees, looked at half of the time after it came in which it must stay to be seen. A run may have gone
/// on beyond the end of the check to see the last of it.
void add_sights(const LabCheck::Plan& plan, const CheckResult& result, Json& expect) {
  const Stamp end = plan.length ? plan.length->stamp(result.timebase) : stamp_of(result.cycles);
  for (const Onlooker::Event& event : result.timeline) {
    const bool display = event.kind == Onlooker::Event::Kind::display;
    if (!display && event.kind != Onlooker::Event::Kind::led) continue;
    const Stamp when = event.when + result.timebase.stamps(Onlooker::kSteady / 2);
    if (when > std::min(end, stamp_of(result.cycles))) continue;
    Json entry{{"at", shown(when, result.timebase)}};
    if (display) {
      entry["display"] = event.subject;
      entry["shows"] = trim(event.text);
    } else {
      entry["led"] = event.subject;
      entry["is"] = event.text;
    }
    expect.push_back(std::move(entry));
  }
}

/// What fails a check unless it is expected.
void add_troubles(const LabCheck::Plan& plan, const CheckResult& result, Json& expect) {
  std::vector<std::string> written;
  bool end_written = false;
  for (const ExpectationPlan& expectation : plan.expectations) {
    if (expectation.kind == Kind::finding) written.push_back(expectation.subject.text);
    end_written = end_written || expectation.kind == Kind::ends;
  }
  for (const Finding& finding : result.findings) {
    if (finding.weight != Weight::stop || std::find(written.begin(), written.end(), finding.id) != written.end()) {
      continue;
    }
    written.push_back(finding.id);
    expect.push_back({{"finding", finding.id}, {"occurs", true}});
  }
  if (result.undefined_opcode && !end_written) expect.push_back({{"ends", "undefined opcode"}});
}

/// In the words of the file: cycles as a number, other spans as a time.
Json span(Stamp stamps, bool up, const Timebase& timebase) {
  if (stamps % 4 == 0 || !timebase.in_range(stamps)) return stamps / 4 + (up && stamps % 4 != 0 ? 1 : 0);
  return format_quantity(timebase.span_of_stamp(stamps) + (up ? 1 : -1), Unit::picoseconds);
}

void put_measured(const ExpectationPlan& plan, const ExpectationResult& result, const Timebase& timebase, Json& entry) {
  if (!result.least || !result.most) return;
  const auto put = [](Json& into, const Json& least, const Json& most) {
    into.erase("is");
    into["min"] = least;
    into["max"] = most;
  };
  switch (plan.kind) {
    case Kind::pulse:
    case Kind::cycles:
    case Kind::latency: return put(entry, span(*result.least, false, timebase), span(*result.most, true, timebase));
    case Kind::reached: return put(entry, *result.least, *result.most);
    case Kind::frequency:
      return put(entry["frequency"], format_quantity(*result.least, Unit::millihertz),
                 format_quantity(*result.most, Unit::millihertz));
    case Kind::duty:
      return put(entry["duty"], format_quantity(*result.least, Unit::millionths),
                 format_quantity(*result.most, Unit::millionths));
    default: return;
  }
}

}  // namespace

std::string record_checks(std::string_view json, const std::string& name, const std::vector<CheckResult>& results) {
  const std::vector<LabCheck> checks = read_checks(json, name);
  const Json read = Json::parse(json);
  Json document{{"about", kAbout}};
  for (const auto& [key, value] : read.items()) {
    if (key != "about") document[key] = value;
  }
  for (std::size_t i = 0; i < checks.size() && i < results.size(); ++i) {
    Json& check = document["checks"].at(i);
    const Json before = check["expect"];
    Json& expect = check["expect"] = Json::array();
    const auto& plans = checks[i].plan().expectations;
    add_sights(checks[i].plan(), results[i], expect);
    for (std::size_t k = 0; k < plans.size(); ++k) {
      // What a person sees has been written down above; what else was expected stays, with what was measured.
      const bool seen = plans[k].kind == Kind::display || plans[k].kind == Kind::led;
      if (seen && !plans[k].never) continue;
      Json entry = before.at(k);
      put_measured(plans[k], results[i].expectations[k], results[i].timebase, entry);
      expect.push_back(std::move(entry));
    }
    add_troubles(checks[i].plan(), results[i], expect);
  }
  return printable_json(document.dump(2, ' ', false, Json::error_handler_t::replace)) + "\n";
}

}  // namespace prewire
