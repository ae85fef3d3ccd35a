// LEDs and digits that cannot be lit the way they are wired, or that nothing protects.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>
#include <vector>

#include "description/circuit.h"
#include "description/lamps.h"
#include "description/values.h"
#include "description/wires.h"

namespace prewire {

namespace {

class LampRules {
 public:
  LampRules(const Circuit& circuit, FaultList& faults) : circuit_(circuit), faults_(faults) {}

  void check() {
    for (int chip : circuit_.chips()) {
      if (chip < 0 || !circuit_.is_lamp(chip)) continue;
      const std::vector<Diode> diodes = diodes_of(circuit_, chip);
      if (circuit_.type(chip).looks == Looks::led || !check_driver(chip, diodes)) check_direction(chip, diodes);
      check_resistors(chip, diodes);
    }
    check_selects();
  }

 private:
  /// The most that the diode can get one way, in microvolts.
  std::int64_t most(int from, int to) const {
    return std::int64_t{circuit_.span(from).highest} - circuit_.span(to).lowest;
  }
  bool known(const Diode& diode) const {
    return diode.anode >= 0 && diode.cathode >= 0 && diode.anode != diode.cathode && circuit_.span(diode.anode).any() &&
           circuit_.span(diode.cathode).any();
  }
  bool can_light(const Diode& diode) const { return most(diode.anode, diode.cathode) >= diode.forward; }

  /// COM of a digit is at the rail of the other kind, and something could move the segment.
  bool wrong_rail(int chip, const Diode& diode) const {
    if (circuit_.type(chip).looks != Looks::digit) return false;
    if (common_anode(circuit_, chip)) return circuit_.span(diode.anode).always_low() && !circuit_.rail(diode.cathode);
    return circuit_.span(diode.cathode).always_high() && !circuit_.rail(diode.anode);
  }

  void check_direction(int chip, const std::vector<Diode>& diodes) {
    bool backwards = false;
    for (const Diode& diode : diodes) {
      if (diode.optional || !known(diode)) continue;
      if (can_light(diode)) return;
      backwards = backwards || most(diode.cathode, diode.anode) >= diode.forward || wrong_rail(chip, diode);
    }
    if (!backwards) return;
    const std::string& name = circuit_.spec().name_of(chip);
    if (circuit_.type(chip).looks == Looks::led) {
      faults_.add("led-reversed", Weight::warn, circuit_.chip_place(chip),
                  fmt::format("{} is the wrong way round: its anode, {}.A, can never be above its cathode, {}.K", name,
                              name, name),
                  "the anode on the side of +5V", "", "exchange A and K; the cathode is the short lead");
      return;
    }
    const bool anode = common_anode(circuit_, chip);
    faults_.add("digit-wrong-common", Weight::warn, circuit_.chip_place(chip),
                fmt::format("{} has a common {}, and {}.COM is never {} its segments: nothing can be lit", name,
                            anode ? "anode" : "cathode", name, anode ? "above" : "below"),
                fmt::format("COM on the side of {}", anode ? "+5V" : "GND"), "",
                fmt::format("wire COM to {}, or take a digit with a common {}", anode ? "+5V" : "GND",
                            anode ? "cathode" : "anode"));
  }

  /// Decoders are made for one kind of digit or the other.
  bool check_driver(int chip, const std::vector<Diode>& diodes) {
    const bool anode = common_anode(circuit_, chip);
    const PinUse wrong = anode ? PinUse::lights_high : PinUse::lights_low;
    for (const Diode& diode : diodes) {
      const int net = anode ? diode.cathode : diode.anode;
      for (PinRef ref : around(net)) {
        if (circuit_.pin(ref).use != wrong) continue;
        const std::string& name = circuit_.spec().name_of(chip);
        const std::string& driver = circuit_.spec().name_of(ref.chip);
        faults_.add("digit-wrong-common", Weight::warn, circuit_.chip_place(chip),
                    fmt::format("{} has a common {}, and {} drives digits with a common {}: a {} is for {}", name,
                                anode ? "anode" : "cathode", driver, anode ? "cathode" : "anode",
                                circuit_.type(ref.chip).name, anode ? "highs on lit segments" : "lows on lit segments"),
                    fmt::format("a digit with a common {}, and its COM at {}", anode ? "cathode" : "anode",
                                anode ? "GND" : "+5V"),
                    fmt::format("common {}", anode ? "anode" : "cathode"),
                    "take the other digit, or the other decoder");
        return true;
      }
    }
    return false;
  }

