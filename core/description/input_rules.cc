// Inputs that never change though they should, and requests for an interrupt that cannot go right.
#include <fmt/format.h>

#include <algorithm>

#include "description/circuit.h"
#include "description/values.h"
#include "description/wires.h"

namespace prewire {

namespace {

class InputRules {
 public:
  InputRules(const Circuit& circuit, FaultList& faults) : circuit_(circuit), faults_(faults) {}

  void check() {
    for (int chip : circuit_.chips()) {
      for (int pin = 0; pin < static_cast<int>(circuit_.type(chip).pins.size()); ++pin) check_held({chip, pin});
      check_always_open(chip);
      check_open_controls(chip);
    }
    for (int net = 0; net < circuit_.count(); ++net) {
      check_active(net);
      check_edge_request(net);
    }
  }

 private:
  void check_held(PinRef ref) {
    const PinSpec& pin = circuit_.pin(ref);
    const int index = circuit_.nets().index_at(ref);
    if ((pin.held_low.empty() && pin.held_high.empty()) || index < 0) return;
    const Span& span = circuit_.span(index);
    const bool low = span.always_low();
    const std::string_view what = low ? pin.held_low : span.always_high() ? pin.held_high : "";
    if (what.empty() || !circuit_.matters(ref)) return;
    const NetSpec& net = circuit_.net(index);
    // An open drain that nothing pulls up is another fault.
    if (!circuit_.rail(index) && !circuit_.names(net, PinKind::open_drain).empty()) return;
    const bool request = pin.use == PinUse::request;
    const std::string rail = circuit_.rail(index) ? circuit_.name(index) : low ? "GND" : "+5V";
    faults_.add(request ? "input-held" : "input-disabled", Weight::warn, circuit_.place(net),
                fmt::format("{} is {} {} for ever: {}", circuit_.name(ref),
                            circuit_.rail(index) ? "tied to" : "pulled to", rail, what),
                request ? "a line that is low only while somebody asks" : "an output that moves it, or the other rail",
                "",
                fmt::format("an input that is not used goes to {}; otherwise wire it to what should move it",
                            low ? "+5V" : "GND"));
  }

  // Latches -----------------------------------------------------------------------------------------------------------

  /// Whether a latch lets its data through for ever.
  bool always_open(int chip) const {
    for (int pin = 0; pin < static_cast<int>(circuit_.type(chip).pins.size()); ++pin) {
      const PinUse use = circuit_.pin({chip, pin}).use;
      if (use != PinUse::open_at_low && use != PinUse::open_at_high) continue;
      const int net = circuit_.nets().index_at({chip, pin});
      if (net < 0) continue;
      const Span& span = circuit_.span(net);
      if (use == PinUse::open_at_low ? span.always_low() : span.always_high()) return true;
    }
    return false;
  }

  /// A latch that only passes on what it is given may be meant so, unless its data are also those of another latch,
  /// which picks its own out of them.
  void check_always_open(int chip) {
    if (!always_open(chip)) return;
    for (int pin = 0; pin < static_cast<int>(circuit_.type(chip).pins.size()); ++pin) {
      const int net = circuit_.nets().index_at({chip, pin});
      if (net < 0 || circuit_.rail(net) || circuit_.pin({chip, pin}).use != PinUse::latch_data) continue;
      for (PinRef ref : circuit_.net(net).pins) {
        if (ref.chip == chip || circuit_.pin(ref).use != PinUse::latch_data || always_open(ref.chip)) continue;
        const std::string& name = circuit_.spec().name_of(chip);
        faults_.add("latch-always-open", Weight::warn, circuit_.chip_place(chip),
                    fmt::format("the latch of {} is open for ever: it also follows what is meant for {}", name,
                                circuit_.spec().name_of(ref.chip)),
                    fmt::format("a line of its own that opens {} for a moment", name), "",
                    "wire its enable to an output, as that of the other one");
        return;
      }
    }
  }

