#include "check_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <fstream>
#include <map>
#include <system_error>

#include "shared/json_text.h"

namespace prewire::front::desk {

namespace {

// From here on a check says what it may take; the usual limits are for less.
constexpr Cycle kLong = 2'000'000;
constexpr Picoseconds kUsualWall = 10'000'000'000'000, kMostWall = 3'600'000'000'000'000;

Place start_of(const std::filesystem::path& file) {
  Place place;
  place.file = file.string();
  return place;
}

Json parse(const std::filesystem::path& file) {
  std::error_code error;
  if (!std::filesystem::is_regular_file(file, error)) return {};  // opening it could take for ever
  std::ifstream in(file);
  return Json::parse(in, nullptr, false);
}

bool has_checks(const Json& document) { return document.is_object() && document.contains("checks"); }

/// With several machines the name of a check ends with the machine.
std::string text_of(const Json& document, const LabCheck& check) {
  for (const Json& entry : document["checks"]) {
    const std::string name = entry.value("check", "");
    if (check.name() == name || check.name() == fmt::format("{} [{}]", name, check.machine())) return entry.dump();
  }
  return "{}";
}

std::string moment(Stamp when, const Timebase& timebase) {
  if (when % 4 == 0) return fmt::format("{} cycles", when / 4);
  if (!timebase.in_range(when)) return fmt::format("{} cycles", when / 4);
  return format_quantity(timebase.span_of_stamp(when), Unit::picoseconds);
}

/// How long contacts bounce in a check.
std::map<std::string, Json> bounces_of(const Json& base) {
  std::map<std::string, Json> bounces;
  for (const Json& entry : base.value("stimuli", Json::array())) {
    if (entry.contains("bounce")) bounces[entry.value("set", entry.value("press", ""))] = entry["bounce"];
  }
  return bounces;
}

Json stimuli_of(const Script& script, const Json& base) {
  struct Line {
    Stamp when;
    Json entry;
  };
  std::vector<Line> lines;
  std::map<std::string, Json> bounces = bounces_of(base);
  const auto set = [&](Stamp when, const std::string& part, const std::string& value) {
    Json entry{{"at", moment(when, script.timebase)}, {"set", part}, {"to", value}};
    if (const auto bounce = bounces.find(part); bounce != bounces.end()) entry["bounce"] = bounce->second;
    lines.push_back({when, std::move(entry)});
  };
  for (const TimedInput& input : script.planned) {
    if (input.when <= stamp_of(script.cycles)) set(input.when, input.part, input.value);
  }
  for (const Deed& deed : script.deeds) {
    const Stamp when = deed.moment;
    if (deed.kind == Deed::Kind::input) set(when, deed.part, deed.value);
    if (deed.kind == Deed::Kind::reset) {
      lines.push_back(
          {when, {{"at", moment(when, script.timebase)}, {"reset", fmt::format("{} cycles", Deed::kResetCycles)}}});
    }
  }
  std::stable_sort(lines.begin(), lines.end(), [](const Line& a, const Line& b) { return a.when < b.when; });
  Json list = Json::array();
  for (Line& line : lines) list.push_back(std::move(line.entry));
  return list;
}

}  // namespace

bool is_check_file(const std::filesystem::path& file) {
  return file.string().ends_with(".check.json") || has_checks(parse(file));
}

PlayedCheck read_played_check(const std::filesystem::path& file, const std::string& name,
                              const std::filesystem::path& root) {
  if (!is_check_file(file)) {
    throw InputError(Fault{.id = "no-check",
                           .place = start_of(file),
                           .what = "this is a machine file, in which there are no checks",
                           .expected = "a check file",
                           .found = file.filename().string(),
                           .hint = "leave --check out"});
  }
  const std::vector<LabCheck> checks = read_check_file(file);
  const auto chosen = std::find_if(checks.begin(), checks.end(),
                                   [&](const LabCheck& check) { return name.empty() || check.name() == name; });
  if (chosen == checks.end()) {
    std::vector<std::string> names;
    for (const LabCheck& check : checks) names.push_back("\"" + check.name() + "\"");
    throw InputError(Fault{.id = "no-check",
                           .place = start_of(file),
                           .what = "there is no check of that name",
                           .expected = list_of(names, "or"),
                           .found = "\"" + name + "\""});
  }
  if (const auto place = power_cycle_of(*chosen)) {
    throw InputError(
        Fault{.id = "check-power",
              .place = *place,
              .what = "the desk does not play a check that switches off and on",
              .expected = "a check without \"power_cycle\"",
              .found = "\"power_cycle\"",
              .hint = "Shift F7 switches the machine on the desk off and on; `prewire test` runs the check"});
  }
  return {*chosen, machine_file(*chosen, file, root), text_of(parse(file), *chosen)};
}

std::string script_file(const Script& script) {
  const auto by_hand = std::find_if(script.deeds.begin(), script.deeds.end(), [](const Deed& deed) {
    return deed.kind == Deed::Kind::poke || deed.kind == Deed::Kind::change_register;
  });
  if (by_hand != script.deeds.end()) {
    throw InputError(Fault{.id = "not-in-check",
                           .what = fmt::format("A check cannot change bytes by hand, as in cycle {}", by_hand->when),
                           .hint = "step back before it"});
  }
  const Json base = script.base.empty() ? Json::object() : Json::parse(script.base);
  Cycle length = script.cycles;
  for (const Deed& deed : script.deeds) {
    // A reset that has just begun is to come to its end.
    if (deed.kind == Deed::Kind::reset) length = std::max(length, deed.when + Deed::kResetCycles);
  }
  Json check{{"check", "session"}, {"for", fmt::format("{} cycles", length)}};
  // The rest says what machine it is, and how it is watched.
  constexpr std::array<std::string_view, 7> kOwn{"check", "about", "tags", "limits", "for", "stimuli", "expect"};
  for (const auto& [key, value] : base.items()) {
    if (std::find(kOwn.begin(), kOwn.end(), key) == kOwn.end()) check[key] = value;
  }
  if (length > kLong) {
    const bool short_enough = script.timebase.in_range(stamp_of(length));
    const Picoseconds wall = short_enough ? std::clamp(script.timebase.span(length), kUsualWall, kMostWall) : kMostWall;
    check["limits"] = {{"cycles", 2 * length},
                       {"wall", format_quantity(wall, Unit::picoseconds)},
                       {"output", (length / kLong + 1) * (1 << 17)}};
  }
  check["stimuli"] = stimuli_of(script, base);
  check["expect"] = Json::array();
  return print_json({{"machine", script.machine}, {"checks", Json::array({std::move(check)})}});
}

}  // namespace prewire::front::desk
