// The past of a machine: states kept on the way, thinned out the farther back they lie, and what was done to the
// machine from outside. Running on from a kept state, with the same done to it at the same moments, gives every state
// between.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <vector>

#include "machine/chronicle.h"
#include "machine/impl.h"
#include "prewire/clock.h"
#include "watch/findings.h"
#include "watch/watchers.h"

namespace prewire {

class Past final : public Chronicle {
 public:
  explicit Past(Machine::Impl& machine) : machine_(machine) {}
  /// That of a machine.
  static Past& of(Machine::Impl& machine) { return static_cast<Past&>(*machine.chronicle); }
  static const Past& of(const Machine::Impl& machine) { return static_cast<const Past&>(*machine.chronicle); }

  /// Keeps states worth so many bytes, and what is done from outside. 0: only the recent past, as cheaply as can be.
  void record(std::size_t budget);
  bool recording() const { return budget_ > 0; }
  /// Whether what happens just now is done from outside, once more.
  bool acting() const { return again_; }

  // While the machine runs.
  void forget() override;
  void begin_run() override;
  Cycle next_stop() const override { return std::min(next_checkpoint_, next_deed()); }
  void reached() override;
  void done(Deed deed) override;
  void at_rest() noexcept override;
  /// Keeps no more than without a budget, once nothing is being done any more.
  void stop_recording();

  // Going back.
  Cycle begin() const { return kept_.empty() ? now() : kept_.front().cycle; }
  Cycle end() const { return std::max(end_, now()); }
  const std::deque<Deed>& deeds() const { return deeds_; }
  std::size_t deeds_done() const { return done_; }
  std::size_t bytes() const;
  std::size_t states() const { return kept_.size(); }
  /// Puts the machine where it was, or will be again, with `cycle` cycles over. Observers see nothing of it. If a chip
  /// throws, or the flag that the machine heeds goes up (then it returns false), the machine stays where it is.
  bool go_to(Cycle cycle);

  /// A second look at the past: only `observer` sees it, findings do not count, and at the end the machine is where it
  /// was, whatever has been thrown. Where a bool is returned, false says that the flag that the machine heeds is up:
  /// the machine has not come that far. What the observer throws comes out.
  class Again {
   public:
    Again(Past& past, Observer& observer);
    ~Again();
    Again(const Again&) = delete;
    Again& operator=(const Again&) = delete;
    /// Back to the last kept state at or before `cycle`; returns its cycle. The first one if all are later.
    Cycle rewind(Cycle cycle);
    /// The same, and on to that cycle, unseen.
    bool go_to(Cycle cycle);
    /// Runs on until `cycle` cycles are over; what was done from outside at that moment is not done yet.
    bool run(Cycle cycle) { return past_.advance(cycle, false); }
    /// The same with what was done from outside at that moment, as far as it has been done.
    bool run_through(Cycle cycle);
    /// As `Machine::step_instruction`, but no farther than to `limit`.
    bool step_instruction(Cycle limit);
    /// Puts the machine where it was. Throws what a chip throws; else the end does the same, and says nothing.
    void finish();

   private:
    void put_back();
    Past& past_;
    Watchers others_;
    std::vector<std::uint8_t> present_;
    bool over_ = false;
    std::size_t done_;
    Cycle broken_;
  };

 private:
  struct Kept {
    Cycle cycle = 0;
    std::size_t done = 0;  // deeds before it
    std::vector<std::uint8_t> bytes;
    Findings::Tally tally;
  };

  static std::size_t size_of(const Kept& kept) {
    return sizeof(Kept) + kept.bytes.capacity() + kept.tally.list.capacity() * sizeof(kept.tally.list[0]);
  }
  Cycle now() const;
  Cycle next_deed() const;
  std::size_t last_kept(Cycle cycle) const;
  void keep();
  void make_room();
  void shed_deeds();
  std::size_t most_deeds() const;
  void drop(std::size_t index);
  void restore(const Kept& kept);
  bool advance(Cycle cycle, bool all);
  bool run_to(Cycle cycle);
  void catch_up();
  void carry_out(const Deed& deed);

  Machine::Impl& machine_;
  std::size_t budget_ = 0;
  std::vector<Kept> kept_;  // by cycle
  std::size_t kept_bytes_ = 0;
  std::vector<std::uint8_t> spare_;  // memory of a state that was dropped
  std::deque<Deed> deeds_;           // by cycle
  std::size_t done_ = 0;             // of them
  Cycle end_ = 0;                    // the farthest that it has run since
  Cycle next_checkpoint_ = 0;
  bool stopping_ = false;  // the recording, when nothing is being done any more
  bool again_ = false;     // what is being done has been done before
};

}  // namespace prewire
