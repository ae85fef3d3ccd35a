#include "merged_coverage.h"

#include <algorithm>
#include <charconv>
#include <set>
#include <string_view>
#include <utility>

namespace prewire::front::cli {

void MergedCoverage::add(const std::string& machine, const Description& description, const Coverage& coverage) {
  const std::lock_guard lock(mutex_);
  std::unique_ptr<Entry>& entry = entries_[machine];
  if (entry == nullptr) entry = std::make_unique<Entry>(description);
  entry->coverage.add(coverage);
}

std::string MergedCoverage::tracefile() const {
  std::string text;
  for (const auto& [name, entry] : entries_) text += lcov_tracefile(entry->coverage);
  return text;
}

std::string MergedCoverage::listing() const {
  std::string text;
  for (const auto& [name, entry] : entries_) text += annotated_listing(entry->coverage);
  return text;
}

MergedCoverage::Lines MergedCoverage::lines() const {
  // geninfo(1), section FILES: SF:<file>, then DA:<line>,<times>.
  const std::string text = tracefile();
  std::string_view file;
  std::set<std::pair<std::string_view, int>> found, hit;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    const std::string_view line(text.data() + at, end - at);
    at = end + 1;
    if (line.starts_with("SF:")) file = line.substr(3);
    if (!line.starts_with("DA:") || file == kNoSource) continue;
    int number = 0;
    const auto [comma, error] = std::from_chars(line.data() + 3, line.data() + line.size(), number);
    if (error != std::errc{}) continue;
    found.emplace(file, number);
    if (std::string_view(comma, static_cast<std::size_t>(line.data() + line.size() - comma)) != ",0") {
      hit.emplace(file, number);
    }
  }
  return {found.size(), hit.size()};
}

}  // namespace prewire::front::cli
