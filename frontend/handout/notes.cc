// Reminders: pull-ups, currents, unused inputs, and the cautions of every bench.
#include <fmt/format.h>

#include <algorithm>

#include "builder.h"

namespace prewire::handout {

namespace {

std::string name_of(const Part& part) {
  return part.name.empty() || part.name == part.ref ? part.ref : fmt::format("{} ({})", part.ref, part.name);
}

Notes pull_ups(const Board& board) {
  Notes notes{"Pull-ups", {}};
  for (const Net& net : board.nets) {
    if (net.rail) continue;
    std::string outputs;
    bool loaded = false;
    for (const End end : net.ends) {
      const Part& part = board.part(end);
      const Terminal& pin = board.terminal(end);
      loaded = loaded || pin.kind == PinKind::input;
      // Decoders pull these up inside.
      const bool pulled_inside = pin.name == "BI/RBO" || pin.name == "RBO";
      if (pin.kind != PinKind::open_drain || pulled_inside) continue;
      outputs += fmt::format("{}{} {}", outputs.empty() ? "" : ", ", part.ref, pin.name);
    }
    if (outputs.empty() || !loaded) continue;
    const std::vector<int> pulls = board.pull_ups(net.ends.front());
    if (pulls.empty()) {
      notes.lines.push_back(fmt::format(
          "{}: open-drain outputs ({}) and no resistor to +5V. Add 3.3 to 4.7 kOhm, or the line never goes high.",
          net.name, outputs));
      continue;
    }
    const Part& pull = board.parts[static_cast<std::size_t>(pulls.front())];
    notes.lines.push_back(fmt::format("{}: open-drain outputs ({}), pulled up by {}, {}. Only one pull-up for the net.",
                                      net.name, outputs, pull.ref, pull.value));
  }
  // Inputs of the processor that sit at the rail.
  std::string tied;
  for (const Net& net : board.nets) {
    if (!net.rail || net.purpose != Purpose::plus) continue;
    for (const End end : net.ends) {
      if (board.part(end).chip == -1 && board.terminal(end).kind == PinKind::input) {
        tied += fmt::format("{}{}", tied.empty() ? "" : ", ", board.terminal(end).name);
      }
    }
  }
  if (!tied.empty()) {
    notes.lines.push_back(fmt::format(
        "{} of the processor at +5V: a wire does; 3.3 to 10 kOhm instead lets you pull such a line low for a test.",
        tied));
  }
  return notes;
}

/// The series resistor of an LED, by its part, or -1.
int series_resistor(const Board& board, int led) {
  const auto pins = static_cast<int>(board.parts[static_cast<std::size_t>(led)].pins.size());
  for (int pin = 0; pin < pins; ++pin) {
    const Net* net = board.net_at({led, pin});
    if (net == nullptr || net->rail) continue;
    for (const End end : net->ends) {
      const Part& part = board.part(end);
      if (part.type == "resistor" && board.net_at({end.part, 1 - end.pin}) != nullptr) return end.part;
    }
  }
  return -1;
}

/// One line for all parts of which the same is to be said.
class Sayings {
 public:
  void add(const Part& part, const std::string& what) {
    for (auto& [who, said] : lines_) {
      if (said != what) continue;
      who += ", " + name_of(part);
      return;
    }
    lines_.emplace_back(name_of(part), what);
  }
  std::vector<std::string> lines() const {
    std::vector<std::string> all;
    for (const auto& [who, said] : lines_) all.push_back(fmt::format("{}: {}", who, said));
    return all;
  }

