// The desk: what each action does.
#include <fmt/format.h>

#include <algorithm>

#include "desk.h"

namespace prewire::front::desk {

namespace {

std::optional<unsigned> hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return std::nullopt;
}

}  // namespace

void Desk::act(const Action& action) {
  using K = Action::Kind;
  switch (action.kind) {
    case K::none: break;
    case K::run:
      if (session_.busy()) {
        session_.stop();
      } else {
        choices_.line.reset();
        choices_.bus_back = 0;
        until_still_ = 0;
        session_.run();
      }
      break;
    case K::step_instruction: step(Step::instruction); break;
    case K::step_over: step(Step::over); break;
    case K::step_out: step(Step::out); break;
    case K::step_cycle: step(Step::cycle); break;
    case K::back_instruction: step(Step::instruction_back); break;
    case K::back_cycle: step(Step::cycle_back); break;
    case K::back_run: step(Step::run_back); break;
    case K::reset:
      session_.press_reset();
      note("RESET is low for eight cycles");
      break;
    case K::power_cycle: session_.power_cycle(); break;
    case K::reload:
      if (!session_.file().empty()) session_.reload();
      break;
    case K::faster: session_.pace().choose(session_.pace().step() + 1); break;
    case K::slower: session_.pace().choose(session_.pace().step() - 1); break;
    case K::toggle_stop:
      if (session_.machine() == nullptr) break;
      session_.toggle_stop_point(action.number != 0 ? static_cast<std::uint16_t>(action.number)
                                                    : choices_.line.value_or(session_.machine()->cpu().pc()));
      break;
    case K::ask_stop:
      if (session_.machine() != nullptr) ask("stop");
      break;
    case K::remove_stop: session_.remove_stop_point(static_cast<std::size_t>(action.number)); break;
    case K::look:
      choices_.look = choices_.look == Look::full      ? Look::lecture
                      : choices_.look == Look::lecture ? Look::wiring
                                                       : Look::full;
      choices_.findings_from = 0;
      break;
    case K::theme: choices_.theme = choices_.theme == ThemeName::dark ? ThemeName::light : ThemeName::dark; break;
    case K::bigger: choices_.scale = std::min(1.25, choices_.scale + 0.05); break;
    case K::smaller: choices_.scale = std::max(0.75, choices_.scale - 0.05); break;
    case K::tab: choices_.tab = static_cast<Tab>((static_cast<int>(choices_.tab) + 1) % 3); break;
    case K::show_tab: choices_.tab = static_cast<Tab>(action.number); break;
    case K::help: choices_.help = !choices_.help; break;
    case K::ask_go:
      if (session_.machine() != nullptr) ask("go");
      break;
    case K::picture:
      if (save_picture) note(save_picture());
      break;
    case K::record: record(); break;
    case K::focus_next: move_focus(1); break;
    case K::focus_back: move_focus(-1); break;
    case K::cancel:
      if (choices_.help) {
        choices_.help = false;
      } else if (session_.busy() && !session_.running()) {
        session_.stop();
      } else {
        choices_.line.reset();
        choices_.focus.clear();
        choices_.net.clear();
        choices_.net_held = false;
        choices_.bus_back = 0;
        choices_.nibble = 0;
      }
      break;
    case K::quit: over_ = true; break;
    case K::press:
    case K::release:
    case K::flip: {
      const ContactPart* part = session_.parts().contact(action.text);
      if (part == nullptr) break;
      const bool close = action.kind == K::press || (action.kind == K::flip && !session_.closed(*part));
      if (!session_.set(part->name, close ? part->closed : part->open)) note(session_.why());
      break;
    }
    case K::turn: turn(action.text, action.number); break;
    case K::ask_part: ask("part " + action.text); break;
    case K::ask_register:
      if (session_.busy()) {
        note("Stop the machine to change its registers");
      } else if (action.number < static_cast<int>(view_.registers.size())) {
        ask("register " + view_.registers[static_cast<std::size_t>(action.number)].name);
      }
      break;
    case K::choose_line: choices_.line = static_cast<std::uint16_t>(action.number); break;
    case K::choose_byte:
      choices_.cursor = static_cast<std::uint16_t>(action.number);
      choices_.nibble = 0;
      break;
    case K::move_cursor: move_cursor(action.number); break;
    case K::choose_cycle: choose_cycle(action.number); break;
    case K::trace_net:
      if (!choices_.net_held) choices_.net = action.text;
      break;
    case K::hold_net:
      choices_.net_held = !(choices_.net_held && choices_.net == action.text);
      choices_.net = action.text;
      break;
    case K::toggle_probe: session_.toggle_probe(action.text); break;
    case K::scroll: scroll(action.text, action.number); break;
  }
}

