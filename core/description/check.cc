#include "description/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>
#include <utility>

#include "description/address_map.h"
#include "description/circuit.h"
#include "description/parse.h"
#include "description/values.h"
#include "description/wires.h"

namespace prewire {

namespace {

class WiringCheck : private Circuit {
 public:
  WiringCheck(const MachineSpec& spec, const JsonText& places, std::vector<Fault>& faults)
      : Circuit(spec, places), spec_(spec), faults_(faults), windows_(windows_of(spec)) {
    find_sources();
  }

  /// Rules about what is there.
  void check_present() {
    for (std::size_t i = 0; i < windows_.size(); ++i) {
      // Those of wires come last, many of them, and are not always there: see `check_selects`.
      for (std::size_t j = i + 1; j < windows_.size() && !windows_[j].wired; ++j) {
        check_overlap(windows_[i], windows_[j]);
      }
    }
    for (const NetSpec& net : nets().all()) {
      check_outputs(net);
      check_supplies(net);
    }
    check_fixed_pins();
    check_selects(*this, windows_, faults_);
  }

  /// Rules about what is missing.
  void check_missing() {
    for (int chip : chips()) check_unwired(chip);
    for (std::size_t i = 0; i < nets().all().size(); ++i) {
      check_undriven(static_cast<int>(i));
      check_pull_up(static_cast<int>(i));
    }
    check_data_lines();
    check_reset_vector();
    check_ends(*this, faults_);
    check_inputs(*this, faults_);
    check_lamps(*this, faults_);
    check_loads(*this, faults_);
  }

 private:
  /// Works out which nets something can drive, and which something can pull high, by way of resistors and contacts too.
  void find_sources() {
    const std::size_t count = nets().all().size();
    driven_.assign(count, false);
    high_.assign(count, false);
    std::vector<char> supplied(count, false);  // a rail: what happens on one side of it does not reach the other
    for (std::size_t i = 0; i < count; ++i) {
      const NetSpec& net = nets().all()[i];
      const auto supply = [&](std::int32_t microvolts) {
        supplied[i] = driven_[i] = true;
        if (microvolts >= kInputHigh) high_[i] = true;
      };
      if (net.rail_microvolts) supply(*net.rail_microvolts);
      for (PinRef ref : net.pins) {
        const PinSpec& what = pin(ref);
        if (what.kind == PinKind::supply) supply(what.microvolts);
        const bool lets_go = what.kind == PinKind::three_state || what.kind == PinKind::open_drain;
        const bool source = what.kind == PinKind::output || is_source(ref) || is_reset(ref);
        if (source || lets_go) driven_[i] = true;
        // A pin that lets go and may stay unwired has a pull-up inside.
        if (source || (lets_go && what.optional) || what.pull_up > 0) high_[i] = true;
      }
    }
    std::vector<std::vector<int>> beside(count);
    for (int chip : chips()) {
      for (const LinkSpec& link : type(chip).links) {
        const int a = nets().index_at({chip, link.pin_a}), b = nets().index_at({chip, link.pin_b});
        if (a < 0 || b < 0) continue;
        if (!supplied[b]) beside[a].push_back(b);
        if (!supplied[a]) beside[b].push_back(a);
      }
    }
    spread(driven_, beside);
    spread(high_, beside);
  }

  static void spread(std::vector<char>& marks, const std::vector<std::vector<int>>& beside) {
    std::vector<int> work;
    for (std::size_t i = 0; i < marks.size(); ++i) {
      if (marks[i]) work.push_back(static_cast<int>(i));
    }
    while (!work.empty()) {
      const int from = work.back();
      work.pop_back();
      for (int to : beside[from]) {
        if (!std::exchange(marks[to], true)) work.push_back(to);
      }
    }
  }

  // Reporting ---------------------------------------------------------------------------------------------------------

  Place program_place() const { return place(spec_.programs.empty() ? "/cpu" : "/program"); }

  // The rules ---------------------------------------------------------------------------------------------------------

  void check_overlap(const Window& one, const Window& other) {
    const Range both{std::max(one.decoded.first, other.decoded.first), std::min(one.decoded.last, other.decoded.last)};
    if (both.first > both.last || !one.bus.reads || !other.bus.reads) return;
    const unsigned shared = one.bus.data_mask & other.bus.data_mask;
    if (shared == 0) return;
    if (one.bus.data_mask == other.bus.data_mask && shared != 0xFF && one.decoded.first == other.decoded.first) {
      const std::string_view lines = shared == 0x0F ? "D0-D3" : "D4-D7";
      faults_.add(
          "same-data-lines", Weight::stop, place(other.pointer),
          fmt::format("{} and {} both use the data lines {} at {}", one.name, other.name, lines, format_range(both)),
          "each half of the byte in a memory of its own", fmt::format("{} on both", lines),
          fmt::format("wire the data pins of one of them to {}: \"data\" says which lines a part uses",
                      shared == 0x0F ? "D4-D7" : "D0-D3"));
      return;
    }
    faults_.add(
        "decode-overlap", Weight::stop, place(other.pointer),
        fmt::format("{} and {} both answer at {}", one.name, other.name, format_range(both)),
        "one chip for each address that can be read",
        fmt::format("{} at {}, {} at {}", one.name, format_range(one.decoded), other.name, format_range(other.decoded)),
        "give each chip addresses of its own; a mirror counts too");
  }

