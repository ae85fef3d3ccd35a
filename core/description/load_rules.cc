// What hangs on each output, added up in both states and held against what its data sheet guarantees. It is arithmetic
// that a teacher can follow: nominal resistors and forward voltages, no networks of more than one way at a time.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <tuple>

#include "description/circuit.h"
#include "description/lamps.h"
#include "description/values.h"
#include "description/wires.h"
#include "prewire/quantity.h"

namespace prewire {

namespace {

/// Something that an output has to feed or to sink.
struct Load {
  std::string name;       ///< of an LED, a resistor, an input
  std::string of;         ///< a digit whose segment it is
  std::string sum;        ///< "(5 V - 1.8 V - 0.4 V) / 330 Ohm"; empty where a data sheet says it
  std::int64_t ohms = 0;  ///< in series; 0: none
  int first = -1;         ///< the resistor that it shares with others, -1: none
  double typical = 0;     ///< microamperes
  double most = 0;
  bool lamp = false;
  bool input = false;  ///< that can be nothing else
};

std::string milliamps(double microamps) {
  return microamps < 100 ? fmt::format("{:.2f} mA", microamps / 1000) : fmt::format("{:.1f} mA", microamps / 1000);
}
std::string volts_of(double microvolts) { return fmt::format("{:.3g} V", microvolts / 1e6); }

class LoadRules {
 public:
  LoadRules(const Circuit& circuit, FaultList& faults) : circuit_(circuit), faults_(faults) {
    for (int chip : circuit.chips()) {
      if (chip < 0 || !circuit.is_lamp(chip)) continue;
      for (const Diode& diode : diodes_of(circuit, chip)) {
        if (diode.anode >= 0 && diode.cathode >= 0) diodes_.emplace_back(chip, diode);
      }
    }
  }

  void check() {
    for (int net = 0; net < circuit_.count(); ++net) {
      if (circuit_.rail(net)) continue;
      for (PinRef ref : circuit_.net(net).pins) {
        const PinSpec& pin = circuit_.pin(ref);
        const bool both = pin.kind == PinKind::output || pin.kind == PinKind::three_state;
        if (pin.limits == nullptr || (!both && pin.kind != PinKind::open_drain)) continue;
        if (pin.limits->sink > 0) judge_low(net, ref);
        if (both && pin.limits->source > 0 && !pin.limits->steady) judge_high(net, ref);
      }
    }
    report();
  }

 private:
  // Gathering ---------------------------------------------------------------------------------------------------------

  /// A way through resistors and one LED, on from a net.
  struct Path {
    std::int64_t ohms = 0;
    std::int32_t forward = 0;
    int first = -1;  // resistor
    std::string lamp, digit;
  };

  /// All that flows between an output that is low, or high, and what is at other voltages.
  std::vector<Load> loads(int net, PinRef driver, bool low) const {
    std::vector<Load> found;
    for (PinRef ref : circuit_.net(net).pins) {
      const PinLimits* limits = circuit_.pin(ref).limits;
      if (limits == nullptr || (ref.chip == driver.chip && ref.pin == driver.pin)) continue;
      const double most = low ? limits->low : limits->high;
      const double typical = low && limits->low_typical > 0 ? limits->low_typical : most;
      if (most > 0)
        found.push_back(
            {circuit_.name(ref), "", "", 0, -1, typical, most, false, circuit_.pin(ref).kind == PinKind::input});
    }
    std::vector<char> seen(static_cast<std::size_t>(circuit_.count()), false);
    follow(net, low, own_level(driver, low), {}, seen, found);
    return found;
  }

  double own_level(PinRef driver, bool low) const {
    const PinLimits& limits = *circuit_.pin(driver).limits;
    if (low) return limits.sink_at;
    return limits.high_typical > 0 ? limits.high_typical : kLogicHigh;
  }

  void follow(int net, bool low, double own, const Path& path, std::vector<char>& seen,
              std::vector<Load>& found) const {
    seen[static_cast<std::size_t>(net)] = true;
    for (const Way& way : circuit_.ways(net)) {
      const auto ohms = circuit_.ohms(way.from.chip);
      if (way.net < 0 || !ohms || seen[static_cast<std::size_t>(way.net)]) continue;
      Path on = path;
      on.ohms += *ohms;
      if (on.first < 0) on.first = way.from.chip;
      if (!finish(way.net, low, own, on, found)) follow(way.net, low, own, on, seen, found);
    }
    if (path.forward == 0) {
      for (const auto& [chip, diode] : diodes_) {
        // Current flows into a low, so the way goes from cathodes to anodes.
        if ((low ? diode.cathode : diode.anode) != net) continue;
        const int other = low ? diode.anode : diode.cathode;
        if (seen[static_cast<std::size_t>(other)]) continue;
        Path on = path;
        on.forward = diode.forward;
        const bool led = circuit_.type(chip).looks == Looks::led;
        on.lamp = led ? circuit_.spec().name_of(chip) : circuit_.name(PinRef{chip, diode.pin});
        if (!led) on.digit = circuit_.spec().name_of(chip);
        if (!finish(other, low, own, on, found)) follow(other, low, own, on, seen, found);
      }
    }
    seen[static_cast<std::size_t>(net)] = false;
  }

