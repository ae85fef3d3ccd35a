// One expectation of a running check, and how a machine stands to it.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "lab/meters.h"
#include "lab/plan.h"
#include "lab/tracker.h"
#include "machine/impl.h"

namespace prewire {

/// One expectation, what judges it, and where that gets to know things from.
struct Item {
  enum class Feed : std::uint8_t {
    eye,           ///< the timeline of what a person sees
    edges,         ///< each change of a net
    sample,        ///< one look at one moment
    instructions,  ///< before each instruction
    places,        ///< when the program gets to `address`, or to `other`
    findings,
    stop,
  };
  const ExpectationPlan* plan = nullptr;
  Feed feed = Feed::eye;
  std::unique_ptr<Tracker> tracker;
  StateTracker* state = nullptr;  // `tracker`, by its true type, as are these
  NetMeter* net_meter = nullptr;
  CountMeter* count = nullptr;
  GapMeter* gap = nullptr;
  OccurTracker* occur = nullptr;
  std::optional<EdgeStarter> starter;
  NetId net = -1;
  std::uint16_t address = 0, other = 0;  // of memory or of places; an empty stack
  std::size_t reg = 0;
  std::optional<std::int64_t> value{};  // at the last look, of an item that hears of instructions
  std::string sight{};                  // what the display or LED shows: its text, "on" or "off"
  bool told = false;                    // its failure has been seen to

  /// Nothing that happens can change it, and nothing is measured.
  bool done() const { return tracker->settled() && state != nullptr; }
};

/// How an item stands at this moment.
struct Look {
  bool holds;
  std::string found;
};

/// What the machine shows of an item that has a state.
Look look(const Item& item, const Machine& machine);

/// One number that tells whether there is something new to look at; empty where there is none.
inline std::optional<std::int64_t> value_of(const Item& item, const Machine& machine) {
  if (item.plan->kind != ExpectationPlan::Kind::memory) return machine.cpu().get(item.reg);
  if (item.plan->bytes.empty()) return machine.peek(item.address);
  return std::nullopt;
}

}  // namespace prewire
