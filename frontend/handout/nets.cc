// The nets of the machine file, the supplies, and the clock and reset that every board needs.

#include <algorithm>

#include "builder.h"

namespace prewire::handout {

namespace {

/// Types whose clock comes from outside, although the model lets the processor drive it.
bool clocked_from_outside(std::string_view type) { return type == "mc6800" || type == "mc6809e"; }

/// The reset line of the machine.
bool is_reset(const Builder& builder, const NetView& net) {
  return std::any_of(net.pins.begin(), net.pins.end(), [&](const NetView::Pin& pin) {
    return pin.chip < 0 && builder.machine().processor().type->pins[static_cast<std::size_t>(pin.pin)].name == "RESET";
  });
}

/// What the net is for, from the pins on it.
Purpose purpose_of(const Builder& builder, const NetView& net) {
  bool display = false, analog = false, interrupt = false;
  if (is_reset(builder, net)) return Purpose::control;
  for (const NetView::Pin& pin : net.pins) {
    const ChipType& type =
        pin.chip < 0 ? *builder.machine().processor().type : *builder.chips()[static_cast<std::size_t>(pin.chip)].type;
    const PinSpec& spec = type.pins[static_cast<std::size_t>(pin.pin)];
    display = display || type.looks == Looks::digit;
    analog = analog || spec.kind == PinKind::analog_in || type.looks == Looks::knob;
    interrupt = interrupt || spec.name.find("IRQ") != std::string_view::npos || (pin.chip < 0 && spec.name == "NMI");
  }
  if (analog) return Purpose::analog;
  if (interrupt) return Purpose::interrupt;
  return display ? Purpose::display : Purpose::port;
}

struct Tie {
  std::string_view pin;
  bool high;
};

// What an unused input of a processor is tied to (MC6800, MC6802, MC6809 data sheets, pin descriptions; from memory).
constexpr Tie kTies[] = {{"HALT", true}, {"IRQ", true},  {"FIRQ", true},     {"NMI", true},
                         {"MR", true},   {"MRDY", true}, {"DMA/BREQ", true}, {"TSC", false}};

/// The block that makes the clock of a processor without an oscillator, or -1.
int clock_block(Builder& builder) {
  const ChipView cpu = builder.machine().processor();
  if (!clocked_from_outside(cpu.type->name)) return -1;
  for (std::size_t i = 0; i < builder.board().parts.size(); ++i) {
    if (builder.board().parts[i].ref == "CLK") return static_cast<int>(i);
  }
  const std::string e = format_quantity(builder.machine().timebase().millihertz(), Unit::millihertz);
  return builder.add_block(
      "CLK",
      cpu.type->name == "mc6800"
          ? "two-phase clock generator: PHI1 and PHI2 do not overlap and swing to the supply; E is "
            "PHI2 at TTL levels, for all other chips"
          : "clock generator: Q leads E by a quarter of a cycle",
      e, {});
}

}  // namespace

void add_nets(Builder& builder) {
  const ChipView cpu = builder.machine().processor();
  const int clock = clock_block(builder);
  // Only the clock generator can feed others with phase 2.
  const auto end_of = [&](const NetView::Pin& pin) {
    if (clock >= 0 && pin.chip < 0 && cpu.type->pins[static_cast<std::size_t>(pin.pin)].name == "PHI2") {
      return builder.block_end(clock, "E");
    }
    return builder.end(pin.chip, pin.pin);
  };
  for (const NetView& net : builder.machine().nets()) {
    if (net.pins.empty()) continue;
    if (net.rail) {
      for (const NetView::Pin& pin : net.pins) {
        const End rail = builder.rail(net.state.microvolts);
        builder.join(rail, end_of(pin), "", Purpose::plus);
      }
      continue;
    }
    for (std::size_t i = 1; i < net.pins.size(); ++i) {
      builder.join(end_of(net.pins[0]), end_of(net.pins[i]), is_reset(builder, net) ? "RESET" : net.name,
                   purpose_of(builder, net));
    }
  }
}

void add_supplies(Builder& builder) {
  for (std::size_t part = 0; part < builder.board().parts.size(); ++part) {
    if (!builder.board().parts[part].packaged()) continue;
    for (std::size_t pin = 0; pin < builder.board().parts[part].pins.size(); ++pin) {
      const Terminal terminal = builder.board().parts[part].pins[pin];
      const End end{static_cast<int>(part), static_cast<int>(pin)};
      if (terminal.kind != PinKind::supply || builder.wired(end)) continue;
      builder.join(builder.rail(terminal.microvolts), end, "", Purpose::plus);
    }
  }
}

void add_clock_and_reset(Builder& builder) {
  const int cpu = builder.part_of(-1);
  const std::string type = builder.board().parts[static_cast<std::size_t>(cpu)].type;
  const auto pin = [&](std::string_view name) { return builder.end(cpu, name); };
  const auto has = [&](std::string_view name) { return pin(name).pin >= 0; };

  if (const int clock = clock_block(builder); clock >= 0) {
    for (const char* name : {"PHI1", "PHI2", "E", "Q"}) {
      if (has(name)) builder.join(builder.block_end(clock, name), pin(name), name, Purpose::control);
    }
    if (has("DBE") && !builder.wired(pin("DBE"))) {
      builder.join(builder.block_end(clock, "E"), pin("DBE"), "E", Purpose::control);
    }
  }
  if (has("XTAL")) {
    const std::int64_t crystal = 4 * builder.machine().timebase().millihertz();
    const int y = builder.add_loose("Y", "crystal", format_quantity(crystal, Unit::millihertz), {"1", "2"});
    for (const auto& [name, terminal] : {std::pair("EXTAL", "1"), std::pair("XTAL", "2")}) {
      const int c = builder.add_loose("C", "capacitor at the crystal", "as the crystal's maker says, some 24 to 27 pF",
                                      {"1", "2"});
      builder.join(pin(name), builder.end(y, terminal), name, Purpose::control);
      builder.join(pin(name), builder.end(c, "1"), name, Purpose::control);
      builder.join(builder.rail(0), builder.end(c, "2"), "", Purpose::ground);
    }
  }
  const int reset = builder.add_block("RST",
                                      "reset circuit: open-collector output with a push button to GND; low until the "
                                      "supply has been good for at least eight clock cycles, then high",
                                      "", {"OUT"});
  builder.join(builder.end(reset, "OUT"), pin("RESET"), "RESET", Purpose::control);
  if (builder.board().pull_ups(pin("RESET")).empty()) {
    const int r = builder.add_loose("R", "resistor, pull-up of RESET", "4.7 kOhm", {"1", "2"});
    builder.join(pin("RESET"), builder.end(r, "1"), "RESET", Purpose::control);
    builder.join(builder.rail(kLogicHigh), builder.end(r, "2"), "", Purpose::plus);
  }
  for (const Tie& tie : kTies) {
    if (has(tie.pin) && !builder.wired(pin(tie.pin))) {
      builder.join(builder.rail(tie.high ? kLogicHigh : 0), pin(tie.pin), "", Purpose::plus);
    }
  }
  if (has("RE") && !builder.wired(pin("RE"))) {
    const std::vector<std::string> answering = builder.machine().answering(0);
    const bool inside =
        std::any_of(answering.begin(), answering.end(), [](const std::string& who) { return who.starts_with("CPU"); });
    builder.join(builder.rail(inside ? kLogicHigh : 0), pin("RE"), "", Purpose::plus);
  }
}

}  // namespace prewire::handout
