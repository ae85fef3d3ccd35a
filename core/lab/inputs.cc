#include "lab/inputs.h"

#include <fmt/format.h>

#include <algorithm>

#include "bus/mix.h"
#include "lab/rewire.h"

namespace prewire {

namespace {

constexpr std::size_t kMostInputs = 12'000;

void add_sweep(const Sweep& sweep, const Timebase& timebase, std::vector<TimedInput>& list) {
  __extension__ using Wide = __int128;
  const Stamp begin = sweep.at.stamp(timebase), length = sweep.over.stamp(timebase);
  const Wide width = Wide{sweep.last} - sweep.first;
  const std::int64_t count = sweep.steps + (sweep.noise ? 0 : 1);
  for (std::int64_t i = 0; i < count; ++i) {
    const Stamp when = begin + static_cast<Stamp>(Wide{length} * i / sweep.steps);
    Wide value = width * i / sweep.steps;
    if (sweep.noise) {
      const std::uint64_t bits = mix(sweep.seed, static_cast<std::uint64_t>(i)) >> 1;
      value = static_cast<Wide>(bits) % (width + 1);
    }
    const auto level = static_cast<std::int64_t>(sweep.first + value);
    list.push_back({when, sweep.part.text, format_quantity(level, sweep.unit), sweep.part.place, sweep.part.place});
  }
}

}  // namespace

std::vector<TimedInput> inputs_of(const LabCheck::Plan& plan, const Timebase& timebase) {
  std::vector<TimedInput> list;
  for (const TimedStimulus& stimulus : plan.stimuli) {
    const Stamp later = stimulus.later ? stimulus.later->stamp(timebase) : 0;
    list.push_back({stimulus.at.stamp(timebase) + later, stimulus.part, stimulus.value, stimulus.part_place,
                    stimulus.value_place});
  }
  for (const Sweep& sweep : plan.sweeps) add_sweep(sweep, timebase, list);
  if (list.size() > kMostInputs) {
    throw InputError(Fault{.id = "out-of-range",
                           .weight = Weight::stop,
                           .place = plan.place,
                           .what = "too much happens in this check",
                           .expected = fmt::format("at most {} inputs", kMostInputs),
                           .found = std::to_string(list.size()),
                           .hint = ""});
  }
  std::stable_sort(list.begin(), list.end(), [](const TimedInput& a, const TimedInput& b) { return a.when < b.when; });
  return list;
}

Machine check_machine(const LabCheck& check, const Description& description) {
  return rewired(check.plan(), description);
}

std::vector<TimedInput> check_inputs(const LabCheck& check, const Timebase& timebase) {
  return inputs_of(check.plan(), timebase);
}

std::optional<Place> power_cycle_of(const LabCheck& check) {
  const auto& cycles = check.plan().power_cycles;
  return cycles.empty() ? std::nullopt : std::optional(cycles.front().place);
}

}  // namespace prewire