  // Open control lines ------------------------------------------------------------------------------------------------

  static bool is_control(const PinSpec& pin) {
    return pin.kind == PinKind::input &&
           (pin.use == PinUse::control || pin.use == PinUse::request || pin.use == PinUse::edge_request);
  }

  /// Of a processor only if the file tells of its lines at all; whoever wires none wants to look at programs.
  void check_open_controls(int chip) {
    if (!circuit_.wired(chip)) return;
    std::vector<std::string> open;
    bool some = chip >= 0;
    for (int pin = 0; pin < static_cast<int>(circuit_.type(chip).pins.size()); ++pin) {
      const PinRef ref{chip, pin};
      if (!is_control(circuit_.pin(ref))) continue;
      if (circuit_.open(ref)) {
        open.push_back(circuit_.name(ref));
      } else {
        some = true;
      }
    }
    if (open.empty() || !some) return;
    const bool one = open.size() == 1;
    faults_.add("open-control-input", Weight::hint, circuit_.chip_place(chip),
                fmt::format("{} {} not wired", list_of(open), one ? "is" : "are"),
                "a driver, a pull-up or a rail on each input", "",
                chip < 0
                    ? "on the bench an open input picks up whatever is near, and the processor stops or jumps: tie "
                      "what is not used to +5V"
                    : "on the bench an open input picks up whatever is near: tie what is not used to GND or +5V, "
                      "or leave its interrupt switched off");
  }

  // Requests ----------------------------------------------------------------------------------------------------------

  void check_active(int index) {
    const NetSpec& net = circuit_.net(index);
    const std::vector<std::string> active = circuit_.names(net, PinKind::output);
    if (active.size() != 1 || circuit_.rail(index)) return;
    std::vector<std::string> drains;
    for (PinRef ref : net.pins) {
      if (circuit_.pin(ref).kind == PinKind::open_drain && !circuit_.pin(ref).listens) {
        drains.push_back(circuit_.name(ref));
      }
    }
    if (drains.empty()) return;
    faults_.add("active-on-open-drain", Weight::warn, circuit_.place(net),
                fmt::format("{} drives both ways, and {} can only pull low on the same net: they fight when one is low "
                            "and the other high",
                            active[0], list_of(drains)),
                "open-drain outputs only on a line that several share", list_of(active),
                fmt::format("give {} an input of its own, such as a control line of a PIA, or put an open-collector "
                            "gate in between",
                            active[0]));
  }

  /// NMI looks for an edge; a request stays low until it is served, and hides those of the others on the line.
  void check_edge_request(int index) {
    const NetSpec& net = circuit_.net(index);
    std::vector<std::string> asking, edges;
    bool level = false;
    for (PinRef ref : net.pins) {
      const PinSpec& pin = circuit_.pin(ref);
      if (pin.use == PinUse::edge_request) edges.push_back(circuit_.name(ref));
      if (pin.use == PinUse::request && pin.kind == PinKind::open_drain) asking.push_back(circuit_.name(ref));
      if (pin.use == PinUse::request && pin.kind == PinKind::input) level = true;
    }
    if (edges.empty() || asking.empty()) return;
    const bool several = asking.size() > 1;
    faults_.add(
        "irq-on-nmi", several || level ? Weight::warn : Weight::hint, circuit_.place(net),
        fmt::format("{} {} at {}, which looks for a falling edge: a request that comes while another one stands "
                    "makes none, and nothing masks it",
                    list_of(asking), several ? "are" : "is", list_of(edges)),
        "the processor's IRQ, which looks at the level", list_of(edges),
        "wire the requests to CPU.IRQ and keep NMI for a single source");
  }

  const Circuit& circuit_;
  FaultList& faults_;
};

}  // namespace

void check_inputs(const Circuit& circuit, FaultList& faults) { InputRules(circuit, faults).check(); }

}  // namespace prewire
