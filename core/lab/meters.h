// Trackers that measure: frequency, width and duty of a net, cycles between places of the program.
#pragma once

#include <fmt/format.h>

#include "lab/plan.h"
#include "lab/tracker.h"

namespace prewire {

/// Measures in a window, and judges what it has measured when the window is over. After a failure it goes on to
/// measure: somebody may want to know the bounds.
class Meter : public Tracker {
 public:
  explicit Meter(const Window& window) : window_(window) {}
  void pass(Stamp now) override {
    if (now > window_.to) finish(window_.to);
  }

 protected:
  bool inside(Stamp when) const { return when >= window_.from && when <= window_.to; }

 private:
  const Window window_;
};

/// Hears of the levels of a net. Levels other than high and low are passed over.
class NetMeter : public Meter {
 public:
  using Meter::Meter;
  void level(Stamp when, Level level) {
    pass(when);
    if (level != Level::high && level != Level::low) return;
    const bool high = level == Level::high;
    if (!known_) {
      known_ = true;
    } else if (high != high_) {
      edge(when, high);
    }
    high_ = high;
  }

 protected:
  virtual void edge(Stamp when, bool rise) = 0;

 private:
  bool known_ = false, high_ = false;
};

/// Rising edges between the first and the last one of the window, and how long the net is high in between.
class WaveMeter final : public NetMeter {
 public:
  WaveMeter(const Window& window, bool duty, const Bounds& bounds, const Timebase& timebase)
      : NetMeter(window), duty_(duty), bounds_(bounds), timebase_(timebase) {}

  void finish(Stamp now) override {
    if (settled()) return;
    if (rises_ < 2) return settle(false, now, fmt::format("{} rising edge{}", rises_, rises_ == 1 ? "" : "s"));
    using Wide = Bounds::Wide;
    const Wide span = last_rise_ - first_rise_;
    if (span == 0) return settle(false, now, fmt::format("{} rising edges at one moment", rises_));
    const Wide top = duty_ ? Wide{high_} * 1'000'000 : Wide{rises_ - 1} * 4 * timebase_.millihertz();
    const auto value = static_cast<std::int64_t>((top + span / 2) / span);
    measure(value);
    std::string shown =
        duty_ ? fmt::format("{}.{:04} %", value / 10'000, value % 10'000) : format_quantity(value, Unit::millihertz);
    const bool holds = bounds_.hold(top, span);
    if (!holds && bounds_.hold(value)) shown.insert(0, top < value * span ? "just below " : "just above ");
    settle(holds, now, shown);
  }

 private:
  void edge(Stamp when, bool rise) override {
    if (!inside(when)) return;
    if (!rise) {
      last_fall_ = when;
      return;
    }
    if (rises_ == 0) {
      first_rise_ = when;
    } else {
      high_ += last_fall_ - last_rise_;
    }
    last_rise_ = when;
    ++rises_;
  }

  const bool duty_;
  const Bounds bounds_;
  const Timebase timebase_;
  std::int64_t rises_ = 0;
  Stamp first_rise_ = 0, last_rise_ = 0, last_fall_ = 0, high_ = 0;
};

/// Spans of time, each of which must be in bounds.
class SpanJudge {
 public:
  SpanJudge(Stamp least, Stamp most, const Timebase& timebase) : least_(least), most_(most), timebase_(timebase) {}
  bool holds(Stamp span) const { return span >= least_ && span <= most_; }

  /// "12.25 cycles (12.25 us)".
  std::string shown(Stamp span) const {
    static constexpr const char* kQuarters[] = {"", ".25", ".5", ".75"};
    return fmt::format("{}{} cycle{} ({})", span / 4, kQuarters[span % 4], span == 4 ? "" : "s",
                       format_time(span, timebase_));
  }
  std::string range(Stamp least, Stamp most) const {
    return least == most ? shown(least) : fmt::format("{} to {}", shown(least), shown(most));
  }

 private:
  const Stamp least_, most_;
  const Timebase timebase_;
};

class PulseMeter final : public NetMeter {
 public:
  PulseMeter(const Window& window, Level level, const SpanJudge& judge)
      : NetMeter(window), high_(level == Level::high), judge_(judge) {}

  void finish(Stamp now) override {
    if (settled()) return;
    if (!smallest()) return settle(false, now, "no whole pulse");
    settle(true, now, judge_.range(*smallest(), *largest()));
  }

 private:
  void edge(Stamp when, bool rise) override {
    if (rise == high_) {
      begun_ = inside(when) ? when : -1;
      return;
    }
    if (begun_ < 0 || !inside(when)) return;
    const Stamp width = when - begun_;
    begun_ = -1;
    measure(width);
    if (!judge_.holds(width)) settle(false, when, judge_.shown(width));
  }

  const bool high_;
  const SpanJudge judge_;
  Stamp begun_ = -1;
};

/// How often the program gets to a place.
class CountMeter final : public Meter {
 public:
  CountMeter(const Window& window, const Bounds& bounds) : Meter(window), bounds_(bounds) {}
  void arrive(Stamp when) {
    pass(when);
    if (!inside(when)) return;
    ++count_;
    if (bounds_.most && count_ > *bounds_.most) settle(false, when, fmt::format("the {}. time", count_));
  }
  void finish(Stamp now) override {
    measure(count_);
    settle(bounds_.hold(count_), now, count_ == 0 ? "never" : count_ == 1 ? "once" : fmt::format("{} times", count_));
  }

 private:
  const Bounds bounds_;
  std::int64_t count_ = 0;
};

/// From one event to the next one of another kind: cycles between two places, latency of an interrupt.
class GapMeter final : public Meter {
 public:
  /// `renews`: begins anew when the first event comes again; else counts from the first one that was not answered.
  GapMeter(const Window& window, bool renews, const SpanJudge& judge) : Meter(window), renews_(renews), judge_(judge) {}

  void begin(Stamp when) {
    pass(when);
    if (!inside(when) || (begun_ >= 0 && !renews_)) return;
    begun_ = when;
  }
  void end(Stamp when) {
    pass(when);
    if (begun_ < 0 || !inside(when)) return;
    const Stamp gap = when - begun_;
    begun_ = -1;
    measure(gap);
    if (!judge_.holds(gap)) settle(false, when, judge_.shown(gap));
  }
  void finish(Stamp now) override {
    if (settled()) return;
    if (!smallest()) return settle(false, now, begun_ < 0 ? "it never began" : "it never ended");
    settle(true, now, judge_.range(*smallest(), *largest()));
  }

 private:
  const bool renews_;
  const SpanJudge judge_;
  Stamp begun_ = -1;
};

/// The edges of a net that begin a `GapMeter`.
class EdgeStarter final {
 public:
  explicit EdgeStarter(bool rise) : rise_(rise) {}
  bool starts(Level level) {
    const EdgeSense::Edge edge = sense_.sense(level);
    return edge == (rise_ ? EdgeSense::Edge::rise : EdgeSense::Edge::fall);
  }
  void start(Level level) { sense_.start(level); }

 private:
  const bool rise_;
  EdgeSense sense_;
};

/// Happens or not, at any time.
class OccurTracker final : public Tracker {
 public:
  explicit OccurTracker(bool wanted) : wanted_(wanted) {}
  void occur(Stamp when, const std::string& what) { settle(wanted_, when, what); }
  void finish(Stamp now) override { settle(!wanted_, now, wanted_ ? "it did not" : ""); }

 private:
  const bool wanted_;
};

}  // namespace prewire
