#include "pace.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace prewire::front::desk {

namespace {

struct Speed {
  double rate;
  const char* text;
};
constexpr std::array<Speed, Pace::kSteps> kSpeeds{{{1, "1 cycle/s"},
                                                   {5, "5 cycles/s"},
                                                   {50, "50 cycles/s"},
                                                   {1'000, "1000 cycles/s"},
                                                   {20'000, "20 000 cycles/s"},
                                                   {200'000, "200 000 cycles/s"},
                                                   {0, "real time"},
                                                   {0, "unlimited"}}};

}  // namespace

void Pace::choose(int step) {
  step_ = std::clamp(step, 0, kSteps - 1);
  owed_ = 0;
}

std::optional<double> Pace::rate(const Timebase& timebase) const {
  if (unlimited()) return std::nullopt;
  if (step_ == kRealTime) return static_cast<double>(timebase.millihertz()) / 1000.0;
  return kSpeeds[static_cast<std::size_t>(step_)].rate;
}

bool Pace::slow(const Timebase& timebase) const {
  const auto rate_now = rate(timebase);
  return rate_now && *rate_now * 20 < static_cast<double>(timebase.millihertz()) / 1000.0;
}

std::string Pace::text() const { return kSpeeds[static_cast<std::size_t>(step_)].text; }

Cycle Pace::due(double seconds, const Timebase& timebase) {
  const auto rate_now = rate(timebase);
  if (!rate_now) return 0;
  owed_ += seconds * *rate_now;
  const double whole = std::floor(owed_);
  owed_ -= whole;
  return static_cast<Cycle>(whole);
}

}  // namespace prewire::front::desk
