// Pure logic whose outputs can never change, and its open inputs.
#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "description/circuit.h"
#include "description/values.h"
#include "description/wires.h"

namespace prewire {

namespace {

class LogicRules {
 public:
  LogicRules(const Circuit& circuit, int chip, FaultList& faults)
      : circuit_(circuit), chip_(chip), type_(circuit.type(chip)), faults_(faults) {
    for (int pin = 0; pin < static_cast<int>(type_.pins.size()); ++pin) {
      levels_.push_back(constant(pin));
      if (known(levels_.back())) fixed_.push_back(pin);
    }
  }

  std::vector<int> check() {
    if (!circuit_.on_bus(chip_)) check_stuck();
    std::vector<std::string> untidy;
    for (const int pin : fixed_) {
      if (!open(pin) || std::find(spoken_.begin(), spoken_.end(), pin) != spoken_.end()) continue;
      const bool spare = circuit_.pin({chip_, pin}).use == PinUse::spare;
      if (!spare && circuit_.matters({chip_, pin})) continue;
      spoken_.push_back(pin);
      untidy.emplace_back(type_.pins[static_cast<std::size_t>(pin)].name);
    }
    if (!untidy.empty()) {
      const bool one = untidy.size() == 1;
      faults_.add(
          "open-logic-input", Weight::hint, circuit_.chip_place(chip_),
          fmt::format("{} of {} {} open and {} as high: {}", one ? "an input" : "inputs",
                      circuit_.spec().name_of(chip_), one ? "is" : "are", one ? "counts" : "count", pin_list(untidy)),
          "a wire at each input, or GND or +5V where it is not used", "",
          "tie them: an open TTL input picks up noise, and so does the unused gate behind it");
    }
    return spoken_;
  }

 private:
  bool open(int pin) const { return circuit_.nets().index_at({chip_, pin}) < 0; }

  /// The level of an input that never changes; an open TTL input is high.
  Logic constant(int pin) const {
    const PinRef ref{chip_, pin};
    const PinSpec& what = circuit_.pin(ref);
    const bool input = what.kind == PinKind::input || (drives(what.kind) && what.listens);
    const int net = circuit_.nets().index_at(ref);
    if (!input) return Logic::unknown;
    if (net < 0) return what.kind == PinKind::input ? Logic::high : Logic::unknown;
    // An open drain that nothing pulls up is another fault.
    if (!circuit_.rail(net) && !circuit_.names(circuit_.net(net), PinKind::open_drain).empty()) return Logic::unknown;
    const Span& span = circuit_.span(net);
    return span.always_low() ? Logic::low : span.always_high() ? Logic::high : Logic::unknown;
  }

  /// What comes out, with those inputs at their other level.
  std::vector<Logic> outputs(std::initializer_list<int> turned) const {
    std::vector<Logic> pins = levels_;
    for (const int pin : turned) pins[static_cast<std::size_t>(pin)] = !pins[static_cast<std::size_t>(pin)];
    type_.logic(pins);
    return pins;
  }

  struct Stuck {
    std::vector<int> causes;
    Logic value;
    std::vector<std::string> outputs;
  };

  /// Constant outputs that would follow other inputs if one or two that never change were the other way.
  void check_stuck() {
    const std::vector<Logic> now = outputs({});
    std::vector<Stuck> found;
    for (int pin = 0; pin < static_cast<int>(type_.pins.size()); ++pin) {
      const Logic value = now[static_cast<std::size_t>(pin)];
      const PinSpec& what = circuit_.pin({chip_, pin});
      if (!drives(what.kind) || value == Logic::unknown || circuit_.open({chip_, pin})) continue;
      const std::vector<int> causes = causes_of(pin);
      if (causes.empty()) continue;
      auto same = std::find_if(found.begin(), found.end(),
                               [&](const Stuck& stuck) { return stuck.causes == causes && stuck.value == value; });
      if (same == found.end()) same = found.insert(found.end(), {causes, value, {}});
      same->outputs.emplace_back(what.name);
    }
    for (Stuck& stuck : found) {
      std::sort(stuck.outputs.begin(), stuck.outputs.end(), [](const std::string& a, const std::string& b) {
        return a.size() == b.size() ? a < b : a.size() < b.size();
      });
      report(stuck);
    }
  }

  std::vector<int> causes_of(int output) const {
    const auto frees = [&](std::initializer_list<int> turned) {
      return outputs(turned)[static_cast<std::size_t>(output)] == Logic::unknown;
    };
    for (const int pin : fixed_) {
      if (frees({pin})) return {pin};
    }
    for (std::size_t i = 0; i < fixed_.size(); ++i) {
      for (std::size_t j = i + 1; j < fixed_.size(); ++j) {
        if (frees({fixed_[i], fixed_[j]})) return {fixed_[i], fixed_[j]};
      }
    }
    return {};
  }

  void report(const Stuck& stuck) {
    std::vector<std::string> causes;
    bool said = false;  // by the rule about inputs that disable their chip
    for (const int pin : stuck.causes) {
      const PinSpec& what = circuit_.pin({chip_, pin});
      const bool low = levels_[static_cast<std::size_t>(pin)] == Logic::low;
      said = said || (!open(pin) && !(low ? what.held_low : what.held_high).empty());
      causes.push_back(fmt::format("{} {}", circuit_.name(PinRef{chip_, pin}), how(pin, low)));
    }
    if (said) return;
    spoken_.insert(spoken_.end(), stuck.causes.begin(), stuck.causes.end());
    const bool one = stuck.outputs.size() == 1;
    const char* word = stuck.value == Logic::low ? "low" : stuck.value == Logic::high ? "high" : "off";
    const bool low = levels_[static_cast<std::size_t>(stuck.causes.front())] == Logic::low;
    const PinRef first{chip_, type_.pin(stuck.outputs.front())};
    faults_.add("logic-stuck", Weight::warn, circuit_.place(*circuit_.nets().at(first)),
                fmt::format("{}.{} {} {} for ever, whatever its other inputs do: {}", circuit_.spec().name_of(chip_),
                            pin_list(stuck.outputs), one ? "is" : "are", word, fmt::join(causes, "; ")),
                "inputs that let the others through", "",
                fmt::format("wire {} to {}, or to what should decide",
                            circuit_.name(PinRef{chip_, stuck.causes.front()}), low ? "+5V" : "GND"));
  }

  std::string how(int pin, bool low) const {
    if (open(pin)) return "is open, which counts as high";
    const int net = circuit_.nets().index_at({chip_, pin});
    if (circuit_.rail(net)) return fmt::format("is tied to {}", circuit_.name(net));
    return fmt::format("is pulled to {}", low ? "GND" : "+5V");
  }

  const Circuit& circuit_;
  const int chip_;
  const ChipType& type_;
  FaultList& faults_;
  std::vector<Logic> levels_;  // by pin
  std::vector<int> fixed_;     // inputs that never change
  std::vector<int> spoken_;    // open inputs of which all has been said
};

}  // namespace

std::vector<int> check_logic(const Circuit& circuit, int chip, FaultList& faults) {
  return LogicRules(circuit, chip, faults).check();
}

}  // namespace prewire
