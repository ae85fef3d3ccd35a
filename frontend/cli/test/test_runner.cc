#include "test_runner.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <exception>
#include <future>
#include <map>
#include <mutex>
#include <new>
#include <optional>
#include <set>
#include <thread>

#include "failure_files.h"
#include "prewire/assembler.h"
#include "shared/ending.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

using Clock = std::chrono::steady_clock;

/// Each machine file is read once, by whoever needs it first, unless so many others came in between that it was
/// forgotten: a class must not fill the memory.
class Descriptions {
 public:
  explicit Descriptions(const Registry& registry) : registry_(registry) {}

  /// Throws `InputError`, every time again for a faulty file.
  Description get(const std::filesystem::path& file, const LoadOptions& options) {
    std::promise<Description> promise;
    std::shared_future<Description> future;
    bool mine = false;
    {
      const std::lock_guard lock(mutex_);
      const Key key{file.string(), options.programs.string()};
      const auto [place, fresh] = files_.try_emplace(key);
      if (fresh) {
        place->second = promise.get_future().share();
        order_.push_back(key);
      }
      mine = fresh;
      future = place->second;
      if (order_.size() > kMost) {
        files_.erase(order_.front());  // who waits for it has a share of his own
        order_.pop_front();
      }
    }
    if (mine) {
      spdlog::info("reading {}", file.string());
      try {
        promise.set_value(Description::from_file(file, registry_, options));
      } catch (...) {
        promise.set_exception(std::current_exception());
      }
    }
    return future.get();
  }

 private:
  using Key = std::pair<std::string, std::string>;  // machine file, and where its programs are
  static constexpr std::size_t kMost = 300;         // more than there are jobs

  const Registry& registry_;
  std::mutex mutex_;
  std::map<Key, std::shared_future<Description>> files_;
  std::deque<Key> order_;  // the oldest first
};

bool over(Clock::time_point begin, Picoseconds limit) {
  const std::chrono::duration<double> wall = Clock::now() - begin;
  return wall.count() * 1e12 >= static_cast<double>(limit);
}

/// Raises the flags of checks whose time is over, or of all when the program is to end. A machine on which much moves
/// would else be asked too seldom.
class Watchman {
 public:
  struct Watched {
    Clock::time_point reads, begin;
    Picoseconds all, run;  ///< limits from either on
    StopFlag flag{};

    bool over() const { return cli::over(reads, all) || cli::over(begin, run); }
  };

  void begin(Watched& watched) {
    const std::lock_guard lock(mutex_);
    watched_.insert(&watched);
  }
  void end(Watched& watched) {
    const std::lock_guard lock(mutex_);
    watched_.erase(&watched);
  }
  void look() {
    const std::lock_guard lock(mutex_);
    for (Watched* each : watched_) {
      if (interrupted() || each->over()) each->flag.raise();
    }
  }

 private:
  std::mutex mutex_;
  std::set<Watched*> watched_;
};

constexpr std::chrono::milliseconds kWatch{10};

/// One run of a check under its limits.
class Attempt {
 public:
  Attempt(const LabCheck& check, const Description& description, CheckLimits limits, Watchman& watchman,
          Watchman::Watched& watched)
      : watchman_(watchman), watched_(watched), run_(check, description, with_flag(limits, watched)) {
    watched_.run = run_.limits().wall;
    watchman_.begin(watched_);
  }
  ~Attempt() { watchman_.end(watched_); }
  Attempt(const Attempt&) = delete;
  Attempt& operator=(const Attempt&) = delete;

  CheckRun& run() { return run_; }
  /// False when it is over.
  bool go_on() {
    if (!run_.go_on()) return false;
    if (watched_.over()) {
      const Picoseconds limit = over(watched_.reads, watched_.all) ? watched_.all : watched_.run;
      run_.give_up(fmt::format("the limit of {} of real time is reached", format_quantity(limit, Unit::picoseconds)));
      cut_ = true;
    }
    if (interrupted()) {
      run_.give_up("interrupted");
      cut_ = true;
    }
    return true;
  }
  /// Ended by the clock on the wall, or from outside.
  bool cut() const { return cut_; }

 private:
  static CheckLimits with_flag(CheckLimits limits, Watchman::Watched& watched) {
    limits.stop = &watched.flag;
    return limits;
  }

  Watchman& watchman_;
  Watchman::Watched& watched_;
  CheckRun run_;
  bool cut_ = false;
};

/// The first moment at which something was not as expected.
Stamp first_failure(const CheckResult& result) {
  Stamp first = stamp_of(result.cycles);
  for (const ExpectationResult& expectation : result.expectations) {
    if (!expectation.met) first = std::min(first, expectation.when);
  }
  return first;
}

/// A check that has failed, once more: with the lab partner, and with the failure written down. It takes what is left
/// of the check's real time, and is worth nothing if that does not do.
void look_again(const Task& task, const Description& description, Watchman& watchman, Watchman::Watched& watched,
                const TestPlan& plan, Verdict& verdict) {
  const LabCheck& check = *task.check;
  const bool ask = plan.ask && !check.with_the_partner();
  if (!ask && plan.artifacts.empty()) return;
  Attempt attempt(ask ? check.with_partner() : check, description, plan.limits, watchman, watched);
  std::optional<FailureFiles> files;
  if (!plan.artifacts.empty()) files.emplace(plan.artifacts, task, attempt.run(), first_failure(verdict.result));
  while (attempt.go_on()) {
    if (files) files->look();
  }
  if (files) verdict.artifacts = files->finish();
  if (attempt.cut()) return;
  CheckResult seen = attempt.run().take_result();
  verdict.result.findings = std::move(seen.findings);
  verdict.result.remarks = std::move(seen.remarks);
}

