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
  /// `complete` fills in cycle and pc of a new finding, and `tell` tells observers, who may report more.
  Findings(std::function<void(Finding&)> complete, std::function<void(const Finding&)> tell)
      : complete_(std::move(complete)), tell_(std::move(tell)) {}

  /// `subject` tells occurrences of one id apart. `texts` returns a pair of message and hint, and is only called for
  /// the first one.
  template <class Texts>
  void report(std::string_view id, Weight weight, std::uint64_t subject, Texts&& texts) {
    if (muted_) return;
    Key key{id, subject};
    if (const auto place = index_.find(key); place != index_.end()) {
      if (place->second != kOff) ++list_[place->second].count;
      return;
    }
    if (const auto asked = weights_.find(id); asked != weights_.end()) {
      if (!asked->second) {
        index_.emplace(std::move(key), kOff);
        return;
      }
      weight = *asked->second;
    }
    auto [message, hint] = std::forward<Texts>(texts)();
    add(std::move(key), weight, std::move(message), std::move(hint));
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
  /// All of them, to be put back.
  struct Kept {
    std::map<std::pair<std::string, std::uint64_t>, std::size_t> index;
    std::vector<Finding> list;
  };
  Kept keep() const { return {index_, list_}; }
  void put_back(Kept kept) {
    index_ = std::move(kept.index);
    list_ = std::move(kept.list);
  }
  /// Forgets what was found after that moment.
  void go_back(const Tally& tally);

 private:
  using Key = std::pair<std::string, std::uint64_t>;
  static constexpr std::size_t kOff = SIZE_MAX;  // of a rule that was switched off: it stands in the index only
  void add(Key key, Weight weight, std::string message, std::string hint);

  std::function<void(Finding&)> complete_;
  std::function<void(const Finding&)> tell_;
  std::map<Key, std::size_t> index_;
  std::vector<Finding> list_;
  RuleWeights weights_;
  bool muted_ = false;
};

}  // namespace prewire
