// What the data sheets want besides the wires of the machine file: clocks of converters, references, unused pins.
#include <fmt/format.h>

#include <algorithm>

#include "builder.h"

namespace prewire::handout {

namespace {

/// Resistor and capacitor between CLK_R, CLK_IN and ground (National/TI ADC0801-05 data sheet, self-clocking).
void add_converter_clock(Builder& builder, const ChipView& chip, int part) {
  const End in = builder.end(part, "CLK_IN"), out = builder.end(part, "CLK_R");
  if (in.pin < 0 || out.pin < 0 || builder.wired(in) || !chip.type->has_parameter("clock_r")) return;
  const std::int64_t ohms = (*chip.parameters)["clock_r"], farads = (*chip.parameters)["clock_c"];
  if (ohms == 0 || farads == 0) {
    const std::int64_t clock = chip.type->has_parameter("clock") ? (*chip.parameters)["clock"] : 0;
    builder.leave_open(in, clock != 0 ? fmt::format("needs a clock of {}: an oscillator, or R and C at CLK_R",
                                                    format_quantity(clock, Unit::millihertz))
                                      : "needs a clock: an oscillator, or R and C at CLK_R");
    return;
  }
  // A copy: adding parts moves the others.
  const std::string ref = builder.board().parts[static_cast<std::size_t>(part)].ref;
  const int r = builder.add_loose("R", "resistor, clock of " + ref, format_quantity(ohms, Unit::ohms), {"1", "2"});
  const int c =
      builder.add_loose("C", "capacitor, clock of " + ref, format_quantity(farads, Unit::femtofarads), {"1", "2"});
  const std::string name = fmt::format("{} clock", builder.board().parts[static_cast<std::size_t>(part)].name);
  builder.join(out, builder.end(r, "1"), name + " R", Purpose::control);
  builder.join(in, builder.end(r, "2"), name, Purpose::control);
  builder.join(in, builder.end(c, "1"), name, Purpose::control);
  builder.join(builder.rail(0), builder.end(c, "2"), "", Purpose::ground);
}

void add_reference(Builder& builder, const ChipView& chip, int part) {
  const End pin = builder.end(part, "VREF/2");
  if (pin.pin < 0 || builder.wired(pin) || !chip.type->has_parameter("vref_half")) return;
  const std::int64_t volts = (*chip.parameters)["vref_half"];
  if (volts == 0) {
    builder.leave_open(pin, "stays open: the chip holds half of VCC there");
    return;
  }
  const std::string value = format_quantity(volts, Unit::microvolts);
  const int reference =
      builder.add_block(builder.next_ref("REF"),
                        "reference for the converter: a divider with a trimmer, set with a meter", value, {"OUT"});
  builder.join(builder.end(reference, "OUT"), pin,
               fmt::format("{} VREF/2", builder.board().parts[static_cast<std::size_t>(part)].name), Purpose::analog);
}

/// Unwired pins that are neither bus nor supply. Common practice; the MC6821's pull-ups are from its data sheet.
void settle_unused(Builder& builder, int part_index) {
  const Part part = builder.board().parts[static_cast<std::size_t>(part_index)];
  const bool ttl = part.type.starts_with("74") || part.type == "dm9368";
  for (std::size_t i = 0; i < part.pins.size(); ++i) {
    const End end{part_index, static_cast<int>(i)};
    const auto& open = builder.board().open;
    const bool said = std::any_of(open.begin(), open.end(), [&](const OpenPin& pin) { return pin.end == end; });
    if (said || builder.wired(end)) continue;
    const Terminal& pin = part.pins[i];
    switch (pin.kind) {
      case PinKind::input:
        if (part.type == "mc6821") {
          builder.join(builder.rail(0), end, "", Purpose::ground);
        } else if (ttl) {
          builder.join(builder.rail(kLogicHigh), end, "", Purpose::plus);
        } else {
          builder.leave_open(end, "an input that the machine file leaves open: see the data sheet");
        }
        break;
      case PinKind::three_state: {
        const bool pulled = pin.name.starts_with("PA") || pin.name == "CA2";
        if (part.type == "mc6821") {
          builder.leave_open(end, pulled ? "not used; its pull-up inside holds it high"
                                         : "not used and without a pull-up: 10 kOhm to +5V, or the program makes it an "
                                           "output");
        } else {
          builder.leave_open(end, "not used");
        }
        break;
      }
      case PinKind::output: builder.leave_open(end, "an output that this board does not need"); break;
      case PinKind::open_drain: builder.leave_open(end, "an output that is not used"); break;
      case PinKind::none: builder.leave_open(end, "not connected inside the package"); break;
      case PinKind::analog_in: builder.leave_open(end, "an analog input that the machine file leaves open"); break;
      default: builder.leave_open(end, "not used"); break;
    }
  }
}

}  // namespace

void add_practice(Builder& builder) {
  const std::size_t chips = builder.board().parts.size();
  for (std::size_t i = 0; i < chips; ++i) {
    const Part part = builder.board().parts[i];
    if (part.chip < 0) continue;
    const ChipView chip = builder.view(part);
    add_converter_clock(builder, chip, static_cast<int>(i));
    add_reference(builder, chip, static_cast<int>(i));
  }
  for (std::size_t i = 0; i < chips; ++i) {
    if (builder.board().parts[i].chip != Part::kNoChip) settle_unused(builder, static_cast<int>(i));
  }
}

}  // namespace prewire::handout
