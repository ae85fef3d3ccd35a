#include "desk.h"

#include <fmt/format.h>

#include <algorithm>

#include "desk/panels/panels.h"
#include "keys.h"

namespace prewire::front::desk {

namespace {

constexpr double kNoteSeconds = 4;
constexpr double kFileSeconds = 0.5;
// Of a frame, for writing a session down.
constexpr double kRecordSeconds = 0.006;
// What a running machine shows of its inside changes this seldom: nobody could read it, and large areas that flash more
// than three times a second can hurt (WCAG 2.1, success criterion 2.3.1).
constexpr double kStillSeconds = 0.5;

std::optional<unsigned> hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return std::nullopt;
}

}  // namespace

void Desk::open(const std::filesystem::path& file, const std::string& check) {
  session_.open(file, check);
  const Choices before = choices_;
  choices_ = {};
  choices_.look = before.look;
  choices_.theme = before.theme;
  choices_.scale = before.scale;
  dirty_ = true;
}

void Desk::note(std::string text) {
  choices_.note = std::move(text);
  note_left_ = kNoteSeconds;
}

void Desk::record() {
  if (!save_recording || recording_ || session_.machine() == nullptr) return;
  try {
    recording_ = session_.record();
    note("Writing the session down");
  } catch (const InputError& error) {
    const Fault& fault = error.faults().front();
    note(fault.hint.empty() ? fault.what : fault.what + ": " + fault.hint);
  }
}

void Desk::go_on_recording() {
  if (recording_->go_on(kRecordSeconds)) return;
  const std::unique_ptr<Recording> whole = std::move(recording_);
  const auto text = whole->take_text();
  note(text ? save_recording(*text) : "Nothing was to be seen yet that a check could expect");
}

void Desk::pass(double seconds, double budget) {
  session_.advance(seconds, budget);
  if (recording_) go_on_recording();
  note_left_ -= seconds;
  if (note_left_ <= 0 && !choices_.note.empty()) {
    choices_.note.clear();
    dirty_ = true;
  }
  until_still_ -= seconds;
  until_look_ -= seconds;
  if (until_look_ > 0) return;
  until_look_ = kFileSeconds;
  if (session_.reload_if_changed()) dirty_ = true;
}

Needs Desk::needs() const {
  Needs needs;
  needs.fault = session_.machine() == nullptr;
  if (needs.fault) return needs;
  const Parts& parts = session_.parts();
  for (const DigitGroup& group : parts.digits) needs.digits.push_back(static_cast<int>(group.chips.size()));
  needs.leds = static_cast<int>(parts.leds.size());
  needs.knobs = static_cast<int>(parts.knobs.size());
  for (const ContactPart& part : parts.contacts) ++(part.springs ? needs.buttons : needs.switches);
  for (const RegisterInfo& info : session_.machine()->cpu().registers()) needs.registers += info.flags.empty() ? 1 : 0;
  needs.bus_lines = static_cast<int>(session_.bus().probes().size()) +
                    (session_.machine()->processor().type->pin("VMA") >= 0 ? 2 : 3);
  return needs;
}

void Desk::draw(Painter& painter, Size window) {
  layout_ = lay_out(window, choices_.scale, choices_.look, needs());
  const bool fast = session_.running() && !(session_.by_hand() && session_.pace().step() <= 1);
  if (!fast) follow_program(session_, choices_, layout_.room.program_rows);
  const bool still = fast && until_still_ > 0 && !view_.bus.cells.empty();
  View fresh = look_at(session_, choices_, layout_.room, !still);
  if (still) {
    fresh.bus = std::move(view_.bus);
    fresh.registers = std::move(view_.registers);
    fresh.flags = std::move(view_.flags);
    fresh.flags_name = std::move(view_.flags_name);
    fresh.flags_value = std::move(view_.flags_value);
    fresh.memory = std::move(view_.memory);
  } else if (fast) {
    until_still_ = kStillSeconds;
  }
  if (fast) {
    for (ProgramRow& row : fresh.program) row.next = false;
    for (MemoryRow& row : fresh.memory) {
      for (MemoryCell& cell : row.cells) cell.next = false;
    }
  }
  if (choices_.help) {
    for (const KeyBinding& binding : key_bindings()) fresh.keys.push_back({binding.keys, binding.does});
  }
  view_ = std::move(fresh);
  hits_.clear();
  const Stage stage{painter, theme(choices_.theme), layout_.px, hits_, choices_};
  draw_desk(stage, window, layout_, view_);
  dirty_ = false;
}

