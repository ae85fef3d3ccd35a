// Parts with an end in the air, and contacts, knobs and pull-ups that change nothing.
#include <fmt/format.h>

#include <algorithm>

#include "description/circuit.h"
#include "description/values.h"
#include "description/wires.h"
#include "prewire/quantity.h"

namespace prewire {

namespace {

class EndRules {
 public:
  EndRules(const Circuit& circuit, FaultList& faults) : circuit_(circuit), faults_(faults) {}

  void check() {
    for (int chip : circuit_.chips()) {
      if (chip < 0 || !circuit_.in_use(chip)) continue;
      check_open_ends(chip);
      if (circuit_.is_contact(chip)) check_contact(chip);
      if (circuit_.is_knob(chip)) check_wiper(chip);
    }
    for (int net = 0; net < circuit_.count(); ++net) {
      check_loose(net);
      find_weak_pull(net);
    }
    report_weak_pulls();
    for (const PackageSpec& package : circuit_.spec().packages) check_common(package);
  }

 private:
  const ChipType& type(int chip) const { return circuit_.type(chip); }

  // Open ends ---------------------------------------------------------------------------------------------------------

  void check_open_ends(int chip) {
    const ChipType& part = type(chip);
    const bool digit = part.looks == Looks::digit;
    if (part.links.empty() && !circuit_.is_lamp(chip)) return;
    const auto last = static_cast<int>(part.pins.size()) - 1;  // of a digit: COM
    std::vector<std::string> open;
    for (int pin = 0; pin <= last; ++pin) {
      const PinSpec& what = circuit_.pin({chip, pin});
      if (what.kind != PinKind::passive || what.optional || !circuit_.open({chip, pin})) continue;
      open.emplace_back(what.name);
    }
    // Half a digit makes a sign or a 1; a few segments that are missing were forgotten.
    constexpr std::size_t kForgotten = 3;
    if (digit && open.size() > kForgotten) {
      const bool common = open.back() == part.pins[static_cast<std::size_t>(last)].name;
      open = common ? std::vector<std::string>{open.back()} : std::vector<std::string>{};
    }
    if (open.empty() || (part.links.size() == 2 && open.size() == 1 && adjusts(chip, open[0]))) return;
    const std::string& name = circuit_.spec().name_of(chip);
    faults_.add("open-end", Weight::warn, circuit_.chip_place(chip),
                open.size() == 1 ? fmt::format("{}.{} is not wired to anything", name, open[0])
                                 : fmt::format("{} of {} are not wired to anything", pin_list(open), name),
                digit ? "a wire at COM and at each segment" : "a wire at each end of the part", "",
                "no current flows through a part with an open end: look for the wire that is missing");
  }

  /// A pin that resistors have in common and that nothing else is at: lines are coupled through it.
  void check_common(const PackageSpec& package) {
    const auto last = package.first + static_cast<int>(package.type->units.size());
    for (int pin = 0; pin < static_cast<int>(package.type->pins.size()); ++pin) {
      int used = 0, net = -1;
      for (int chip = package.first; chip < last; ++chip) {
        const std::vector<int>& pins = package.type->units[static_cast<std::size_t>(chip - package.first)].pins;
        const auto place = std::find(pins.begin(), pins.end(), pin);
        if (place == pins.end() || !circuit_.in_use(chip)) continue;
        ++used;
        net = circuit_.nets().index_at({chip, static_cast<int>(place - pins.begin())});
      }
      if (used < 2 || net < 0 || circuit_.rail(net)) continue;
      const auto& pins = circuit_.net(net).pins;
      const auto outside = [&](PinRef ref) { return ref.chip < package.first || ref.chip >= last; };
      if (std::any_of(pins.begin(), pins.end(), outside)) continue;
      const std::string_view name = package.type->pins[static_cast<std::size_t>(pin)].name;
      faults_.add("open-end", Weight::warn, circuit_.place(package.pointer),
                  fmt::format("{}.{} is not wired to anything", package.name, name), "a rail at the common pin", "",
                  "without it the resistors couple their lines to each other");
    }
  }

  /// A track with its wiper and one end makes a resistance that can be changed, if something is there to feel it; where
  /// only inputs are, a voltage was wanted.
  bool adjusts(int chip, const std::string& open) const {
    const int wiper = type(chip).links[0].pin_b;
    if (type(chip).pins[static_cast<std::size_t>(wiper)].name == open) return false;
    for (int pin = 0; pin < static_cast<int>(type(chip).pins.size()); ++pin) {
      const int net = circuit_.nets().index_at({chip, pin});
      if (net < 0 || circuit_.rail(net)) continue;
      for (PinRef ref : circuit_.net(net).pins) {
        if (ref.chip != chip && !reads(circuit_.pin(ref))) return true;
      }
    }
    return false;
  }

  // What only reads ---------------------------------------------------------------------------------------------------

