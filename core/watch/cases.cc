#include "prewire/cases.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <string_view>
#include <tuple>
#include <utility>

namespace prewire {

namespace {

constexpr std::size_t kShownRanges = 4;
constexpr std::size_t kShownEffects = 6;

std::string times(std::uint64_t count) { return count == 1 ? "once" : fmt::format("{} times", count); }

void join(std::vector<AddressRange>& ranges, std::span<const AddressRange> more) {
  ranges.insert(ranges.end(), more.begin(), more.end());
  std::sort(ranges.begin(), ranges.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<AddressRange> joined;
  for (const AddressRange& range : ranges) {
    if (!joined.empty() && range.first <= joined.back().last + 1) {
      joined.back().last = std::max(joined.back().last, range.last);
    } else {
      joined.push_back(range);
    }
  }
  ranges = std::move(joined);
}

}  // namespace

CaseReport gather_cases(std::span<const Finding> findings) {
  std::vector<Case> cases;
  std::vector<std::size_t> case_of(findings.size());
  std::map<std::pair<std::string_view, std::uint64_t>, std::size_t> known;
  for (std::size_t i = 0; i < findings.size(); ++i) {
    const Finding& finding = findings[i];
    // Those of one rule that follow from one finding are one, whatever each is grouped by.
    const auto [place, fresh] = known.try_emplace({finding.id, finding.cause}, cases.size());
    if (fresh) cases.push_back({.finding = i, .weight = finding.weight});
    case_of[i] = place->second;
    Case& told = cases[place->second];
    told.findings.push_back(i);
    told.count += finding.count;
    told.subjects += finding.subjects;
    join(told.at, finding.at);
  }
  // A case follows from what its first finding follows from. A ring, which nobody should make, ends where it began.
  std::vector<std::int64_t> parent(cases.size(), -1);
  for (std::size_t i = 0; i < cases.size(); ++i) {
    const std::int64_t follows = findings[cases[i].finding].follows;
    if (follows < 0 || static_cast<std::size_t>(follows) >= findings.size()) continue;
    const std::size_t from = case_of[static_cast<std::size_t>(follows)];
    bool ring = false;
    for (auto at = static_cast<std::int64_t>(from); at >= 0; at = parent[static_cast<std::size_t>(at)]) {
      ring = ring || static_cast<std::size_t>(at) == i;
    }
    if (!ring) parent[i] = static_cast<std::int64_t>(from);
  }
  for (std::size_t i = 0; i < cases.size(); ++i) {
    cases[i].root = parent[i] < 0;
    for (std::int64_t at = parent[i]; at >= 0; at = parent[static_cast<std::size_t>(at)]) {
      Case& cause = cases[static_cast<std::size_t>(at)];
      cause.effects.push_back(i);
      cause.weight = std::max(cause.weight, findings[cases[i].finding].weight);
    }
  }

  std::vector<std::size_t> order(cases.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  const auto rank = [&](std::size_t i) {
    return std::tuple(!cases[i].root, cases[i].weight == Weight::hint, findings[cases[i].finding].first);
  };
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return rank(a) < rank(b); });
  std::vector<std::size_t> now_at(cases.size());
  for (std::size_t i = 0; i < order.size(); ++i) now_at[order[i]] = i;
  CaseReport report;
  for (const std::size_t i : order) {
    for (std::size_t& effect : cases[i].effects) effect = now_at[effect];
    std::sort(cases[i].effects.begin(), cases[i].effects.end());
    report.roots += cases[i].root ? 1U : 0U;
    report.cases.push_back(std::move(cases[i]));
  }
  return report;
}

std::string where_text(const Finding& finding) {
  return fmt::format("${:04X}{}{}", finding.pc, finding.source.empty() ? "" : ", ", finding.source);
}

std::optional<FirstCause> first_cause(const CaseReport& report, std::span<const Finding> findings,
                                      std::span<const Fault> remarks) {
  const bool heavy = !report.cases.empty() && report.cases[0].root && report.cases[0].weight != Weight::hint;
  for (const Fault& remark : remarks) {
    if (remark.weight == Weight::hint) continue;
    FirstCause cause{remark.id, remark.weight, remark.what, "", remark.hint, "", true};
    if (!remark.place.file.empty()) cause.where = remark.place.file;
    if (remark.place.line > 0) cause.where += fmt::format(":{}", remark.place.line);
    return cause;
  }
  if (!heavy) return std::nullopt;
  const Case& told = report.cases[0];
  const Finding& finding = findings[told.finding];
  FirstCause cause{finding.id, finding.weight, finding.message, times_text(told), finding.hint, "", false};
  if (finding.first > 0) cause.where += fmt::format(", first at {}", where_text(finding));
  cause.effects = effects_text(report, told, findings);
  return cause;
}

std::string times_text(const Case& told) {
  std::string text = times(told.count);
  if (told.subjects < 2) return text;
  if (told.at.empty()) return text + fmt::format(" at {} places", told.subjects);
  std::vector<std::string> ranges;
  for (const AddressRange& range : told.at) {
    if (ranges.size() == kShownRanges) break;
    ranges.push_back(range.first == range.last ? fmt::format("${:04X}", range.first) : to_string(range));
  }
  text += fmt::format(" at {} addresses: {}", told.subjects, fmt::join(ranges, ", "));
  std::uint64_t shown = 0;
  for (std::size_t i = 0; i < ranges.size(); ++i) shown += told.at[i].size();
  if (shown < told.subjects) text += fmt::format(" and {} more", told.subjects - shown);
  return text;
}

std::string effects_text(const CaseReport& report, const Case& told, std::span<const Finding> findings) {
  std::vector<std::pair<std::string_view, std::uint64_t>> counts;
  for (const std::size_t effect : told.effects) {
    const Case& each = report.cases[effect];
    const std::string_view id = findings[each.finding].id;
    const auto same = std::find_if(counts.begin(), counts.end(), [&](const auto& entry) { return entry.first == id; });
    if (same == counts.end()) {
      counts.emplace_back(id, each.count);
    } else {
      same->second += each.count;
    }
  }
  std::string text;
  for (std::size_t i = 0; i < counts.size() && i < kShownEffects; ++i) {
    text += fmt::format("{}{} {}", i == 0 ? "" : ", ", counts[i].first, times(counts[i].second));
  }
  if (counts.size() > kShownEffects) text += fmt::format(" and {} more", counts.size() - kShownEffects);
  return text;
}

}  // namespace prewire
