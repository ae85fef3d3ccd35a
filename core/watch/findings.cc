#include "watch/findings.h"

#include <algorithm>
#include <iterator>

namespace prewire {

namespace {

/// Puts an address among sorted ranges that do not touch.
void take_in(std::vector<AddressRange>& ranges, std::uint32_t address) {
  auto next =
      std::find_if(ranges.begin(), ranges.end(), [&](const AddressRange& range) { return range.last >= address; });
  if (next != ranges.end() && next->contains(address)) return;
  const bool below = next != ranges.begin() && std::prev(next)->last + 1 == address;
  const bool above = next != ranges.end() && next->first == address + 1;
  if (below && above) {
    std::prev(next)->last = next->last;
    ranges.erase(next);
  } else if (below) {
    std::prev(next)->last = address;
  } else if (above) {
    next->first = address;
  } else if (ranges.size() < Findings::kRanges) {
    ranges.insert(next, {address, address});
  }
}

}  // namespace

Findings::OfRule& Findings::meet(std::string_view id) {
  OfRule& rule = rules_[std::string(id)];
  if (const auto asked = weights_.find(id); asked != weights_.end()) {
    rule.off = !asked->second;
    rule.asked = asked->second;
  }
  return rule;
}

std::optional<std::size_t> Findings::fold(const OfRule& rule, const Occurrence& occurrence) const {
  const auto group = std::find_if(rule.groups.begin(), rule.groups.end(),
                                  [&](const Group& each) { return each.cause == occurrence.cause; });
  if (group == rule.groups.end()) {
    if (rule.groups.size() < kCases) return std::nullopt;
    return rule.groups.back().first;
  }
  if (occurrence.cause != kAstray && group->apart < kApart) return std::nullopt;
  return group->first;
}

void Findings::count_with(std::size_t finding, OfRule& rule, const Occurrence& occurrence) {
  rule.places.emplace(occurrence.subject, Place{finding, serial_++});
  Finding& first = list_[finding];
  ++first.count;
  ++first.subjects;
  if (occurrence.address) take_in(first.at, static_cast<std::uint32_t>(occurrence.subject));
}

void Findings::add(std::string_view id, OfRule& rule, Weight weight, const Occurrence& occurrence, std::string message,
                   std::string hint) {
  const auto group = std::find_if(rule.groups.begin(), rule.groups.end(),
                                  [&](const Group& each) { return each.cause == occurrence.cause; });
  Finding finding;
  finding.id = id;
  finding.weight = weight;
  finding.message = std::move(message);
  finding.hint = std::move(hint);
  finding.cause = occurrence.cause;
  finding.follows = occurrence.follows;
  finding.leads = group == rule.groups.end();
  if (occurrence.address) take_in(finding.at, static_cast<std::uint32_t>(occurrence.subject));
  complete_(finding, occurrence);
  const std::size_t place = list_.size();
  list_.push_back(finding);
  rule.places.emplace(occurrence.subject, Place{place, serial_++});
  if (finding.leads) {
    rule.groups.push_back({occurrence.cause, place, 1});
  } else {
    ++group->apart;
  }
  tell_(finding);
}

bool Findings::found(std::string_view id, std::uint64_t subject) const {
  const auto rule = rules_.find(id);
  return rule != rules_.end() && (rule->second.off || rule->second.places.contains(subject));
}

void Findings::blame(std::size_t finding, Cycle since) {
  for (std::size_t i = 0; i < list_.size(); ++i) {
    if (i != finding && list_[i].first >= since && list_[i].follows < 0) {
      list_[i].follows = static_cast<std::int64_t>(finding);
    }
  }
}

Findings::Tally Findings::tally() const {
  Tally tally{{}, serial_, astray_, early_};
  for (const Finding& finding : list_) {
    tally.list.push_back({finding.count, finding.subjects, finding.follows, finding.at});
  }
  return tally;
}

void Findings::go_back(const Tally& tally) {
  list_.resize(tally.list.size());
  for (std::size_t i = 0; i < list_.size(); ++i) {
    const Tally::Count& kept = tally.list[i];
    list_[i].count = kept.count;
    list_[i].subjects = kept.subjects;
    list_[i].follows = kept.follows;
    list_[i].at = kept.at;
  }
  serial_ = tally.serial;
  astray_ = tally.astray;
  early_ = tally.early;
  for (auto& met : rules_) {
    const std::string& id = met.first;
    OfRule& rule = met.second;
    std::erase_if(rule.places, [&](const auto& entry) { return entry.second.serial >= serial_; });
    std::erase_if(rule.groups, [&](const Group& group) { return group.first >= list_.size(); });
    for (Group& group : rule.groups) {
      group.apart = static_cast<std::size_t>(std::count_if(list_.begin(), list_.end(), [&](const Finding& finding) {
        return finding.id == id && finding.cause == group.cause;
      }));
    }
  }
}

void Findings::clear() {
  rules_.clear();
  list_.clear();
  serial_ = 0;
  astray_ = -1;
  early_.clear();
}

}  // namespace prewire