 private:
  std::vector<std::pair<std::string, std::string>> lines_;
};

Notes currents(const Builder& builder, const Board& board) {
  Sayings notes;
  for (std::size_t i = 0; i < board.parts.size(); ++i) {
    const Part& part = board.parts[i];
    const bool spare = !part.package.empty() && board.net_at({static_cast<int>(i), 0}) == nullptr;
    if (part.type == "led" && !spare) {
      const int resistor = series_resistor(board, static_cast<int>(i));
      if (resistor < 0) {
        notes.add(part,
                  "no series resistor in the machine file. Put one in series: 910 Ohm or more at a port, 270 to 330 "
                  "Ohm at a driver.");
        continue;
      }
      const Part& r = board.parts[static_cast<std::size_t>(resistor)];
      const ChipView view = builder.view(r);
      const std::int64_t ohms = (*view.parameters)["ohms"];
      const ChipView led = builder.view(part);
      // Forward voltages as on the LED's page.
      static constexpr std::int64_t kForward[] = {1'800'000, 2'000'000, 2'100'000, 3'000'000, 3'000'000};
      const std::int64_t forward = led.parameters->given("forward")
                                       ? (*led.parameters)["forward"]
                                       : kForward[static_cast<std::size_t>((*led.parameters)["color"])];
      const std::int64_t tenths = (kLogicHigh - forward) / (ohms * 100);
      notes.add(part,
                fmt::format("{} of {} in series, at most {}.{} mA at 5 V. The short lead, at the flat side, is the "
                            "cathode K.",
                            r.ref, r.value, tenths / 10, tenths % 10));
    }
    if (part.type == "dm9368") {
      notes.add(part, "the outputs are current sources, so no series resistors.");
    }
    if (part.type == "74ls47") {
      notes.add(part, "a resistor of its own in series with each segment, 270 to 330 Ohm at 5 V.");
    }
    if (part.type.starts_with("seven_segment")) {
      notes.add(part,
                fmt::format("{}; pin-outs of displays differ, find a to g, dp and COM in the data sheet.", part.value));
    }
  }
  return {"Currents and polarity", notes.lines()};
}

Notes unused(const Board& board) {
  Notes notes{"Pins without a wire", {}};
  std::vector<std::pair<std::string, std::string>> lines;  // part and why, pins
  for (const OpenPin& open : board.open) {
    const Part& part = board.part(open.end);
    const Terminal& pin = board.terminal(open.end);
    const std::string key = fmt::format("{}|{}", name_of(part), open.why);
    const std::string name = pin.number == 0 ? pin.name : fmt::format("{} {}", pin.number, pin.name);
    const auto known = std::find_if(lines.begin(), lines.end(), [&](const auto& line) { return line.first == key; });
    if (known == lines.end()) {
      lines.emplace_back(key, name);
    } else {
      known->second += ", " + name;
    }
  }
  for (const auto& [key, pins] : lines) {
    const std::size_t bar = key.find('|');
    notes.lines.push_back(fmt::format("{}: {}: {}.", key.substr(0, bar), pins, key.substr(bar + 1)));
  }
  return notes;
}

Notes safety() {
  // Common practice of electronics classes.
  return {
      "Before and while you build",
      {"Prewire is a simulation, no safety check of real wiring. Compare everything with the data sheets of the very "
       "parts that you have.",
       "Supply off before you wire, rewire, insert or remove anything. Let another person check the supply wires "
       "before it goes on.",
       "First power-on without chips: measure the rails at every socket. Set the current limit of the supply.",
       "Smoke, heat, smell: supply off first, then look. A chip the wrong way round gets hot: notch and pin 1 first.",
       "Touch something grounded before you touch a chip, wear a wrist strap, keep MOS parts in their foam.",
       "Observe polarity: LEDs, electrolytic capacitors, the supply itself. A resistor in series with every LED.",
       "Breadboards are for extra-low voltage only, never for mains. Use an enclosed, fused, approved supply; anything "
       "on the mains side is a matter of local codes and licensed people.",
       "No jewellery, no loose wires, dry hands. Do not leave a new circuit alone under power."}};
}

}  // namespace

void add_notes(Builder& builder) {
  Board& board = builder.board();
  for (Notes notes : {safety(), pull_ups(board), currents(builder, board), unused(board)}) {
    if (!notes.lines.empty()) board.notes.push_back(std::move(notes));
  }
}

}  // namespace prewire::handout
