#include "history/past.h"

#include <algorithm>
#include <cassert>
#include <iterator>
#include <limits>
#include <utility>

namespace prewire {

namespace {

// Between two states that are kept; to keep one costs about a microsecond, to run this far again a millisecond.
constexpr Cycle kEvery = 1'000'000;
// After a long way back a state this far before it is kept, too: the next steps back are short.
constexpr Cycle kNear = 8'192;
// Without a budget.
constexpr std::size_t kFewStates = 2;
constexpr std::size_t kFewDeeds = 1024;
// With one, however small.
constexpr std::size_t kLeastDeeds = 64;

/// All observers but `these` are away while it lives.
class Stage {
 public:
  Stage(Watchers& all, Watchers& these) : all_(all), these_(these) { all_.swap(these_); }
  Stage(const Stage&) = delete;
  Stage& operator=(const Stage&) = delete;
  ~Stage() { all_.swap(these_); }

 private:
  Watchers& all_;
  Watchers& these_;
};

/// The processor heeds no flag while it lives.
class Deaf {
 public:
  explicit Deaf(Processor& processor) : processor_(processor), flag_(processor.heeded()) { processor_.heed(nullptr); }
  Deaf(const Deaf&) = delete;
  Deaf& operator=(const Deaf&) = delete;
  ~Deaf() { processor_.heed(flag_); }

 private:
  Processor& processor_;
  const StopFlag* const flag_;
};

/// A flag that is up while it lives.
class While {
 public:
  explicit While(bool& flag) : flag_(flag) { flag_ = true; }
  While(const While&) = delete;
  While& operator=(const While&) = delete;
  ~While() { flag_ = false; }

