// Collects findings: the first occurrence is kept with its texts, later ones are counted.
#pragma once

#include <algorithm>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

#include "prewire/rule.h"
#include "prewire/watch.h"

namespace prewire {

class Findings {
  static constexpr std::uint64_t kAstray = ~std::uint64_t{0};
  struct Place {
    std::size_t finding = 0;
    std::uint64_t serial = 0;
  };
  struct Group {
    std::uint64_t cause;
    std::size_t first;
    std::size_t apart;
  };
  struct OfRule {
    bool off = false;
    std::optional<Weight> asked{};
    std::unordered_map<std::uint64_t, Place> places{};  // by subject
    std::vector<Group> groups{};
  };
  using Rules = std::map<std::string, OfRule, std::less<>>;

 public:
  /// Subjects of one case that are findings of their own; more are counted with the first one.
  static constexpr std::size_t kApart = 8;
  /// Cases of one rule; more are counted with its last one.
  static constexpr std::size_t kCases = 64;
  /// Ranges of addresses that are kept of a case.
  static constexpr std::size_t kRanges = 16;

  /// `complete` fills in cycle and pc of a new finding, as far as they are not known, and `tell` tells observers, who
  /// may report more.
  Findings(std::function<void(Finding&, const Occurrence&)> complete, std::function<void(const Finding&)> tell)
      : complete_(std::move(complete)), tell_(std::move(tell)) {}

  /// `texts` returns a pair of message and hint, and is only called for the first one.
  template <class Texts>
  void report(std::string_view id, Weight weight, const Occurrence& occurrence, Texts&& texts) {
    if (muted_) return;
    if (before_) before_();
    const auto known = rules_.find(id);
    OfRule& rule = known != rules_.end() ? known->second : meet(id);
    if (rule.off) return;
    if (const auto place = rule.places.find(occurrence.subject); place != rule.places.end()) {
      ++list_[place->second.finding].count;
      return;
    }
    Occurrence belongs = occurrence;
    if (astray_ >= 0 && belongs.follows < 0) {
      belongs.follows = astray_;
      belongs.cause = kAstray;
    }
    if (const auto folded = fold(rule, belongs)) return count_with(*folded, rule, belongs);
    auto [message, hint] = std::forward<Texts>(texts)();
    add(id, rule, rule.asked ? *rule.asked : weight, belongs, std::move(message), std::move(hint));
  }

  bool found(std::string_view id, std::uint64_t subject) const;
  const std::vector<Finding>& list() const { return list_; }
  void clear();
  /// Weights instead of the reporter's.
  void set_weights(RuleWeights weights) { weights_ = std::move(weights); }
  /// Nothing counts while the past is run again.
  void mute(bool muted) { muted_ = muted; }

  /// Called before anything is reported, and may report itself: what is in doubt must not come after what it may have
  /// caused.
  void before_report(std::function<void()> before) { before_ = std::move(before); }
  bool muted() const { return muted_; }
  bool astray() const { return astray_ >= 0; }
  // What is in doubt may be told before it is decided. It goes by the cycle in which it began.
  bool told_early(Cycle since) const { return std::find(early_.begin(), early_.end(), since) != early_.end(); }
  void tell_early(Cycle since) { early_.push_back(since); }
  void decided(Cycle since) { std::erase(early_, since); }

  /// From now on whatever is found is a consequence of that finding, and of each rule one case. Below 0: no longer.
  void set_astray(std::int64_t finding) { astray_ = finding; }
  /// What was found since that cycle and follows from nothing known is a consequence of that finding.
  void blame(std::size_t finding, Cycle since);

  /// What had been found at some moment.
  struct Tally {
    struct Count {
      std::uint64_t count, subjects;
      std::int64_t follows;
      std::vector<AddressRange> at;
    };
    std::vector<Count> list;
    std::uint64_t serial = 0;
    std::int64_t astray = -1;
    std::vector<Cycle> early{};
  };
  Tally tally() const;
  /// All of them, to be put back.
  struct Kept {
    Rules rules;
    std::vector<Finding> list;
    std::uint64_t serial;
    std::int64_t astray;
    std::vector<Cycle> early;
  };
  Kept keep() const { return {rules_, list_, serial_, astray_, early_}; }
  void put_back(Kept kept) {
    rules_ = std::move(kept.rules);
    list_ = std::move(kept.list);
    serial_ = kept.serial;
    astray_ = kept.astray;
    early_ = std::move(kept.early);
  }
  /// Forgets what was found after that moment.
  void go_back(const Tally& tally);

 private:
  OfRule& meet(std::string_view id);
  /// The finding that counts a new subject from now on, if it gets none of its own.
  std::optional<std::size_t> fold(const OfRule& rule, const Occurrence& occurrence) const;
  void count_with(std::size_t finding, OfRule& rule, const Occurrence& occurrence);
  void add(std::string_view id, OfRule& rule, Weight weight, const Occurrence& occurrence, std::string message,
           std::string hint);

  std::function<void(Finding&, const Occurrence&)> complete_;
  std::function<void(const Finding&)> tell_;
  Rules rules_;
  std::vector<Finding> list_;
  RuleWeights weights_;
  std::uint64_t serial_ = 0;  // of the next subject
  std::int64_t astray_ = -1;
  bool muted_ = false;
  std::function<void()> before_;
  std::vector<Cycle> early_;  // a handful
};

}  // namespace prewire
