// Any bytes as a check file, its checks run on a small machine; the check files in scenarios/ are a corpus.
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

#include "prewire/chips.h"
#include "prewire/lab_check.h"

namespace {

constexpr std::size_t kMostText = 2048;
constexpr std::size_t kMostChecks = 4;

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace prewire;
  if (size > kMostText) return 0;
  static const Registry kRegistry = standard_chips();
  static const Description kMachine = Description::from_text(R"({
    "machine": "fuzz", "cpu": { "type": "mc6800", "clock": "1 MHz" },
    "chips": { "RAM": { "type": "6116", "at": "$0000-$07FF" }, "ROM": { "type": "2716", "at": "$F800-$FFFF" },
               "FLOAT": { "type": "potentiometer" }, "KEY": { "type": "button" }, "FULL": { "type": "led" },
               "R1": { "type": "resistor", "ohms": "330 Ohm" } },
    "wires": [ ["FLOAT.1", "GND"], ["FLOAT.3", "+5V"], ["R1.1", "+5V"], ["R1.2", "FULL.A"], ["FULL.K", "KEY.1"],
               ["KEY.2", "GND"], ["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"], ["CPU.TSC", "GND"] ]
  })",
                                                             "fuzz", kRegistry);
  constexpr CheckLimits kLimits{5'000, 1, 10'000};
  const std::string_view json(reinterpret_cast<const char*>(data), size);
  const auto judge = [](const InputError& error) {
    if (error.faults().empty()) __builtin_trap();
    for (const Fault& fault : error.faults()) {
      if (fault.id.empty() || fault.what.empty()) __builtin_trap();
    }
  };
  try {
    std::vector<LabCheck> checks = read_checks(json, "fuzz");
    if (checks.size() > kMostChecks) checks.erase(checks.begin() + kMostChecks, checks.end());
    for (const LabCheck& check : checks) {
      try {
        CheckRun run(check, kMachine, kLimits);
        while (run.go_on()) {
        }
        if (run.take_result().cycles > kLimits.cycles) __builtin_trap();
      } catch (const InputError& error) {
        judge(error);
      }
    }
  } catch (const InputError& error) {
    judge(error);
  }
  return 0;
}
