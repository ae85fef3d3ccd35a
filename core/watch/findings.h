// Collects findings: the first occurrence is kept with its texts, later ones are counted.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/rule.h"
#include "prewire/watch.h"

namespace prewire {

class Findings {
 public:
  /// `complete` fills in cycle and pc of a new finding and tells observers.
  explicit Findings(std::function<void(Finding&)> complete) : complete_(std::move(complete)) {}

  /// `subject` tells occurrences of one id apart. `texts` returns a pair of message and hint, and is only called for
  /// the first one.
  template <class Texts>
  void report(std::string_view id, Weight weight, std::uint64_t subject, Texts&& texts) {
    if (muted_) return;
    const auto [place, fresh] = index_.try_emplace(Key{id, subject}, list_.size());
    if (!fresh) {
      if (place->second != kOff) ++list_[place->second].count;
      return;
    }
    if (const auto asked = weights_.find(id); asked != weights_.end()) {
      if (!asked->second) {
        place->second = kOff;
        return;
      }
      weight = *asked->second;
    }
    auto [message, hint] = std::forward<Texts>(texts)();
    add(id, weight, std::move(message), std::move(hint));
  }

  bool found(std::string_view id, std::uint64_t subject) const { return index_.contains(Key{id, subject}); }
  const std::vector<Finding>& list() const { return list_; }
  void clear();
  /// Weights instead of the reporter's.
  void set_weights(RuleWeights weights) { weights_ = std::move(weights); }
  /// Nothing counts while the past is run again.
  void mute(bool muted) { muted_ = muted; }

  /// How often each had been found at some moment.
  using Tally = std::vector<std::uint64_t>;
  Tally tally() const;
  /// Forgets what was found after that moment.
  void go_back(const Tally& tally);

 private:
  using Key = std::pair<std::string, std::uint64_t>;
  static constexpr std::size_t kOff = SIZE_MAX;  // of a rule that was switched off: it stands in the index only
  void add(std::string_view id, Weight weight, std::string message, std::string hint);

  std::function<void(Finding&)> complete_;
  std::map<Key, std::size_t> index_;
  std::vector<Finding> list_;
  RuleWeights weights_;
  bool muted_ = false;
};

}  // namespace prewire