// ---------------------------------------------------------------------------------------------------------------------
// Events

void Desk::handle(const SDL_Event& event) {
  dirty_ = true;
  switch (event.type) {
    case SDL_QUIT: over_ = true; break;
    case SDL_KEYDOWN: key(event.key); break;
    case SDL_KEYUP:
      if (event.key.keysym.sym == SDLK_SPACE && !key_holds_.empty()) {
        act({Action::Kind::release, 0, key_holds_});
        key_holds_.clear();
      }
      break;
    case SDL_TEXTINPUT: typed(event.text.text); break;
    case SDL_MOUSEBUTTONDOWN: {
      if (event.button.button != SDL_BUTTON_LEFT) break;
      pointer_ = {event.button.x, event.button.y};
      const HitBox* hit = hits_.at(pointer_);
      if (hit == nullptr) break;
      const HitBox copy = *hit;  // what is done may draw anew
      if (!copy.focus.empty()) choices_.focus = copy.focus;
      if (copy.release.kind != Action::Kind::none) held_ = copy.release;
      act(copy.press);
      break;
    }
    case SDL_MOUSEBUTTONUP:
      if (event.button.button != SDL_BUTTON_LEFT || !held_) break;
      act(*held_);
      held_.reset();
      break;
    case SDL_MOUSEMOTION: {
      pointer_ = {event.motion.x, event.motion.y};
      const HitBox* hit = hits_.at(pointer_);
      const Action hover = hit != nullptr ? hit->hover : Action{};
      if (hover.kind != Action::Kind::none) {
        act(hover);
      } else {
        choices_.bus_cursor.reset();
        if (!choices_.net_held) choices_.net.clear();
      }
      break;
    }
    case SDL_MOUSEWHEEL: {
      const HitBox* hit = hits_.at(pointer_);
      if (hit == nullptr || hit->wheel.kind == Action::Kind::none || event.wheel.y == 0) break;
      Action wheel = hit->wheel;
      wheel.number *= event.wheel.y;
      act(wheel);
      break;
    }
    case SDL_DROPFILE:
      // SDL gives the name away.
      if (event.drop.file == nullptr) break;
      open(event.drop.file);
      SDL_free(event.drop.file);
      break;
    default: break;
  }
}

void Desk::key(const SDL_KeyboardEvent& event) {
  const SDL_Keycode key = event.keysym.sym;
  if (choices_.prompting) return key_for_prompt(key);
  const Action::Kind kind = action_for(key, event.keysym.mod);
  if (kind == Action::Kind::none) return key_for_focus(key);
  // A key that is held down repeats steps, but does not toggle.
  const bool repeats = kind == Action::Kind::step_instruction || kind == Action::Kind::step_cycle ||
                       kind == Action::Kind::back_instruction || kind == Action::Kind::back_cycle ||
                       kind == Action::Kind::focus_next || kind == Action::Kind::focus_back;
  if (event.repeat != 0 && !repeats) return;
  act({kind});
}

void Desk::key_for_prompt(SDL_Keycode key) {
  switch (key) {
    case SDLK_RETURN:
    case SDLK_KP_ENTER: answer(); break;
    case SDLK_BACKSPACE:
      while (!choices_.prompt.empty()) {
        const auto last = static_cast<unsigned char>(choices_.prompt.back());
        choices_.prompt.pop_back();
        if ((last & 0xC0) != 0x80) break;
      }
      break;
    case SDLK_ESCAPE: choices_.prompting = false; break;
    default: break;  // everything else is typed
  }
}