  /// Whether the way ends here, at a rail or at another output.
  bool finish(int net, bool low, double own, const Path& path, std::vector<Load>& found) const {
    std::optional<double> end;
    double fixed = 0;
    if (const auto rail = circuit_.rail(net)) {
      end = *rail;
    } else {
      for (PinRef ref : circuit_.net(net).pins) {
        const PinSpec& pin = circuit_.pin(ref);
        const bool active = pin.kind == PinKind::output || (pin.kind == PinKind::three_state && !pin.listens);
        if (!active && (low || pin.kind != PinKind::open_drain)) continue;
        if (low && pin.limits != nullptr && pin.limits->steady) fixed = pin.limits->source;
        const double high =
            pin.limits != nullptr && pin.limits->high_typical > 0 ? pin.limits->high_typical : kLogicHigh;
        end = low ? high : pin.limits != nullptr ? pin.limits->sink_at : 0;
      }
    }
    if (!end) return false;
    const double left = (low ? *end - own : own - *end) - path.forward;
    if (fixed > 0 && path.forward > 0) {
      found.push_back({path.lamp, path.digit, "", path.ohms, path.first, fixed, fixed, true});
    } else if (path.ohms > 0 && left > 0) {
      Load load;
      load.lamp = path.forward > 0;
      load.name = load.lamp ? path.lamp : circuit_.spec().name_of(path.first);
      load.of = path.digit;
      load.ohms = path.ohms;
      load.first = path.first;
      load.typical = load.most = left / static_cast<double>(path.ohms);
      const double from = low ? *end : own, to = low ? own : *end;
      std::string drop = volts_of(from);
      if (load.lamp) drop += fmt::format(" - {}", volts_of(path.forward));
      if (to > 0) drop += fmt::format(" - {}", volts_of(to));
      if (load.lamp || to > 0) drop = fmt::format("({})", drop);
      load.sum = fmt::format("{} / {}", drop, format_quantity(path.ohms, Unit::ohms));
      found.push_back(std::move(load));
    }
    return true;
  }

  /// Several ways through one resistor carry what one of them would.
  static std::vector<Load> merged(std::vector<Load> loads) {
    std::map<int, std::size_t> by_resistor;
    std::vector<Load> list;
    for (Load& load : loads) {
      const auto known = load.first < 0 ? by_resistor.end() : by_resistor.find(load.first);
      if (known == by_resistor.end()) {
        if (load.first >= 0) by_resistor[load.first] = list.size();
        list.push_back(std::move(load));
      } else if (load.most > list[known->second].most) {
        list[known->second] = std::move(load);
      }
    }
    return list;
  }

  // Judging -----------------------------------------------------------------------------------------------------------

  // Common practice: usual parts sink half as much again as the data sheet guarantees.
  static constexpr double kUsual = 1.5;
  // Common practice: small LEDs want 2 mA or more; below half of that one sees nothing in a lit room.
  static constexpr double kVisible = 1000;

  /// A pin of a port with nothing on it that wants to be driven is taken for an input.
  bool only_read(PinRef driver, const std::vector<Load>& all) const {
    return circuit_.pin(driver).listens &&
           std::none_of(all.begin(), all.end(), [](const Load& load) { return load.lamp || load.input; });
  }

  void judge_low(int net, PinRef driver) {
    const PinLimits& limits = *circuit_.pin(driver).limits;
    const std::vector<Load> all = merged(loads(net, driver, true));
    double typical = 0, most = 0;
    bool read = false;
    for (const Load& load : all) {
      typical += load.typical;
      most += load.most;
      read = read || load.input;
    }
    const bool lamps = !read && limits.lamp_sink > 0;
    const std::int32_t sink = lamps ? limits.lamp_sink : limits.sink;
    if (most <= sink || only_read(driver, all)) return;
    const bool sure = typical > sink;
    const Weight weight = typical > kUsual * sink ? Weight::warn : Weight::hint;
    std::string what =
        fmt::format("{} into {{}}, which is guaranteed to sink {} at {}", sum_of(all, sure ? typical : most, sure),
                    milliamps(sink), volts_of(lamps ? limits.lamp_sink_at : limits.sink_at));
    std::string hint = "let a buffer or a transistor drive it";
    if (all.size() == 1 && all[0].lamp && all[0].ohms > 0) {
      const double least = all[0].typical * static_cast<double>(all[0].ohms) / sink;
      hint = fmt::format("take {} or more in series, or let a buffer or a transistor drive it",
                         format_quantity(static_cast<std::int64_t>((least + 9) / 10) * 10, Unit::ohms));
    } else if (!sure) {
      hint =
          "usual parts work; where it has to be certain, take an input that asks for less, such as port B of a PIA, "
          "or a buffer";
    }
    add("output-overload", weight, net, driver, std::move(what), std::move(hint));
  }

