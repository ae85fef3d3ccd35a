// A contact that bounces: what a toggle switch and a push button have in common.
#pragma once

#include <string_view>

#include "prewire/chip.h"

namespace prewire::chips {

/// Pins "1" and "2", joined while the contact is closed. The contact meets its other side at once when it is moved,
/// lets go and meets it again, ever faster, and rests when the bounce time is over. How often is up to the machine's
/// seed.
class Contact final : public Chip {
 public:
  struct Words {
    std::string_view open, closed;  ///< what a person says to move it
  };

  Contact(Socket& socket, Words words, bool closed_at_first, Picoseconds close_bounce, Picoseconds open_bounce)
      : Chip(socket),
        words_(words),
        closed_at_first_(closed_at_first),
        close_bounce_(close_bounce),
        open_bounce_(open_bounce) {}

  void power_on() override {
    closed_ = moved_ = closed_at_first_;
    moves_ = 0;
    toggle_ = toggles_ = 0;
    socket().link(0, closed_ ? 0 : Socket::kOpen);
  }

  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    if (text == words_.open) return 0;
    if (text == words_.closed) return 1;
    return std::nullopt;
  }

  void input(std::int64_t value) override {
    const bool moved = value != 0;
    if (moved == moved_) return;
    moved_ = moved;
    begun_ = socket().now();
    toggle_ = 0;
    const Picoseconds bounce = moved ? close_bounce_ : open_bounce_;
    length_ = socket().timebase().stamps(bounce);
    const std::uint64_t noise = socket().noise(static_cast<std::uint64_t>(moves_++));
    toggles_ = length_ == 0 ? 1 : 3 + 2 * static_cast<std::int64_t>(noise % 9);
    // Moved back while it still bounced, it may be where it shall end.
    if (closed_ == moved) toggles_ = length_ == 0 ? 0 : toggles_ + 1;
    if (toggles_ > 0) {
      on_timer(kToggle, begun_);
    } else {
      socket().cancel(kToggle);
    }
  }

  void on_timer(unsigned /*tag*/, Stamp /*when*/) override {
    closed_ = !closed_;
    socket().link(0, closed_ ? 0 : Socket::kOpen);
    socket().event("contact", closed_ ? 1 : 0);
    if (++toggle_ < toggles_) {
      socket().timer(kToggle, due(toggle_));
    } else {
      socket().cancel(kToggle);
    }
  }

  void archive(Archive& archive) override {
    archive(closed_);
    archive(moved_);
    archive.number(moves_);
    archive.number(begun_);
    archive.within(length_, 0, Archive::kFar);
    archive.within(toggles_, 0, kMostToggles);
    archive.within(toggle_, 0, toggles_);
  }

 private:
  enum Tag : unsigned { kToggle };
  static constexpr std::int64_t kMostToggles = 3 + 2 * 8 + 1;

  /// Each gap is three quarters of the one before, and together they last the bounce time.
  Stamp due(std::int64_t toggle) const {
    // 1, (3/4)^toggle and (3/4)^gaps over a common denominator.
    std::int64_t one = 1, left = 1, end = 1;
    for (std::int64_t gap = 1; gap < toggles_; ++gap) {
      one *= 4;
      left *= gap <= toggle ? 3 : 4;
      end *= 3;
    }
    __extension__ using Wide = __int128;
    return begun_ + static_cast<Stamp>(static_cast<Wide>(length_) * (one - left) / (one - end));
  }

  const Words words_;
  const bool closed_at_first_;
  const Picoseconds close_bounce_, open_bounce_;

  bool closed_ = false;  // the contact
  bool moved_ = false;   // where the person left it: true for closed
  std::int64_t moves_ = 0;
  Stamp begun_ = 0;                        // of the last move
  Stamp length_ = 0;                       // of its bounce
  std::int64_t toggle_ = 0, toggles_ = 0;  // done, and in all
};

inline ParameterSpec bounce_parameter(Picoseconds fallback) {
  return {.name = "bounce",
          .unit = Unit::picoseconds,
          .fallback = fallback,
          .minimum = 0,
          .maximum = 10'000'000'000,
          .help = "how long the contact bounces when it closes; half as long when it opens"};
}

}  // namespace prewire::chips
