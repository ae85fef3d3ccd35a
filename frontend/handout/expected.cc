#include "expected.h"

#include <fmt/format.h>

#include "prewire/eye.h"

namespace prewire::handout {

namespace {

constexpr Picoseconds kMilliseconds = 1'000'000'000;
constexpr Picoseconds kStill = 250 * kMilliseconds;   // what has not changed for this long is steady
constexpr Picoseconds kMost = 3'000 * kMilliseconds;  // what has not come to rest by then keeps changing
constexpr double kGlow = 0.02;                        // part of the time for which an LED has to be lit to be seen

class Runner {
 public:
  explicit Runner(Machine& machine) : machine_(machine), chips_(machine.chips()) {
    for (std::size_t i = 0; i < chips_.size(); ++i) {
      if (chips_[i].type->looks == Looks::led) leds_.push_back(i);
    }
  }

  Expected run(const std::vector<Positions>& positions) {
    expected_.groups = machine_.displays();
    for (const std::size_t led : leds_) expected_.leds.emplace_back(chips_[led].name);
    for (const Positions& part : positions) {
      for (const std::string& value : part.values) run_one(part.part, value);
    }
    if (expected_.readings.empty()) run_one("", "");
    machine_.power_cycle();
    return std::move(expected_);
  }

 private:
  void run_one(const std::string& part, const std::string& value) {
    machine_.power_cycle();
    if (!part.empty()) machine_.set(part, value);
    Reading reading{.part = part, .value = value, .volts = {}, .texts = {}, .leds = {}, .remark = {}};
    Eye eye(machine_);
    const Timebase& time = machine_.timebase();
    Cycle since = 0;
    for (Picoseconds now = Eye::kGlance;; now += Eye::kGlance) {
      const Stop stop = machine_.run_until(time.cycles(now));
      eye.look();
      const Reading before = reading;
      take(eye, reading);
      if (before.texts != reading.texts || before.leds != reading.leds) since = machine_.now();
      if (stop.reason == StopReason::undefined_opcode) {
        reading.remark = fmt::format("ends at an undefined opcode at ${:04X}", stop.pc);
        break;
      }
      if (machine_.now() - since >= time.cycles(kStill)) break;
      if (now >= kMost) {
        reading.remark = "keeps changing";
        break;
      }
    }
    reading.volts = volts_at(part);
    expected_.readings.push_back(std::move(reading));
  }

  void take(const Eye& eye, Reading& reading) const {
    reading.texts.clear();
    reading.leds.clear();
    for (const std::string& group : expected_.groups) reading.texts.emplace_back(group, eye.display(group));
    for (const std::size_t led : leds_) {
      reading.leds.emplace_back(chips_[led].name, eye.brightness(led, 0) >= kGlow);
    }
  }

  std::string volts_at(const std::string& part) const {
    for (const ChipView& chip : chips_) {
      if (chip.name != part || chip.type->looks != Looks::knob) continue;
      for (const char* pin : {"wiper", "OUT"}) {
        if (chip.type->pin(pin) < 0) continue;
        const auto net = machine_.net(fmt::format("{}.{}", part, pin));
        if (!net || net->strength == Strength::none) continue;
        return fmt::format("{:.3f} V", net->microvolts / 1e6);
      }
    }
    return {};
  }

  Machine& machine_;
  std::vector<ChipView> chips_;
  std::vector<std::size_t> leds_;
  Expected expected_;
};

/// Whether the part takes it, asked of a machine that is switched off and on afterwards.
bool takes(Machine& machine, std::string_view part, const std::string& value) {
  try {
    machine.set(part, value);
    return true;
  } catch (const InputError&) {
    return false;
  }
}

}  // namespace

std::vector<Positions> usual_positions(Machine& machine) {
  std::vector<Positions> all;
  const std::vector<std::vector<std::string>> ways{{"0 %", "25 %", "50 %", "75 %", "100 %"},
                                                   {"0 V", "1 V", "2 V", "3 V", "4 V", "5 V"}};
  const std::vector<std::vector<std::string>> contact_ways{{"open", "closed"}, {"released", "pressed"}};
  for (const ChipView& chip : machine.chips()) {
    const bool knob = chip.type->looks == Looks::knob, contact = chip.type->looks == Looks::contact;
    if ((!knob && !contact) || chip.type->input.empty()) continue;
    for (const std::vector<std::string>& values : knob ? ways : contact_ways) {
      if (!takes(machine, chip.name, values.front())) continue;
      all.push_back({std::string(chip.name), values});
      break;
    }
  }
  machine.power_cycle();
  return all;
}

Expected run_expected(Machine& machine, const std::vector<Positions>& positions) {
  return Runner(machine).run(positions);
}

}  // namespace prewire::handout
