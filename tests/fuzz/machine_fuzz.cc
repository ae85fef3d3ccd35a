// Any bytes as a machine description; behind a zero byte, what is done to the machine. A description without faults in
// its data is built and runs for some thousand cycles, at once and cycle by cycle.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <iterator>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/chips.h"
#include "prewire/machine.h"

namespace {

using namespace prewire;

constexpr std::size_t kMostText = 4096;
constexpr std::size_t kMostDeeds = 64;
constexpr Cycle kFirst = 2000;    // without any deed
constexpr Cycle kCompared = 200;  // at the end

/// What is done, one byte after the other; zeros behind the end.
class Deeds {
 public:
  explicit Deeds(std::string_view bytes) : bytes_(bytes.substr(0, kMostDeeds)) {}
  bool over() const { return bytes_.empty(); }
  unsigned next() {
    if (over()) return 0;
    const auto byte = static_cast<unsigned char>(bytes_.front());
    bytes_.remove_prefix(1);
    return byte;
  }

 private:
  std::string_view bytes_;
};

void expect_faults(const InputError& error) {
  if (error.faults().empty()) __builtin_trap();
  for (const Fault& fault : error.faults()) {
    if (fault.id.empty() || fault.what.empty()) __builtin_trap();
  }
}

class Person {
 public:
  explicit Person(Machine& machine) : machine_(machine) {
    for (const ChipView& chip : machine.chips()) {
      if (!chip.type->input.empty()) parts_.emplace_back(chip.name);
    }
    parts_.emplace_back("RESET");
  }

  void do_next(Deeds& deeds) {
    switch (deeds.next() % 8) {
      case 0: machine_.step_cycle(); break;
      case 1: machine_.run_for(static_cast<Cycle>(deeds.next()) * 4); break;
      case 2: input(deeds, std::nullopt); break;
      case 3: input(deeds, deeds.next()); break;
      case 4: {
        const unsigned high = deeds.next(), low = deeds.next();
        machine_.poke(static_cast<std::uint16_t>(high << 8 | low), static_cast<std::uint8_t>(deeds.next()));
        break;
      }
      case 5: kept_ = machine_.save(); break;
      case 6:
        if (kept_) machine_.restore(*kept_);
        break;
      case 7:
        if (deeds.next() % 2 == 0) {
          machine_.reset();
        } else {
          machine_.power_cycle();
        }
        break;
    }
  }

 private:
  void input(Deeds& deeds, std::optional<Stamp> later) {
    static constexpr std::string_view kValues[] = {"pressed", "released", "open", "closed", "0 V",  "2.5 V",
                                                   "-12 V",   "12.1 V",   "0 %",  "50 %",   "1.00", "17 bananas"};
    const std::string& part = parts_[deeds.next() % parts_.size()];
    const std::string_view value = kValues[deeds.next() % std::size(kValues)];
    try {
      if (later) {
        machine_.schedule(part, value, machine_.moment() + *later);
      } else if (part == "RESET") {
        machine_.schedule(part, value, 0);
      } else {
        machine_.set(part, value);
      }
    } catch (const InputError& error) {
      expect_faults(error);
    }
  }

  Machine& machine_;
  std::vector<std::string> parts_;
  std::optional<Snapshot> kept_;
};

/// The same cycles, however they are asked for.
void compare_styles(Machine& machine) {
  const Snapshot start = machine.save();
  const Cycle end = machine.now() + kCompared;
  machine.run_until(end);
  const Snapshot at_once = machine.save();
  const Cycle reached = machine.now();
  machine.restore(start);
  for (Cycle i = 0; i < kCompared && machine.now() < end; ++i) machine.step_cycle();
  if (machine.now() != reached || machine.save() != at_once) __builtin_trap();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Registry kRegistry = standard_chips();
  if (size > kMostText + kMostDeeds) return 0;
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  const std::string_view json = bytes.substr(0, bytes.find('\0'));
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
    Deeds deeds(bytes.substr(std::min(bytes.size(), json.size() + 1)));
    Person person(machine);
    if (deeds.over()) machine.run_for(kFirst);
    while (!deeds.over()) person.do_next(deeds);
    compare_styles(machine);
  } catch (const InputError& error) {
    // A refusal must have been announced by the check.
    expect_faults(error);
    if (std::none_of(faults.begin(), faults.end(), [](const Fault& f) { return f.weight == Weight::stop; })) {
      __builtin_trap();
    }
  }
  return 0;
}
