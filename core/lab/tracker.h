// Judges one expectation as the run goes by.
#pragma once

#include <algorithm>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <utility>

#include "prewire/clock.h"

namespace prewire {

inline constexpr Stamp kEndless = std::numeric_limits<Stamp>::max() / 4;

/// When an expectation counts, in quarter cycles since the start of the check.
struct Window {
  Stamp from = 0;
  Stamp to = kEndless;  ///< included
  Stamp held = 0;
};

/// What all of them have in common.
class Tracker {
 public:
  virtual ~Tracker() = default;
  /// Whatever the tracker hears of is the same up to `now`, and may change there.
  virtual void pass(Stamp /*now*/) {}
  /// The run is over at `now`.
  virtual void finish(Stamp now) = 0;

  bool settled() const { return settled_; }
  bool met() const { return met_; }
  const std::string& found() const { return found_; }
  Stamp when() const { return when_; }
  /// The smallest and the largest of what was measured, if anything was.
  std::optional<std::int64_t> smallest() const { return smallest_; }
  std::optional<std::int64_t> largest() const { return largest_; }

 protected:
  void settle(bool met, Stamp when, std::string found = {}) {
    if (settled_) return;
    settled_ = true;
    met_ = met;
    when_ = when;
    found_ = std::move(found);
  }
  void measure(std::int64_t value) {
    if (!smallest_ || value < *smallest_) smallest_ = value;
    if (!largest_ || value > *largest_) largest_ = value;
  }

 private:
  bool settled_ = false, met_ = false;
  std::string found_;
  Stamp when_ = 0;
  std::optional<std::int64_t> smallest_, largest_;
};

/// Something that holds or does not, and changes at moments.
class StateTracker : public Tracker {
 public:
  enum class Mode : std::uint8_t {
    at,      ///< holds at `from`, and for `held` after it
    within,  ///< begins to hold, or holds, between `from` and `to`, and then for `held`
    never,   ///< does not hold between `from` and `to`, not even for a moment
    visits,  ///< holds whenever `visit` is called between `from` and `to`, which happens at least once
  };

  StateTracker(Mode mode, const Window& window) : mode_(mode), window_(window) {}

  const Window& window() const { return window_; }
  /// From `when` on it holds or does not; `found` says how it stands instead. Moments never go back.
  void set(Stamp when, bool holds, const std::string& found) {
    pass(when);
    if (settled()) return;
    const bool inside = when >= window_.from && when <= window_.to;
    if (mode_ == Mode::never && holds && inside) return settle(false, when, found);
    if (mode_ == Mode::at && begun_ && !holds) return settle(false, when, found);
    if (holds && !holds_) since_ = when;
    holds_ = holds;
    now_ = found;
  }
  /// The program is at the place.
  void visit(Stamp when, bool holds, const std::string& found) {
    if (settled() || when < window_.from || when > window_.to) return;
    ++visits_;
    if (!holds) settle(false, when, found);
  }

  void pass(Stamp now) override {
    if (settled()) return;
    switch (mode_) {
      case Mode::at:
        if (now <= window_.from) return;
        if (!begun_ && !holds_) return settle(false, window_.from, now_);
        begun_ = true;
        if (now > window_.from + window_.held) settle(true, window_.from + window_.held, now_);
        return;
      case Mode::within: {
        const Stamp start = std::max(since_, window_.from);
        if (holds_ && start <= window_.to) {
          if (now > start + window_.held) settle(true, start, now_);
        } else if (now > window_.to) {
          settle(false, window_.to, now_);
        }
        return;
      }
      case Mode::never:
        if (now > window_.from && holds_) return settle(false, window_.from, now_);
        if (now > window_.to) settle(true, window_.to);
        return;
      case Mode::visits:
        if (now > window_.to) count_visits(window_.to);
        return;
    }
  }

  void finish(Stamp now) override {
    pass(now + 1);
    if (mode_ == Mode::never) settle(true, now);
    if (mode_ == Mode::visits) count_visits(now);
    settle(false, now, now_.empty() ? "the run ended before" : now_ + " when the run ended");
  }

 private:
  void count_visits(Stamp when) { settle(visits_ > 0, when, visits_ > 0 ? "" : "the program never got there"); }

  const Mode mode_;
  const Window window_;
  bool holds_ = false;
  bool begun_ = false;
  Stamp since_ = 0;
  std::string now_;
  std::int64_t visits_ = 0;
};

}  // namespace prewire