  /// Pins on a net and on the other side of resistors on it.
  std::vector<PinRef> around(int net) const {
    if (net < 0 || circuit_.rail(net)) return {};
    std::vector<PinRef> pins = circuit_.net(net).pins;
    for (const Way& way : circuit_.ways(net)) {
      if (way.net < 0 || !circuit_.ohms(way.from.chip) || circuit_.rail(way.net)) continue;
      const auto& beyond = circuit_.net(way.net).pins;
      pins.insert(pins.end(), beyond.begin(), beyond.end());
    }
    return pins;
  }

  /// Whether nothing but the diode limits what flows.
  bool stiff(int net) const {
    if (circuit_.rail(net)) return true;
    const auto& pins = circuit_.net(net).pins;
    return std::any_of(pins.begin(), pins.end(), [&](PinRef ref) {
      const PinSpec& pin = circuit_.pin(ref);
      if (pin.limits != nullptr && pin.limits->steady) return false;
      return drives(pin.kind) || circuit_.is_source(ref);
    });
  }

  void check_resistors(int chip, const std::vector<Diode>& diodes) {
    std::vector<std::string> bare;
    for (const Diode& diode : diodes) {
      if (!known(diode) || !can_light(diode) || !stiff(diode.anode) || !stiff(diode.cathode)) continue;
      bare.push_back(circuit_.type(chip).looks == Looks::led ? circuit_.spec().name_of(chip)
                                                             : circuit_.name(PinRef{chip, diode.pin}));
    }
    if (bare.empty()) return;
    faults_.add("led-no-resistor", Weight::warn, circuit_.chip_place(chip),
                fmt::format("nothing limits the current through {}", list_of(bare)), "a resistor in series", "",
                circuit_.type(chip).looks == Looks::led
                    ? "put a resistor in series: 910 Ohm or more at a port, 270 to 330 Ohm at a driver"
                    : "put a resistor in series with each segment");
  }

  /// Digits with the same segments are told apart by COM alone.
  void check_selects() {
    std::map<std::vector<std::pair<int, int>>, int> first;
    for (const int chip : circuit_.chips()) {
      if (chip < 0 || circuit_.type(chip).looks != Looks::digit) continue;
      std::vector<std::pair<int, int>> nets;
      for (const Diode& diode : diodes_of(circuit_, chip)) nets.emplace_back(diode.anode, diode.cathode);
      const int common = common_anode(circuit_, chip) ? nets.front().first : nets.front().second;
      if (common < 0 || circuit_.rail(common)) continue;
      const auto [other, is_first] = first.emplace(std::move(nets), chip);
      if (is_first) continue;
      const std::string& name = circuit_.spec().name_of(chip);
      const std::string& same = circuit_.spec().name_of(other->second);
      faults_.add(
          "digits-share-select", Weight::hint, circuit_.chip_place(chip),
          fmt::format("{0}.COM and {1}.COM are one net: {0} and {1} are lit together and show the same", same, name),
          "an output of its own for each digit", "",
          fmt::format("wire {}.COM to the output that should select it", name));
    }
  }

  const Circuit& circuit_;
  FaultList& faults_;
};

}  // namespace

void check_lamps(const Circuit& circuit, FaultList& faults) { LampRules(circuit, faults).check(); }

}  // namespace prewire