  void check_outputs(const NetSpec& net) {
    const std::vector<std::string> outputs = names(net, PinKind::output);
    if (outputs.size() > 1) {
      faults_.add("two-outputs", Weight::stop, place(spec_.wires[net.wires.back()].pointer),
                  fmt::format("the outputs {} drive one net", list_of(outputs)), "one output on a net",
                  list_of(outputs),
                  "wire them apart, or put a gate between them; real outputs get hot when they disagree");
    }
    std::vector<std::string> shorted = outputs;
    // An open drain can only sink: it harms nobody on the ground side.
    if (net.rail_microvolts && *net.rail_microvolts != 0) {
      for (std::string& name : names(net, PinKind::open_drain)) shorted.push_back(std::move(name));
    }
    if (!net.rail_microvolts || shorted.empty()) return;
    faults_.add(
        "output-on-rail", Weight::stop, place(net),
        fmt::format("{} {} wired to the rail {}", list_of(shorted), shorted.size() == 1 ? "is" : "are", net.rail),
        "an input, or a resistor between the output and the rail", fmt::format("{} on {}", list_of(shorted), net.rail),
        "leave an output that is not used open; a pull-up needs a resistor");
  }

  void check_supplies(const NetSpec& net) {
    std::optional<std::int32_t> volts = net.rail_microvolts;
    std::string whose = net.rail;
    for (PinRef ref : net.pins) {
      if (pin(ref).kind != PinKind::supply) continue;
      const std::int32_t nominal = pin(ref).microvolts;
      const std::string name = spec_.pin_name(ref);
      if (volts && *volts != nominal) {
        faults_.add("wrong-supply", Weight::stop, place(net),
                    fmt::format("the supply pin {} is joined to {}", name, whose),
                    format_quantity(nominal, Unit::microvolts), format_quantity(*volts, Unit::microvolts),
                    "leave supply pins out of the wires: they are connected without being named");
        return;
      }
      volts = nominal;
      whose = name;
    }
  }

  /// Pins of the processor whose level is fixed before the machine runs.
  void check_fixed_pins() {
    if (spec_.cpu == nullptr) return;
    const auto net_at = [&](std::string_view name) -> const NetSpec* {
      const PinRef ref{-1, spec_.cpu->chip.pin(name)};
      return ref.pin < 0 ? nullptr : nets().at(ref);
    };
    for (const std::string_view name : {"MR", "MRDY"}) {
      const NetSpec* net = net_at(name);
      if (net == nullptr || net->rail_microvolts != 0) continue;
      faults_.add("fixed-pin", Weight::stop, place(*net),
                  fmt::format("CPU.{} is tied to GND: E stays high for ever", name),
                  fmt::format("CPU.{} on +5V, or on an output of slow memory", name), net->rail,
                  "tie it to +5V if every memory answers in time");
    }
    const NetSpec* net = net_at("RE");
    if (net == nullptr || net->rail_microvolts == (spec_.ram_enabled ? kLogicHigh : 0)) return;
    const char* rail = spec_.ram_enabled ? "+5V" : "GND";
    faults_.add("fixed-pin", Weight::stop, place(*net),
                fmt::format("CPU.RE is not tied to {}: its RAM cannot come and go", rail),
                fmt::format("CPU.RE on {}, or not wired", rail),
                net->rail_microvolts ? net->rail : "a net that is no rail",
                "\"ram\" in \"cpu\" says whether the RAM answers");
  }