void Desk::key_for_focus(SDL_Keycode key) {
  const std::string& focus = choices_.focus;
  const int across = key == SDLK_RIGHT ? 1 : key == SDLK_LEFT ? -1 : 0;
  const int down = key == SDLK_DOWN       ? 1
                   : key == SDLK_UP       ? -1
                   : key == SDLK_PAGEDOWN ? 10
                   : key == SDLK_PAGEUP   ? -10
                                          : 0;
  if (focus.starts_with("part ")) {
    const std::string part = focus.substr(5);
    if (session_.parts().knob(part) != nullptr) {
      if (across != 0 || down != 0) {
        act({Action::Kind::turn, across - down, part});
      } else if (key == SDLK_RETURN || key == SDLK_KP_ENTER) {
        act({Action::Kind::ask_part, 0, part});
      }
      return;
    }
    const ContactPart* contact = session_.parts().contact(part);
    if (contact == nullptr || (key != SDLK_SPACE && key != SDLK_RETURN)) return;
    if (!contact->springs) {
      act({Action::Kind::flip, 0, part});
    } else if (key_holds_.empty() && key == SDLK_SPACE) {
      key_holds_ = part;
      act({Action::Kind::press, 0, part});
    }
  } else if (focus == "memory") {
    const int columns = layout_.room.memory_columns;
    if (across != 0 || down != 0) move_cursor(across + down * columns);
  } else if (focus == "program" && down != 0) {
    scroll("program", down);
  } else if (focus == "bus" && across != 0) {
    scroll("bus", across);
  }
}

void Desk::typed(const std::string& text) {
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

void Desk::ask(std::string what) {
  choices_.prompting = true;
  choices_.prompt_for = std::move(what);
  choices_.prompt.clear();
  choices_.note.clear();
}

void Desk::answer() {
  const std::string text = choices_.prompt;
  const std::string what = choices_.prompt_for;
  if (text.empty() || session_.machine() == nullptr) {
    choices_.prompting = false;
    return;
  }
  const Machine& machine = *session_.machine();
  try {
    if (what == "stop") {
      session_.add_stop_point(parse_stop_point(machine, text));
      choices_.tab = Tab::stops;
    } else if (what == "go") {
      const StopPoint place = parse_stop_point(machine, text);  // one way to write addresses
      if (place.kind != StopPoint::Kind::execute)
        throw InputError(
            Fault{"bad-stop-point", Weight::stop, {}, "not an address", "an address or a label", text, ""});
      choices_.memory = static_cast<std::uint16_t>(place.first & 0xFFF0);
      choices_.cursor = place.first;
      choices_.nibble = 0;
      choices_.tab = Tab::memory;
      choices_.focus = "memory";
    } else if (what.starts_with("part ")) {
      if (!session_.set(what.substr(5), text)) {
        note(session_.why());
        return;
      }
    } else {
      const auto registers = machine.cpu().registers();
      const std::string name = what.substr(what.find(' ') + 1);
      const auto value = parse_address(text.starts_with("$") || text.starts_with("0x") ? text : "$" + text);
      for (std::size_t i = 0; i < registers.size(); ++i) {
        if (registers[i].name != name) continue;
        if (!value || (registers[i].bits == 8 && *value > 0xFF)) {
          note(fmt::format("Expected up to {} hex digits", registers[i].bits / 4));
          return;
        }
        if (!session_.change_register(i, *value)) note("Registers can be changed between two instructions only");
      }
    }
    choices_.prompting = false;
  } catch (const InputError& error) {
    const Fault& fault = error.faults().front();
    note(fmt::format("{}{}{}", fault.what, fault.hint.empty() ? ": expected " : ": ",
                     fault.hint.empty() ? fault.expected : fault.hint));
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

}  // namespace prewire::front::desk
