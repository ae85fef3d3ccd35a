#include "see.h"

#include <fmt/format.h>

#include <algorithm>

#include "desk/session/session.h"

namespace prewire::front::desk {

std::string volts_text(const NetState& state) {
  if (state.strength == Strength::none) return {};
  return fmt::format("{:.2f} V", state.microvolts / 1e6);
}

void see_parts(const Session& session, View& view) {
  const Machine& machine = *session.machine();
  const Parts& parts = session.parts();
  const std::vector<ChipView> chips = machine.chips();
  const auto light = [&](std::size_t chip, std::size_t lamp) {
    if (session.by_hand()) return chips[chip].lamps[lamp].lit() ? 1.0 : 0.0;
    return std::clamp(session.eye().brightness(chip, lamp), 0.0, 1.0);
  };
  for (const DigitGroup& group : parts.digits) {
    DigitGroupView shown{group.name, {}};
    for (std::size_t chip : group.chips) {
      DigitView digit;
      const std::size_t lamps = std::min<std::size_t>(8, chips[chip].lamps.size());
      for (std::size_t lamp = 0; lamp < lamps; ++lamp) digit.light[lamp] = light(chip, lamp);
      shown.digits.push_back(std::move(digit));
    }
    view.digits.push_back(std::move(shown));
  }
  for (const LedPart& led : parts.leds) view.leds.push_back({led.name, led.colour, light(led.chip, 0)});
  for (const ContactPart& part : parts.contacts) {
    (part.springs ? view.buttons : view.switches).push_back({part.name, session.closed(part)});
  }
  for (const KnobPart& part : parts.knobs) {
    KnobView knob;
    knob.name = part.name;
    const std::int64_t position = session.position(part);
    if (part.most > part.least)
      knob.percent = static_cast<int>((position - part.least) * 100 / (part.most - part.least));
    if (part.unit == Unit::millionths) knob.setting = fmt::format("{} %", knob.percent);
    if (const auto net = machine.net(part.net)) knob.volts = volts_text(*net);
    view.knobs.push_back(std::move(knob));
  }
}

void see_processor(const Session& session, View& view) {
  const Cpu& cpu = session.machine()->cpu();
  const auto registers = cpu.registers();
  for (std::size_t i = 0; i < registers.size(); ++i) {
    const RegisterInfo& info = registers[i];
    const unsigned value = cpu.get(i);
    const std::string text = fmt::format("{:0{}X}", value, info.bits / 4);
    if (info.flags.empty()) {
      view.registers.push_back({std::string(info.name), text});
      continue;
    }
    view.flags_name = info.name;
    view.flags_value = "$" + text;
    for (std::size_t bit = 0; bit < info.flags.size(); ++bit) {
      const char letter = info.flags[bit];
      if (letter == '1' || letter == '0') continue;  // fixed
      view.flags.push_back({letter, (value >> (info.flags.size() - 1 - bit) & 1U) != 0});
    }
  }
}

void see_memory(const Session& session, const Choices& choices, const Room& room, View& view) {
  const Machine& machine = *session.machine();
  const std::uint16_t pc = machine.cpu().pc();
  for (int row = 0; row < room.memory_rows; ++row) {
    MemoryRow line;
    line.address = static_cast<std::uint16_t>(choices.memory + row * room.memory_columns);
    for (int column = 0; column < room.memory_columns; ++column) {
      const auto address = static_cast<std::uint16_t>(line.address + column);
      MemoryCell cell;
      cell.value = machine.peek(address);
      cell.lines = machine.lines_at(address);
      const ByteUse use = machine.use(address);
      cell.known = use.loaded || use.written || cell.lines == 0;
      cell.executed = use.executed;
      cell.next = address == pc;
      cell.chosen = choices.focus == "memory" && address == choices.cursor;
      if (cell.chosen && choices.nibble == 1) cell.value = static_cast<std::uint8_t>(choices.typed << 4);
      const bool letter = cell.lines == 0xFF && cell.value >= 0x20 && cell.value < 0x7F;
      line.text += letter ? static_cast<char>(cell.value) : '.';
      line.cells.push_back(cell);
    }
    view.memory.push_back(std::move(line));
  }
}

void see_memory_place(const Session& session, const Choices& choices, View& view) {
  const Machine& machine = *session.machine();
  const std::uint16_t asked = choices.focus == "memory" ? choices.cursor : choices.memory;
  const std::vector<std::string> who = machine.answering(asked);
  view.memory_place = fmt::format("${:04X}  {}", asked, who.empty() ? "nobody answers" : list_of(who));
  if (const auto label = machine.label_at(asked); !label.empty()) view.memory_place += fmt::format("  {}", label);
}

}  // namespace prewire::front::desk
