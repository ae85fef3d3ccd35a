// Any bytes as a machine description, built and run if nothing is wrong with its data; the machines in scenarios/ are a
// corpus.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

#include "prewire/chips.h"
#include "prewire/machine.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace prewire;
  static const Registry kRegistry = standard_chips();
  const std::string_view json(reinterpret_cast<const char*>(data), size);
  const std::vector<Fault> faults = check_machine(json, "fuzz", "", kRegistry);
  for (const Fault& fault : faults) {
    if (fault.id.empty() || fault.what.empty() || fault.place.file != "fuzz") __builtin_trap();
    const bool placed = fault.place.line > 0 && fault.place.column > 0;
    if (!placed && fault.id != "json-too-large") __builtin_trap();
  }
  LoadOptions options;
  options.run_faulty = true;
  try {
    Machine machine = Machine::from_text(json, "fuzz", kRegistry, options);
    machine.run_until(32);
  } catch (const InputError& error) {
    // A refusal must have been announced by the check.
    if (error.faults().empty()) __builtin_trap();
    if (std::none_of(faults.begin(), faults.end(), [](const Fault& f) { return f.weight == Weight::stop; })) {
      __builtin_trap();
    }
  }
  return 0;
}