 private:
  bool& flag_;
};

}  // namespace

std::unique_ptr<Chronicle> make_chronicle(Machine::Impl& machine) { return std::make_unique<Past>(machine); }

Cycle Past::now() const { return machine_.clock.now; }

Cycle Past::next_deed() const {
  return done_ < deeds_.size() ? deeds_[done_].cycle : std::numeric_limits<Cycle>::max();
}

std::size_t Past::bytes() const { return kept_bytes_ + deeds_.size() * sizeof(Deed); }

void Past::record(std::size_t budget) {
  const bool before = recording();
  budget_ = budget;
  if (recording() && !before) forget();
  if (recording() && kept_.empty()) keep();
  make_room();
}

void Past::stop_recording() {
  stopping_ = true;
  if (!machine_.busy) at_rest();
}

void Past::at_rest() noexcept {
  if (stopping_) record(0);
  stopping_ = false;
}

void Past::forget() {
  kept_.clear();
  kept_bytes_ = 0;
  deeds_.clear();
  done_ = 0;
  end_ = now();
  next_checkpoint_ = now();
  // Deeds before the first run count only if somebody may ask for them.
  if (recording()) keep();
}

// ---------------------------------------------------------------------------------------------------------------------
// While the machine runs

void Past::begin_run() {
  if (kept_.empty()) keep();
}

void Past::reached() {
  if (now() >= next_checkpoint_) keep();
  end_ = std::max(end_, now());
  catch_up();
}

void Past::done(Deed deed) {
  if (again_) return;
  if (kept_.empty()) return;
  deeds_.resize(done_);
  while (kept_.size() > 1 && kept_.back().cycle > now()) drop(kept_.size() - 1);
  end_ = now();
  next_checkpoint_ = std::min(next_checkpoint_, now() + kEvery);
  deed.cycle = now();
  deed.moment = machine_.clock.moment;
  deed.between = machine_.cpu->cycles_into_instruction() == 0;
  deeds_.push_back(deed);
  ++done_;
  shed_deeds();
  make_room();
}

/// No more than so many are kept, with however many states.
std::size_t Past::most_deeds() const { return std::max(kLeastDeeds, budget_ / 2 / sizeof(Deed)); }

/// Deeds are needed to run on from the state before them. So states go with theirs, the oldest first, and at last, if
/// all of this has been done since the only state that is left, the past begins anew.
void Past::shed_deeds() {
  if (!recording()) {
    if (deeds_.size() > kFewDeeds) forget();
    return;
  }
  while (deeds_.size() > most_deeds() && kept_.size() > 1) drop(0);
  if (deeds_.size() > most_deeds()) return forget();
  // Many of them between two states would have to go at once: let the next state come soon.
  if (deeds_.size() - kept_.back().done > most_deeds() / 4) next_checkpoint_ = std::min(next_checkpoint_, now() + 1);
}

/// Keeps this state, before what is done from outside at this moment.
void Past::keep() {
  const std::size_t after = kept_.empty() ? 0 : last_kept(now()) + (kept_.front().cycle <= now() ? 1 : 0);
  next_checkpoint_ = now() + kEvery;
  if (after < kept_.size()) next_checkpoint_ = std::min(next_checkpoint_, std::max(kept_[after].cycle, now() + 1));
  if (after > 0 && kept_[after - 1].cycle == now()) return;
  if (done_ > 0 && deeds_[done_ - 1].cycle == now()) return;  // too late; the next time will do
  Kept kept;
  kept.cycle = now();
  kept.done = done_;
  kept.bytes = std::move(spare_);
  spare_ = {};
  if (!kept_.empty()) kept.bytes.resize(kept_.back().bytes.size());  // about as much
  machine_.save(kept.bytes);
  kept.tally = machine_.findings.tally();
  kept_bytes_ += size_of(kept);
  kept_.insert(kept_.begin() + static_cast<std::ptrdiff_t>(after), std::move(kept));
  make_room();
}

void Past::make_room() {
  if (!recording()) {
    while (kept_.size() > kFewStates) drop(0);
    return;
  }
  // Two states always stay; the deeds after the first one are needed to run on from it.
  while (kept_.size() > 2 && bytes() > budget_) {
    // The one whose loss makes the smallest gap for its age: dense near now, sparse far away. The ends stay.
    std::size_t least = 1;
    double cost = std::numeric_limits<double>::max();
    for (std::size_t i = 1; i + 1 < kept_.size(); ++i) {
      const auto gap = static_cast<double>(kept_[i + 1].cycle - kept_[i - 1].cycle);
      const auto age = static_cast<double>(std::abs(now() - kept_[i].cycle) + kNear);
      if (gap / age >= cost) continue;
      cost = gap / age;
      least = i;
    }
    drop(least);
  }
}

void Past::drop(std::size_t index) {
  Kept& kept = kept_[index];
  kept_bytes_ -= size_of(kept);
  spare_ = std::move(kept.bytes);
  kept_.erase(kept_.begin() + static_cast<std::ptrdiff_t>(index));
  if (index > 0 || kept_.empty()) return;
  const std::size_t gone = kept_.front().done;
  if (gone == 0) return;
  deeds_.erase(deeds_.begin(), deeds_.begin() + static_cast<std::ptrdiff_t>(gone));
  done_ -= std::min(done_, gone);
  for (Kept& rest : kept_) rest.done -= gone;
}

// ---------------------------------------------------------------------------------------------------------------------
// Going back

std::size_t Past::last_kept(Cycle cycle) const {
  const auto later =
      std::upper_bound(kept_.begin(), kept_.end(), cycle, [](Cycle at, const Kept& kept) { return at < kept.cycle; });
  return later == kept_.begin() ? 0 : static_cast<std::size_t>(later - kept_.begin()) - 1;
}

void Past::restore(const Kept& kept) {
  machine_.load(kept.bytes);
  done_ = kept.done;
}

void Past::carry_out(const Deed& deed) {
  const While again(again_);
  // Who stepped there has seen RESET cut the instruction short; a run to the cycle leaves that to the next one.
  if (deed.between && machine_.cpu->cycles_into_instruction() > 0) {
    const Deaf deaf(*machine_.cpu);  // it takes no time, and must not be left out
    machine_.go(now() + 1, true);
  }
  switch (deed.kind) {
    case Deed::Kind::input: machine_.carry_out(deed.input); break;
    case Deed::Kind::schedule: machine_.schedule(deed.input); break;
    case Deed::Kind::poke: machine_.bus.poke(deed.where, static_cast<std::uint8_t>(deed.value)); break;
    case Deed::Kind::set_register: machine_.cpu->set(deed.where, deed.value); break;
    case Deed::Kind::reset: machine_.pull_reset(); break;
  }
}

/// What was done from outside up to now.
void Past::catch_up() {
  while (next_deed() <= now()) carry_out(deeds_[done_++]);
}

/// Runs on through what has happened before. `all`: with what was done from outside at that moment.
bool Past::advance(Cycle cycle, bool all) {
  for (;;) {
    if (now() < cycle || all) catch_up();
    machine_.watchers.rethrow();
    if (now() >= cycle) return true;
    const Stop stop = machine_.go(std::min(cycle, next_deed()));
    machine_.watchers.rethrow();
    if (stop.reason == StopReason::interrupted) return false;
    if (stop.reason == StopReason::undefined_opcode && now() < std::min(cycle, next_deed())) return true;
  }
}

bool Past::go_to(Cycle cycle) {
  assert(cycle >= begin() && cycle <= end());
  if (kept_.empty()) keep();
  end_ = std::max(end_, now());
  std::vector<std::uint8_t> present;
  machine_.save(present);
  Findings::Kept findings = machine_.findings.keep();
  const std::size_t done = done_;
  const Cycle broken = machine_.cpu->broken();
  const auto stay = [&] {
    machine_.load_if_possible(present);
    machine_.findings.put_back(std::move(findings));
    machine_.cpu->set_broken(broken);
    done_ = done;
  };
  try {
    Watchers nobody;
    const Stage stage(machine_.watchers, nobody);
    if (!run_to(cycle)) {
      stay();
      return false;
    }
  } catch (...) {
    stay();
    throw;
  }
  const std::size_t here = last_kept(now());
  next_checkpoint_ = here + 1 < kept_.size() ? std::max(kept_[here + 1].cycle, now() + 1) : kept_[here].cycle + kEvery;
  next_checkpoint_ = std::max(next_checkpoint_, now() + 1);
  // Whoever goes to a breakpoint knows of it.
  const Processor& cpu = *machine_.cpu;
  const bool there = cpu.cycles_into_instruction() == 0 && machine_.bus.breakpoint(cpu.pc());
  machine_.cpu->set_broken(there ? now() : -1);
  return true;
}

bool Past::run_to(Cycle cycle) {
  if (cycle < now()) {
    const Kept& kept = kept_[last_kept(cycle)];
    restore(kept);
    machine_.findings.go_back(kept.tally);
  }
  if (recording() && cycle - now() > 2 * kNear) {
    if (!advance(cycle - kNear, false)) return false;
    keep();
  }
  return advance(cycle, true);
}

Past::Again::Again(Past& past, Observer& observer)
    : past_(past), done_(past.done_), broken_(past.machine_.cpu->broken()) {
  if (past_.kept_.empty()) past_.keep();  // a chip has thrown when it was to be kept
  past_.machine_.save(present_);
  others_.add(observer);
  past_.machine_.watchers.swap(others_);
  past_.machine_.findings.mute(true);
}

Past::Again::~Again() {
  if (over_) return;
  past_.machine_.load_if_possible(present_);
  put_back();
}

void Past::Again::finish() {
  past_.machine_.load(present_);
  put_back();
  over_ = true;
}

/// All but the state.
void Past::Again::put_back() {
  past_.done_ = done_;
  past_.machine_.cpu->set_broken(broken_);
  past_.machine_.findings.mute(false);
  past_.machine_.watchers.swap(others_);
}

Cycle Past::Again::rewind(Cycle cycle) {
  const Kept& kept = past_.kept_[past_.last_kept(cycle)];
  past_.restore(kept);
  return kept.cycle;
}

bool Past::Again::go_to(Cycle cycle) {
  Watchers nobody;
  const Stage stage(past_.machine_.watchers, nobody);
  rewind(cycle);
  return past_.advance(cycle, false);
}

bool Past::Again::run_through(Cycle cycle) {
  if (!past_.advance(cycle, false)) return false;
  while (past_.done_ < done_ && past_.next_deed() <= cycle) past_.carry_out(past_.deeds_[past_.done_++]);
  past_.machine_.watchers.rethrow();
  return true;
}

bool Past::Again::step_instruction(Cycle limit) {
  for (;;) {
    if (past_.now() < limit) past_.catch_up();
    const Cycle leg = std::min(limit, past_.next_deed());
    const Stop stop = past_.machine_.go(leg, true);
    past_.machine_.watchers.rethrow();
    if (stop.reason == StopReason::interrupted) return false;
    const bool cut = stop.reason == StopReason::limit && stop.mid_instruction && stop.cycle < limit;
    if (stop.reason != StopReason::breakpoint && !cut) return true;
  }
}

}  // namespace prewire