  static bool reads(const PinSpec& pin) {
    return pin.kind == PinKind::input || pin.kind == PinKind::analog_in ||
           (pin.kind == PinKind::three_state && pin.listens);
  }

  /// Without a contact that is open it would hang in the air.
  static bool needs_hold(const PinSpec& pin) {
    if (pin.pull_up > 0 || !reads(pin)) return false;
    return !pin.optional || pin.use == PinUse::control || pin.use == PinUse::request || pin.use == PinUse::edge_request;
  }

  /// A net of inputs and of contacts that all go to one rail: while they are open, nothing holds it.
  void check_loose(int index) {
    const NetSpec& net = circuit_.net(index);
    if (circuit_.rail(index)) return;
    std::vector<std::string> inputs, contacts;
    std::optional<std::int32_t> closed;
    for (PinRef ref : net.pins) {
      if (circuit_.is_contact(ref.chip)) continue;
      if (!reads(circuit_.pin(ref))) return;
      if (circuit_.pin(ref).pull_up > 0) return;
      if (needs_hold(circuit_.pin(ref))) inputs.push_back(circuit_.name(ref));
    }
    for (const Way& way : circuit_.ways(index)) {
      const auto volts = way.net < 0 ? std::nullopt : circuit_.rail(way.net);
      if (!circuit_.is_contact(way.from.chip) || !volts || (closed && *closed != *volts)) return;
      closed = volts;
      contacts.push_back(circuit_.spec().name_of(way.from.chip));
    }
    if (inputs.empty() || contacts.empty()) return;
    faults_.add(
        "undriven-input", Weight::warn, circuit_.place(net),
        fmt::format("nothing drives or pulls {} while {} {} open", list_of(inputs), list_of(contacts),
                    contacts.size() == 1 ? "is" : "are"),
        fmt::format("a resistor from the net to {}", *closed < kInputHigh ? "+5V" : "GND"), "contacts only",
        fmt::format("add a resistor of 4.7 to 10 kOhm between the net and {}", *closed < kInputHigh ? "+5V" : "GND"));
  }

  // Contacts ----------------------------------------------------------------------------------------------------------

  void check_contact(int chip) {
    const LinkSpec& link = type(chip).links[0];
    const int a = circuit_.nets().index_at({chip, link.pin_a}), b = circuit_.nets().index_at({chip, link.pin_b});
    if (a < 0 || b < 0) return;
    const std::string& name = circuit_.spec().name_of(chip);
    const auto volts_a = circuit_.rail(a), volts_b = circuit_.rail(b);
    if (a == b || (volts_a && volts_b && *volts_a == *volts_b)) {
      without_effect(
          chip,
          fmt::format("both sides of {} are {}", name, a == b ? "on one net" : fmt::format("at {}", circuit_.name(a))),
          "a push button with four legs has two pairs that are always joined: use legs of different pairs");
      return;
    }
    if (volts_a.has_value() == volts_b.has_value()) return;
    const int rail = volts_a ? a : b, other = volts_a ? b : a;
    const std::int32_t volts = volts_a ? *volts_a : *volts_b;
    const auto others = pulls_beside(other, chip);
    if (!others || others->empty()) return;
    std::vector<std::string> resistors;
    for (const Pull& pull : *others) {
      if (pull.microvolts != volts) return;
      if (!pull.name.empty()) resistors.push_back(pull.name);
    }
    if (volts >= kInputHigh) {
      without_effect(chip,
                     fmt::format("{} goes to {}, and what pulls {} goes there, too", name, circuit_.name(rail),
                                 circuit_.name(other)),
                     "let the contact switch to GND and the resistor pull to +5V");
    } else if (!resistors.empty()) {
      wrong_way(other,
                fmt::format("{} {} {} to {}, where {} switches it, too", list_of(resistors),
                            resistors.size() == 1 ? "pulls" : "pull", circuit_.name(other), circuit_.name(rail), name));
    }
  }

  void without_effect(int chip, std::string what, std::string hint) {
    faults_.add("contact-without-effect", Weight::warn, circuit_.chip_place(chip),
                std::move(what) + ": it makes no difference whether it is open or closed",
                "two nets that differ while the contact is open", "", std::move(hint));
  }

  void wrong_way(int net, std::string what) {
    faults_.add("pulled-the-wrong-way", Weight::warn, circuit_.place(circuit_.net(net)), std::move(what),
                "a pull-up to +5V for what switches to GND", "", "wire the resistor to +5V");
  }

  struct Pull {
    std::int32_t microvolts;
    std::string name;  // of the resistor; empty: inside a pin
  };

