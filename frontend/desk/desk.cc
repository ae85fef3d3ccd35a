#include "desk.h"

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

}  // namespace prewire::front::desk