  void check_unwired(int chip) {
    std::vector<int> spoken;
    if (type(chip).logic && Circuit::wired(chip)) spoken = check_logic(*this, chip, faults_);
    std::vector<std::string> open;
    bool wired = on_bus(chip);
    for (std::size_t i = 0; i < type(chip).pins.size(); ++i) {
      const PinRef ref{chip, static_cast<int>(i)};
      const PinSpec& what = pin(ref);
      if (nets().at(ref) != nullptr) {
        wired = true;
      } else if ((what.kind == PinKind::input || what.kind == PinKind::analog_in) && !what.optional && !held(ref)) {
        if (std::find(spoken.begin(), spoken.end(), ref.pin) == spoken.end()) open.emplace_back(what.name);
      }
    }
    if (package(chip) != nullptr) {
      check_unused(*package(chip), chip);
    } else if (!wired) {
      faults_.add("idle-chip", Weight::hint, chip_place(chip),
                  fmt::format("{} is not connected to anything", spec_.name_of(chip)),
                  type(chip).bus ? "wires, or a place in the address map" : "wires", "", "wire the chip, or remove it");
    } else if (!open.empty()) {
      const bool one = open.size() == 1;
      faults_.add("unwired-input", Weight::warn, chip_place(chip),
                  fmt::format("{} of {} {} not wired: {}", one ? "an input" : "inputs", spec_.name_of(chip),
                              one ? "is" : "are", pin_list(open)),
                  "a driver, a pull-up or a rail on each input", "",
                  "tie an input that is not used to GND or +5V; an open one picks up whatever is near");
    }
  }

  /// Of a package, once: some of its parts may well be spare.
  void check_unused(const PackageSpec& package, int chip) {
    const auto last = package.first + static_cast<int>(package.type->units.size());
    for (int part = package.first; part < last; ++part) {
      if (chip != package.first || in_use(part)) return;
    }
    faults_.add("idle-chip", Weight::hint, place(package.pointer),
                fmt::format("{} is not connected to anything", package.name), "wires", "",
                "wire the package, or remove it");
  }

  void check_undriven(int index) {
    if (driven_[index]) return;
    const NetSpec& net = nets().all()[index];
    std::vector<std::string> inputs;
    for (PinRef ref : net.pins) {
      const PinSpec& what = pin(ref);
      if ((what.kind == PinKind::input || what.kind == PinKind::analog_in) && !what.optional) {
        inputs.push_back(spec_.pin_name(ref));
      }
    }
    if (inputs.empty()) return;
    faults_.add("undriven-input", Weight::warn, place(net), fmt::format("nothing drives or pulls {}", list_of(inputs)),
                "an output, a source, a pull-up or a rail on the net",
                net.pins.size() == inputs.size() ? "inputs only" : "nothing that drives",
                "wire an output to it, or look for a wire that is missing");
  }

  void check_pull_up(int index) {
    const NetSpec& net = nets().all()[index];
    const std::vector<std::string> drains = names(net, PinKind::open_drain);
    const bool read = !names(net, PinKind::input).empty() || !names(net, PinKind::three_state).empty();
    if (high_[index] || net.rail_microvolts || drains.empty() || !read) return;
    for (const Way& way : ways(index)) {
      if (way.net < 0 || rail(way.net) != 0 || !ohms(way.from.chip)) continue;
      const std::string& resistor = spec_.name_of(way.from.chip);
      faults_.add("pulled-the-wrong-way", Weight::warn, place(net),
                  fmt::format("{} pulls the net of {} to GND, and nothing pulls it high", resistor, list_of(drains)),
                  "a resistor from the net to +5V", "open-drain outputs, which only pull low",
                  fmt::format("wire the other end of {} to +5V", resistor));
      return;
    }
    faults_.add("no-pull-up", Weight::warn, place(net),
                fmt::format("nothing pulls the net of {} high", list_of(drains)), "a resistor from the net to +5V",
                "open-drain outputs, which only pull low", "add a resistor of 3.3 to 10 kOhm between the net and +5V");
  }

  void check_data_lines() {
    // Between two of these addresses the same chips answer.
    std::vector<std::uint32_t> borders;
    for (const Window& window : windows_) {
      borders.push_back(window.decoded.first);
      borders.push_back(std::uint32_t{window.decoded.last} + 1);
    }
    std::sort(borders.begin(), borders.end());
    borders.erase(std::unique(borders.begin(), borders.end()), borders.end());
    // Wires can make tens of thousands of windows: each goes through its own addresses, once.
    std::vector<std::uint8_t> driven(65536);
    std::vector<const Window*> memories(65536);
    for (const Window& window : windows_) {
      if (!window.bus.reads) continue;
      for (std::uint32_t at = window.decoded.first; at <= window.decoded.last; ++at) {
        driven[at] |= window.bus.data_mask;
        if (window.memory()) memories[at] = &window;
      }
    }
    std::set<std::string> told;  // of chips that wires select: their first range will do
    for (std::size_t i = 0; i + 1 < borders.size(); ++i) {
      const unsigned lines = driven[borders[i]];
      const Window* memory = memories[borders[i]];
      if (memory == nullptr || lines == 0xFF) continue;
      if (memory->wired && !told.insert(memory->pointer).second) continue;
      std::vector<std::string> open;
      for (int bit = 0; bit < 8; ++bit) {
        if ((lines >> bit & 1) == 0) open.push_back(fmt::format("D{}", bit));
      }
      const Range range{static_cast<std::uint16_t>(borders[i]), static_cast<std::uint16_t>(borders[i + 1] - 1)};
      faults_.add("missing-data-lines", Weight::warn, place(memory->pointer),
                  fmt::format("nothing drives {} at {}", pin_list(open), format_range(range)),
                  "chips on all eight data lines", fmt::format("{} on the others", memory->name),
                  "add a chip for the other data lines at the same addresses");
    }
  }

