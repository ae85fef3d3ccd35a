#include "watch/findings.h"

namespace prewire {

void Findings::add(Key key, Weight weight, std::string message, std::string hint) {
  Finding finding;
  finding.id = key.first;
  finding.weight = weight;
  finding.message = std::move(message);
  finding.hint = std::move(hint);
  complete_(finding);
  const std::size_t place = list_.size();
  list_.push_back(finding);
  index_.emplace(std::move(key), place);
  tell_(finding);
}

Findings::Tally Findings::tally() const {
  Tally tally;
  for (const Finding& finding : list_) tally.push_back(finding.count);
  return tally;
}

void Findings::go_back(const Tally& tally) {
  list_.resize(tally.size());
  for (std::size_t i = 0; i < tally.size(); ++i) list_[i].count = tally[i];
  std::erase_if(index_, [&](const auto& entry) { return entry.second >= tally.size(); });
}

void Findings::clear() {
  index_.clear();
  list_.clear();
}

}  // namespace prewire
