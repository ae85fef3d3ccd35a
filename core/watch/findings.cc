#include "watch/findings.h"

namespace prewire {

void Findings::add(std::string_view id, Weight weight, std::string message, std::string hint) {
  Finding finding;
  finding.id = id;
  finding.weight = weight;
  finding.message = std::move(message);
  finding.hint = std::move(hint);
  complete_(finding);
  list_.push_back(std::move(finding));
}

void Findings::clear() {
  index_.clear();
  list_.clear();
}

}  // namespace prewire