  void check_reset_vector() {
    constexpr std::uint16_t kVector = 0xFFFE;
    const auto memory_at = [&](std::uint16_t address) {
      return std::any_of(windows_.begin(), windows_.end(), [&](const Window& window) {
        return window.memory() && window.bus.reads && window.covers(address);
      });
    };
    if (!memory_at(kVector) || !memory_at(kVector + 1)) {
      faults_.add("no-reset-vector", Weight::warn, chip_place(-1), "no memory answers at $FFFE-$FFFF",
                  "a ROM that answers there", "",
                  "the processor fetches its start address there: place a ROM, or let its mirror reach $FFFF");
      return;
    }
    const auto high = loaded_byte(spec_, windows_, kVector), low = loaded_byte(spec_, windows_, kVector + 1);
    if (!high || !low) {
      faults_.add("no-reset-vector", Weight::warn, program_place(), "no program image fills $FFFE-$FFFF",
                  "the start address of the program, high byte first",
                  spec_.programs.empty() ? "no program" : "nothing there",
                  "end the program with the vector: ORG $FFFE and FDB with the label of its start");
      return;
    }
    const auto target = static_cast<std::uint16_t>(*high << 8 | *low);
    const auto swapped = static_cast<std::uint16_t>(*low << 8 | *high);
    const bool memory = memory_at(target);
    if (memory && loaded_byte(spec_, windows_, target)) return;
    faults_.add(
        "reset-vector", Weight::warn, program_place(),
        fmt::format("the reset vector names ${:04X}, where {}", target,
                    memory ? "no program is loaded" : "no memory answers"),
        "an address with program code", fmt::format("${:02X} at $FFFE and ${:02X} at $FFFF", *high, *low),
        memory_at(swapped) && loaded_byte(spec_, windows_, swapped)
            ? fmt::format("${:04X} holds program code: are the two bytes swapped? The high byte comes first", swapped)
            : "correct the vector, or load the program there");
  }

  const MachineSpec& spec_;
  FaultList faults_;
  std::vector<Window> windows_;
  std::vector<char> driven_, high_;  // by net
};

/// Gives the faults from `first` on the weights that somebody asked for.
void weigh(std::vector<Fault>& faults, std::size_t first, const RuleWeights& weights) {
  const auto asked = [&](const Fault& fault) { return weights.find(fault.id); };
  const auto begin = faults.begin() + static_cast<std::ptrdiff_t>(first);
  const auto off = [&](const Fault& fault) { return asked(fault) != weights.end() && !asked(fault)->second; };
  faults.erase(std::remove_if(begin, faults.end(), off), faults.end());
  for (std::size_t i = first; i < faults.size(); ++i) {
    if (asked(faults[i]) != weights.end()) faults[i].weight = *asked(faults[i])->second;
  }
}

}  // namespace

CheckedMachine read_and_check(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                              const Registry& registry, const LoadOptions& options) {
  CheckedMachine result;
  const JsonText text(json, name, kMachineDescription);
  std::vector<Fault>& faults = result.faults;
  const auto stops = [&](std::size_t from) {
    return std::any_of(faults.begin() + static_cast<std::ptrdiff_t>(from), faults.end(),
                       [](const Fault& fault) { return fault.weight == Weight::stop; });
  };
  result.spec = parse_machine(text, name, folder, registry, options, faults);
  result.spec.weights = options.weights;
  result.data_faults = stops(0);
  const std::size_t of_data = faults.size();
  WiringCheck check(result.spec, text, faults);
  check.check_present();
  // A driver or a program may stand in a line that could not be read.
  if (!result.data_faults) check.check_missing();
  weigh(faults, of_data, options.weights);
  result.wiring_faults = stops(of_data);
  const auto order = [](const Fault& a, const Fault& b) {
    return std::tuple(b.weight, a.place.line, a.place.column) < std::tuple(a.weight, b.place.line, b.place.column);
  };
  std::stable_sort(faults.begin(), faults.end(), order);
  return result;
}

}  // namespace prewire
