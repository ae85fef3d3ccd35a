// What a run has to say, in one form or another.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "prewire/onlooker.h"
#include "shared/exit.h"
#include "shared/output.h"
#include "shared/telling.h"
#include "watch_files.h"

namespace prewire::front::cli {

using Event = Onlooker::Event;

/// Why a run is over.
enum class Ending : std::uint8_t {
  time_over,
  condition,
  undefined_opcode,
  cycle_limit,
  wall_limit,
  output_limit,
  interrupted,
};

/// "time over", "condition" and so on.
std::string_view to_string(Ending ending);

/// How a run ended.
struct Outcome {
  Ending ending = Ending::time_over;
  std::string why;  ///< one phrase: `the condition display=025 is met`
  Exit exit = Exit::ok;
  bool waited = false;  ///< for a condition that was not met
  std::optional<double> wall_seconds;
  struct Expectation {
    std::string text;
    bool met;
    std::string found;
  };
  std::vector<Expectation> expectations;
  std::vector<WatchFiles::Written> files;
  std::vector<PastInstruction> way_here;  ///< to an undefined opcode
  std::vector<Answer> answers;            ///< to what was asked with --why
};

class Report {
 public:
  virtual ~Report() = default;
  virtual void begin(const Machine& machine) = 0;
  virtual void event(const Machine& machine, const Event& event) = 0;
  virtual void end(const Machine& machine, const Onlooker& onlooker, const Outcome& outcome) = 0;
  /// How much has been said so far.
  virtual std::uint64_t bytes() const = 0;
};

std::unique_ptr<Report> text_report(Output& out);
std::unique_ptr<Report> json_report(Output& out);
/// Says nothing.
std::unique_ptr<Report> no_report();

}  // namespace prewire::front::cli