  void judge_high(int net, PinRef driver) {
    const PinLimits& limits = *circuit_.pin(driver).limits;
    const std::vector<Load> all = merged(loads(net, driver, false));
    double asked = 0;
    const Load* lamp = nullptr;
    for (const Load& load : all) {
      asked += load.most;
      if (load.lamp && lamp == nullptr) lamp = &load;
    }
    if (asked <= limits.source || only_read(driver, all)) return;
    const bool known = limits.source_typical > 0;
    const std::string limit =
        fmt::format("{} at {}{}", milliamps(limits.source), volts_of(limits.source_at),
                    known ? fmt::format("; usual parts give some {}", milliamps(limits.source_typical)) : "");
    if (lamp != nullptr && known && limits.source_typical < kVisible) {
      add("led-too-dim", Weight::warn, net, driver,
          fmt::format("a high of {{}} does not light {}: it asks for {}, and is guaranteed {}", lamp->name,
                      milliamps(lamp->most), limit),
          "let the output sink the current: resistor and anode to +5V, cathode to the output; or take a buffer");
      return;
    }
    add("output-overload", known && asked > limits.source_typical ? Weight::warn : Weight::hint, net, driver,
        fmt::format("{} out of {{}}, which is guaranteed to give {}", sum_of(all, asked, true), limit),
        lamp != nullptr ? "let the output sink the current, as TTL and NMOS do better, or take a buffer or a transistor"
                        : "take a buffer or a transistor");
  }

  /// "7 segments of TENS x 3.3 mA = 23.3 mA", "FAN1 2.8 mA + FAN5 2.8 mA = 5.6 mA" or a single one with its sum.
  static std::string sum_of(const std::vector<Load>& all, double total, bool typical) {
    const auto current = [&](const Load& load) { return typical ? load.typical : load.most; };
    if (all.size() == 1) {
      const Load& one = all[0];
      return one.sum.empty() ? fmt::format("{}{} of {}", typical ? "" : "up to ", milliamps(total), one.name)
                             : fmt::format("{} = {} of {}", one.sum, milliamps(total), one.name);
    }
    // Alike ones together.
    std::vector<std::tuple<std::string, std::string, int, std::string>> groups;  // current, digit, count, name
    for (const Load& load : all) {
      const std::string each = milliamps(current(load));
      auto group = std::find_if(groups.begin(), groups.end(), [&](const auto& known) {
        return !load.of.empty() && std::get<0>(known) == each && std::get<1>(known) == load.of;
      });
      if (group != groups.end()) {
        ++std::get<2>(*group);
      } else {
        groups.emplace_back(each, load.of, 1, load.name);
      }
    }
    std::string text;
    for (const auto& [each, digit, count, name] : groups) {
      if (!text.empty()) text += " + ";
      text += count > 1 ? fmt::format("{} segments of {} x {}", count, digit, each) : fmt::format("{} {}", name, each);
    }
    return fmt::format("{} = {}{}", text, typical ? "" : "up to ", milliamps(total));
  }

  // Reporting ---------------------------------------------------------------------------------------------------------

  struct Said {
    std::string id, what, hint;
    Weight weight;
    int net, chip;
    std::vector<std::string> pins;
  };

  /// One message for all pins of a chip of which the same is to be said.
  void add(std::string id, Weight weight, int net, PinRef driver, std::string what, std::string hint) {
    const std::string pin(circuit_.pin(driver).name);
    for (Said& said : said_) {
      if (said.id == id && said.chip == driver.chip && said.weight == weight && alike(said.what, what)) {
        said.pins.push_back(pin);
        return;
      }
    }
    said_.push_back({std::move(id), std::move(what), std::move(hint), weight, net, driver.chip, {pin}});
  }

  /// Texts that differ in nothing but figures behind letters: the next pin, the next LED.
  static bool alike(const std::string& a, const std::string& b) {
    return a == b || without_names(a) == without_names(b);
  }
  static std::string without_names(const std::string& text) {
    std::string plain;
    for (std::size_t i = 0; i < text.size(); ++i) {
      const bool figure = text[i] >= '0' && text[i] <= '9';
      const bool behind =
          i > 0 && ((text[i - 1] >= 'A' && text[i - 1] <= 'Z') || (text[i - 1] >= 'a' && text[i - 1] <= 'z'));
      if (!(figure && behind)) plain += text[i];
    }
    return plain;
  }

  void report() {
    for (const Said& said : said_) {
      const std::string& chip = circuit_.spec().name_of(said.chip);
      std::string subject = fmt::format("{}.{}", chip, said.pins.front());
      std::string what = said.what;
      what.replace(what.find("{}"), 2, subject);
      if (said.pins.size() > 1) {
        const std::vector<std::string> others(said.pins.begin() + 1, said.pins.end());
        what += fmt::format("; the same at {}", pin_list(others));
      }
      faults_.add(said.id, said.weight, circuit_.place(circuit_.net(said.net)), std::move(what),
                  "no more than the data sheet guarantees", "", said.hint);
    }
  }

  const Circuit& circuit_;
  FaultList& faults_;
  std::vector<std::pair<int, Diode>> diodes_;
  std::vector<Said> said_;
};

}  // namespace

void check_loads(const Circuit& circuit, FaultList& faults) { LoadRules(circuit, faults).check(); }

}  // namespace prewire
