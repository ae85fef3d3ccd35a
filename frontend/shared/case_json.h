// Findings as JSON documents tell them.
#pragma once

#include <fmt/format.h>

#include <span>

#include "prewire/cases.h"
#include "shared/json_text.h"

namespace prewire::front {

inline Json to_json(const FirstCause& cause) {
  return {{"id", cause.id},     {"weight", to_string(cause.weight)}, {"message", cause.what}, {"where", cause.where},
          {"hint", cause.next}, {"effects", cause.effects}};
}

/// All findings, case by case in the order of the report: what went wrong first comes first. Numbers in "case" and
/// "follows" are those of cases.
inline Json to_json(const CaseReport& report, std::span<const Finding> findings) {
  Json list = Json::array();
  std::vector<std::size_t> case_of(findings.size());
  for (std::size_t i = 0; i < report.cases.size(); ++i) {
    for (const std::size_t finding : report.cases[i].findings) case_of[finding] = i;
  }
  for (std::size_t i = 0; i < report.cases.size(); ++i) {
    for (const std::size_t number : report.cases[i].findings) {
      const Finding& finding = findings[number];
      Json entry{{"id", finding.id},       {"weight", to_string(finding.weight)},
                 {"count", finding.count}, {"cycle", finding.first},
                 {"pc", finding.pc},       {"case", i}};
      if (finding.follows >= 0) entry["follows"] = case_of[static_cast<std::size_t>(finding.follows)];
      if (!finding.source.empty()) entry["source"] = finding.source;
      if (finding.subjects > 1) {
        entry["places"] = finding.subjects;
        Json& at = entry["at"] = Json::array();
        for (const AddressRange& range : finding.at) at.push_back(to_string(range));
      }
      entry["message"] = finding.message;
      entry["hint"] = finding.hint;
      list.push_back(std::move(entry));
    }
  }
  return list;
}

}  // namespace prewire::front