  /// All that holds the net apart from one contact; empty if something may drive it, or if it is not so simple.
  std::optional<std::vector<Pull>> pulls_beside(int index, int contact) const {
    std::vector<Pull> pulls;
    for (PinRef ref : circuit_.net(index).pins) {
      const PinSpec& pin = circuit_.pin(ref);
      if (pin.pull_up > 0) pulls.push_back({kLogicHigh, ""});
      if (pin.kind == PinKind::passive ? type(ref.chip).links.empty() : !reads(pin)) return std::nullopt;
    }
    for (const Way& way : circuit_.ways(index)) {
      if (way.from.chip == contact) continue;
      const auto volts = way.net < 0 ? std::nullopt : circuit_.rail(way.net);
      if (way.net < 0) continue;
      if (!volts || circuit_.is_knob(way.from.chip)) return std::nullopt;
      const bool resistor = circuit_.ohms(way.from.chip).has_value();
      // Another contact to another rail makes the difference; one to the same rail adds nothing.
      if (resistor || circuit_.is_contact(way.from.chip)) {
        pulls.push_back({*volts, resistor ? circuit_.spec().name_of(way.from.chip) : ""});
      }
    }
    return pulls;
  }

  /// A resistor to GND beside a contact, which cannot get the better of the pull-up inside a pin.
  void find_weak_pull(int index) {
    if (circuit_.rail(index)) return;
    std::int64_t inside = 0;
    std::string reader;
    bool contact = false;
    for (PinRef ref : circuit_.net(index).pins) {
      const PinSpec& pin = circuit_.pin(ref);
      contact = contact || circuit_.is_contact(ref.chip);
      if (pin.kind == PinKind::output || circuit_.is_source(ref)) return;
      if (pin.pull_up == 0) continue;
      inside = pin.pull_up;
      reader = circuit_.name(ref);
    }
    if (inside == 0 || !contact) return;
    int resistor = -1;
    for (const Way& way : circuit_.ways(index)) {
      const auto volts = way.net < 0 ? std::nullopt : circuit_.rail(way.net);
      const auto ohms = circuit_.ohms(way.from.chip);
      if (!ohms || !volts) continue;
      if (*volts >= kInputHigh || kLogicHigh * *ohms / (*ohms + inside) <= kInputLow) return;
      resistor = way.from.chip;
    }
    if (resistor < 0) return;
    if (weak_.empty()) {
      weak_net_ = index;
      const std::int64_t ohms = *circuit_.ohms(resistor);
      weak_volts_ =
          fmt::format("{:.1f} V", 1e-6 * kLogicHigh * static_cast<double>(ohms) / static_cast<double>(ohms + inside));
      weak_ohms_ = format_quantity(inside, Unit::ohms);
    }
    weak_.push_back(circuit_.spec().name_of(resistor));
    weak_readers_.push_back(reader);
  }

  void report_weak_pulls() {
    if (weak_.empty()) return;
    const bool one = weak_.size() == 1;
    wrong_way(weak_net_,
              fmt::format("{} {} {} to GND against the pull-up of {} inside: there it is {}, which is no low",
                          list_of(weak_), one ? "pulls" : "pull", list_of(weak_readers_), weak_ohms_, weak_volts_));
  }

  // Knobs -------------------------------------------------------------------------------------------------------------

  void check_wiper(int chip) {
    if (type(chip).links.size() != 2) return;
    const LinkSpec& left = type(chip).links[0];
    const LinkSpec& right = type(chip).links[1];
    const int low = circuit_.nets().index_at({chip, left.pin_a}), high = circuit_.nets().index_at({chip, right.pin_b});
    if (low >= 0 && high >= 0 && circuit_.rail(low) && circuit_.rail(low) == circuit_.rail(high)) {
      without_effect(chip,
                     fmt::format("both ends of {} are at {}: its wiper is, too, wherever it is turned",
                                 circuit_.spec().name_of(chip), circuit_.name(low)),
                     "one end to GND, the other to +5V");
      return;
    }
    const int wiper = circuit_.nets().index_at({chip, left.pin_b});
    if (wiper < 0 || !circuit_.rail(wiper)) return;
    for (const int pin : {left.pin_a, right.pin_b}) {
      const int end = circuit_.nets().index_at({chip, pin});
      if (end < 0 || !circuit_.rail(end) || *circuit_.rail(end) == *circuit_.rail(wiper)) continue;
      const std::string& name = circuit_.spec().name_of(chip);
      faults_.add("wiper-on-rail", Weight::warn, circuit_.chip_place(chip),
                  fmt::format("{}.{} is at {} and an end of the track at {}: turned to that end it shorts the supply",
                              name, type(chip).pins[static_cast<std::size_t>(left.pin_b)].name, circuit_.name(wiper),
                              circuit_.name(end)),
                  "the ends of the track on the rails, and the wiper on what reads it", "",
                  "exchange the wiper and the other end");
      return;
    }
  }

  const Circuit& circuit_;
  FaultList& faults_;
  std::vector<std::string> weak_, weak_readers_;  // resistors, and the pins they cannot pull down
  int weak_net_ = -1;
  std::string weak_volts_, weak_ohms_;
};

}  // namespace

void check_ends(const Circuit& circuit, FaultList& faults) { EndRules(circuit, faults).check(); }

}  // namespace prewire
