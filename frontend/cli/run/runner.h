// Runs a machine in small steps, and between them looks, reports and minds the limits.
#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "prewire/onlooker.h"
#include "prewire/partner.h"
#include "progress.h"
#include "report.h"
#include "shared/condition.h"
#include "shared/limits.h"
#include "shared/standstill.h"
#include "watch_files.h"

namespace prewire::front::cli {

struct RunPlan {
  std::optional<Cycle> end;  ///< the run goes on without one
  std::vector<Condition> until;
  std::vector<Condition> expect;
  Limits limits;
  bool wall_time = true;                         ///< measure it for the summary
  std::function<std::vector<Answer>()> answers;  ///< asked at the end; may be empty
};

/// Who else watches.
struct Watching {
  WatchFiles& files;
  Partner* partner = nullptr;  ///< null: nobody
};

class Runner final : public Observer {
 public:
  /// All of them must outlive the runner.
  Runner(Machine& machine, const RunPlan& plan, Onlooker& onlooker, Report& report, Progress& progress,
         Watching watching);
  ~Runner() override { machine_.unwatch(*this); }

  Outcome run();

 private:
  unsigned wants() const override;
  void on_net(std::string_view net, const NetState& state, Stamp when) override;

  void go_on();
  void mind_limits();
  std::string opcode_at(std::uint16_t pc) const;
  void take(const Stop& stop);
  void finish(Ending ending, std::string why, Exit exit);
  void tell(const std::vector<Event>& events);
  void judge();

  std::chrono::duration<double> wall() const { return std::chrono::steady_clock::now() - started_; }
  Sighting sighting() const { return {machine_, onlooker_, standstill_, over_}; }

  Machine& machine_;
  const RunPlan& plan_;
  Onlooker& onlooker_;
  Report& report_;
  Progress& progress_;
  WatchFiles& files_;
  Partner* const partner_;
  Standstill standstill_;
  bool minds_standstill_ = false;
  const Condition* net_met_ = nullptr;  // seen by `on_net`
  Cycle glance_;
  Cycle next_look_ = 0;
  bool over_ = false;
  Outcome outcome_;
  std::chrono::steady_clock::time_point started_ = std::chrono::steady_clock::now();
};

}  // namespace prewire::front::cli