void Desk::step(Step step) {
  choices_.line.reset();
  choices_.bus_back = 0;
  choices_.bus_cursor.reset();
  session_.step(step);
}

void Desk::move_focus(int by) {
  std::vector<std::string> names;
  for (const HitBox& hit : hits_.all()) {
    if (!hit.focus.empty() && std::find(names.begin(), names.end(), hit.focus) == names.end())
      names.push_back(hit.focus);
  }
  if (names.empty()) return;
  const auto at = std::find(names.begin(), names.end(), choices_.focus);
  const auto count = static_cast<std::ptrdiff_t>(names.size());
  const std::ptrdiff_t index = at == names.end() ? (by > 0 ? 0 : count - 1) : (at - names.begin() + by + count) % count;
  choices_.focus = names[static_cast<std::size_t>(index)];
  choices_.nibble = 0;
}

void Desk::scroll(const std::string& panel, int lines) {
  if (session_.machine() == nullptr) return;
  if (panel == "program") {
    const std::uint16_t from = choices_.line.value_or(session_.machine()->cpu().pc());
    choices_.line = program_line(session_, from, lines);
  } else if (panel == "memory") {
    choices_.memory = static_cast<std::uint16_t>(choices_.memory + lines * layout_.room.memory_columns);
  } else if (panel == "bus") {
    const auto most = std::max<Cycle>(0, static_cast<Cycle>(session_.bus().entries().size()) - layout_.room.bus_cells);
    choices_.bus_back = std::clamp<Cycle>(choices_.bus_back - lines, 0, most);
  } else {
    const int most =
        panel == "nets" ? static_cast<int>(view_.wiring.nets.size()) : static_cast<int>(view_.findings.size()) - 1;
    choices_.findings_from = std::clamp(choices_.findings_from + lines, 0, std::max(0, most));
  }
}

void Desk::choose_cycle(int index) {
  // Panels count the cells that they show; the last one is the last of the view.
  const std::size_t shown =
      std::min<std::size_t>(view_.bus.cells.size(), static_cast<std::size_t>(layout_.room.bus_cells));
  const std::size_t at = view_.bus.cells.size() - shown + static_cast<std::size_t>(index);
  if (at < view_.bus.cells.size()) choices_.bus_cursor = view_.bus.cells[at].cycle;
}

void Desk::turn(const std::string& part, int steps) {
  const KnobPart* knob = session_.parts().knob(part);
  if (knob == nullptr) return;
  const std::int64_t to = std::clamp(session_.position(*knob) + steps * knob->step, knob->least, knob->most);
  const std::string text = knob->unit == Unit::millionths ? fmt::format("{} %", static_cast<double>(to) / 10'000.0)
                                                          : format_quantity(to, knob->unit);
  if (!session_.set(part, text)) note(session_.why());
}

void Desk::type(const std::string& text) {
  if (choices_.prompting) {
    choices_.prompt += text;
    return;
  }
  if (choices_.focus == "memory") {
    for (char c : text) type_hex(c);
  }
}

void Desk::type_hex(char digit) {
  const auto value = hex_digit(digit);
  if (!value) return;
  if (session_.busy()) {
    return note("Stop the machine to change its memory");
  }
  if (choices_.nibble == 0) {
    choices_.typed = static_cast<std::uint8_t>(*value);
    choices_.nibble = 1;
    return;
  }
  const auto byte = static_cast<std::uint8_t>(choices_.typed << 4 | *value);
  const std::uint16_t address = choices_.cursor;
  if (!session_.poke(address, byte)) note(fmt::format("No memory at ${:04X}", address));
  move_cursor(1);
}

void Desk::move_cursor(int bytes) {
  choices_.nibble = 0;
  choices_.cursor = static_cast<std::uint16_t>(choices_.cursor + bytes);
  const int columns = layout_.room.memory_columns, rows = std::max(1, layout_.room.memory_rows);
  // Rows away from the first one, on the ring of all addresses.
  const int offset = static_cast<std::uint16_t>(choices_.cursor - choices_.memory);
  if (offset < rows * columns) return;
  const auto row_start = static_cast<std::uint16_t>(choices_.cursor - (choices_.cursor - choices_.memory) % columns);
  choices_.memory = bytes < 0 ? row_start : static_cast<std::uint16_t>(row_start - (rows - 1) * columns);
}

}  // namespace prewire::front::desk