void run_check(const Task& task, Descriptions& descriptions, Watchman& watchman, const TestPlan& plan,
               Verdict& verdict) {
  const std::filesystem::path folder = std::filesystem::path(task.file).parent_path();
  const Clock::time_point reads = Clock::now();
  LoadOptions options;
  options.root = !plan.root.empty() ? plan.root : folder.empty() ? "." : folder;
  options.boards = plan.boards;
  options.programs = task.programs;
  options.given = task.given;
  options.stop = [&] { return interrupted() || over(reads, plan.reading); };
  const std::filesystem::path machine = machine_file(*task.check, task.file, plan.root);
  const Description description = descriptions.get(machine, options);
  Watchman::Watched watched{reads, Clock::now(), plan.limits.wall, 0};
  {
    Attempt attempt(*task.check, description, plan.limits, watchman, watched);
    std::optional<Coverage> coverage;
    if (plan.coverage != nullptr) attempt.run().watch(coverage.emplace(attempt.run().machine()));
    while (attempt.go_on()) {
    }
    if (coverage) {
      attempt.run().unwatch(*coverage);
      plan.coverage->add(machine.string(), description, *coverage);
    }
    verdict.result = attempt.run().take_result();
    verdict.kind = verdict.result.passed ? Verdict::Kind::passed : Verdict::Kind::failed;
    if (verdict.result.passed || attempt.cut()) return;
  }
  look_again(task, description, watchman, watched, plan, verdict);
}

Verdict run_task(const Task& task, Descriptions& descriptions, Watchman& watchman, const TestPlan& plan) {
  Verdict verdict;
  verdict.task = &task;
  const Clock::time_point begin = Clock::now();
  const auto fault = [&](std::string id, std::string what, std::string hint) {
    Fault entry;
    entry.id = std::move(id);
    entry.place.file = task.file;
    entry.what = std::move(what);
    entry.hint = std::move(hint);
    verdict.faults = {std::move(entry)};
  };
  try {
    if (task.check && task.faults.empty()) {
      run_check(task, descriptions, watchman, plan, verdict);
    } else {
      verdict.faults = task.faults;
    }
  } catch (const InputError& error) {
    verdict.faults = error.faults();
  } catch (const AssemblyStopped&) {
    fault("check-reading",
          interrupted() ? "interrupted while the machine was read"
                        : "the limit of real time is reached while the machine is read",
          interrupted() ? "" : "`--max-wall` sets how much a check may take");
  } catch (const Trouble& trouble) {
    fault("check-artifacts", trouble.what(), "");
  } catch (const std::bad_alloc&) {
    fault("check-memory", "the memory is used up", "`--max-memory` sets how much all checks may take");
  } catch (const std::exception& error) {
    fault("check-internal", fmt::format("internal error: {}", error.what()), "please report it");
  }
  verdict.seconds = std::chrono::duration<double>(Clock::now() - begin).count();
  return verdict;
}

}  // namespace

std::string_view to_string(Verdict::Kind kind) {
  switch (kind) {
    case Verdict::Kind::passed: return "passed";
    case Verdict::Kind::failed: return "failed";
    case Verdict::Kind::error: return "error";
  }
  return "";
}

bool run_tasks(const std::vector<Task>& tasks, const Registry& registry, const TestPlan& plan,
               const std::function<void(const Verdict&)>& tell) {
  Descriptions descriptions(registry);
  Watchman watchman;
  std::atomic<std::size_t> next{0};
  std::atomic<bool> stop{false};
  std::mutex mutex;
  std::condition_variable more;
  std::map<std::size_t, Verdict> done;
  const auto work = [&] {
    for (;;) {
      if (interrupted() || stop) return;
      const std::size_t index = next++;
      if (index >= tasks.size()) return;
      Verdict verdict = run_task(tasks[index], descriptions, watchman, plan);
      const std::lock_guard lock(mutex);
      done.emplace(index, std::move(verdict));
      more.notify_one();
    }
  };
  const std::size_t count = std::min<std::size_t>(std::max(1U, plan.jobs), std::max<std::size_t>(1, tasks.size()));
  std::vector<std::thread> threads;
  threads.reserve(count);
  std::atomic<std::size_t> working{0};
  try {
    const SignalsHeld held;  // they come to this thread
    while (threads.size() < count) {
      ++working;
      threads.emplace_back([&] {
        work();
        const std::lock_guard lock(mutex);
        --working;
        more.notify_one();
      });
    }
  } catch (const std::exception& error) {
    --working;
    if (threads.empty()) {
      throw Trouble(Exit::input, "no thread can be started to run checks", "room for one at least", error.what(),
                    "`--max-memory` sets how much address space all of them may take");
    }
    spdlog::info("{} threads instead of {}: {}", threads.size(), count, error.what());  // they do the same, later
  }
  std::size_t told = 0;
  std::exception_ptr trouble;
  {
    std::unique_lock lock(mutex);
    while (told < tasks.size() && !trouble) {
      while (!more.wait_for(lock, kWatch, [&] { return done.contains(told) || working == 0; })) watchman.look();
      const auto ready = done.find(told);
      if (ready == done.end()) break;  // nobody works any more
      const Verdict verdict = std::move(ready->second);
      done.erase(ready);
      ++told;
      lock.unlock();
      try {
        tell(verdict);
      } catch (...) {
        trouble = std::current_exception();  // nobody reads, or nowhere to write
        stop = true;
      }
      lock.lock();
    }
  }
  for (std::thread& thread : threads) thread.join();
  if (trouble) std::rethrow_exception(trouble);
  return told == tasks.size() && !interrupted();
}

}  // namespace prewire::front::cli
