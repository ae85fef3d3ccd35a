// The desk: what it asks for in words, and the answer.
#include <fmt/format.h>

#include "desk.h"

namespace prewire::front::desk {

void Desk::ask(std::string what) {
  choices_.prompting = true;
  choices_.prompt_for = std::move(what);
  choices_.prompt.clear();
  choices_.note.clear();
}

void Desk::erase() {
  while (!choices_.prompt.empty()) {
    const auto last = static_cast<unsigned char>(choices_.prompt.back());
    choices_.prompt.pop_back();
    if ((last & 0xC0) != 0x80) break;
  }
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

}  // namespace prewire::front::desk
