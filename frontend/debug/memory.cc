// Commands for registers, memory and code.
#include <fmt/format.h>

#include <algorithm>

#include "commands.h"
#include "refusal.h"
#include "shared/places.h"

namespace prewire::front::debug {

namespace {

constexpr int kAcross = 16;
constexpr int kMostShown = 4096;

void registers(Session& session, Words& words) {
  if (words.empty()) {
    const Cpu& cpu = session.cpu();
    for (std::size_t i = 0; i < cpu.registers().size(); ++i) {
      const RegisterInfo& info = cpu.registers()[i];
      std::string line = info.bits == 16 ? fmt::format("{:<3} ${:04X}  {:>5}", info.name, cpu.get(i), cpu.get(i))
                                         : fmt::format("{:<3} ${:02X}    {:>5}", info.name, cpu.get(i), cpu.get(i));
      std::string flags;
      for (std::size_t bit = 0; bit < info.flags.size(); ++bit) {
        const bool one = cpu.get(i) >> (info.flags.size() - 1 - bit) & 1;
        if (info.flags[bit] != '1') flags += fmt::format(" {}={}", info.flags[bit], one ? 1 : 0);
      }
      session.say(line + (flags.empty() ? "" : " " + flags));
    }
    if (cpu.cycles_into_instruction() > 0) session.say("as they were before the current instruction");
    return;
  }
  const std::size_t index = need_register(session.machine(), words.take("a register"));
  words.take_if("=");
  const RegisterInfo& info = session.cpu().registers()[index];
  const std::uint16_t value = words.take_value(session.machine(), "the value", info.bits == 16 ? 0xFFFF : 0xFF);
  words.end();
  if (!session.machine().cpu().set(index, value)) {
    throw Refusal("registers cannot be changed within an instruction", "", "", "`step` goes to its end");
  }
  session.say(to_string(session.cpu()));
}

void memory(Session& session, Words& words) {
  const Machine& machine = session.machine();
  auto [first, last] = words.take_range(machine);
  if (first == last) {
    const int count = std::min(words.take_count(kAcross), 0x10000 - first);
    last = static_cast<std::uint16_t>(first + count - 1);
  }
  words.end();
  if (last - first >= kMostShown) {
    throw Refusal("that is too much to show", fmt::format("at most {} bytes", kMostShown));
  }
  for (int line = first; line <= last; line += kAcross) {
    std::string bytes, text;
    for (int at = line; at <= std::min<int>(last, line + kAcross - 1); ++at) {
      const auto address = static_cast<std::uint16_t>(at);
      if (machine.answering(address).empty()) {
        bytes += " --";
        text += ' ';
        continue;
      }
      const std::uint8_t byte = machine.peek(address);
      bytes += " " + byte_text(machine, address);
      text += machine.lines_at(address) == 0xFF && byte >= 0x20 && byte < 0x7F ? static_cast<char>(byte) : '.';
    }
    session.say(fmt::format("${:04X} {:<48}  {}", line, bytes, text));
  }
}

void change(Session& session, std::uint16_t address, std::uint16_t value) {
  if (!session.machine().poke(address, static_cast<std::uint8_t>(value))) {
    const std::vector<std::string> chips = session.machine().answering(address);
    throw Refusal(fmt::format("no memory is at ${:04X}", address), "",
                  chips.empty() ? "nobody answers there" : list_of(chips) + " answers there",
                  "what a chip holds is changed by its program, or by what a person does to it");
  }
}

void poke(Session& session, Words& words) {
  std::uint16_t address = words.take_place(session.machine());
  std::vector<std::uint16_t> values;
  do values.push_back(words.take_value(session.machine(), "the byte", 0xFF));
  while (!words.empty());
  // All or nothing.
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto at = static_cast<std::uint16_t>(address + i);
    change(session, at, session.machine().peek(at));
  }
  for (const std::uint16_t value : values) change(session, address++, value);
}

void fill(Session& session, Words& words) {
  const auto [first, last] = words.take_range(session.machine());
  const std::uint16_t value = words.take_value(session.machine(), "the byte", 0xFF);
  words.end();
  for (int at = first; at <= last; ++at) {
    change(session, static_cast<std::uint16_t>(at), session.machine().peek(static_cast<std::uint16_t>(at)));
  }
  for (int at = first; at <= last; ++at) change(session, static_cast<std::uint16_t>(at), value);
}

void code(Session& session, Words& words) {
  const Machine& machine = session.machine();
  const bool given = !words.empty() && parse_place(machine, words.peek()).has_value();
  if (!given && !words.empty() && words.peek().find_first_not_of("0123456789") != std::string::npos) {
    need_place(machine, words.peek());
  }
  std::uint16_t address = given ? words.take_place(machine) : session.cpu().pc();
  const int count = std::min(words.take_count(10), 1000);
  words.end();
  for (int i = 0; i < count; ++i) {
    const Disassembly instruction = disassemble(machine, address);
    const std::string_view label = machine.label_at(address);
    if (!label.empty()) session.say(fmt::format("{}:", label));
    std::string bytes;
    const auto code = code_at(machine, address);
    for (int byte = 0; byte < instruction.bytes; ++byte) {
      bytes += fmt::format("{:02X} ", code[static_cast<std::size_t>(byte)]);
    }
    std::string source;
    if (const auto place = machine.source_at(address)) {
      std::string text = place->line->text;
      text.erase(0, std::min(text.find_first_not_of(" \t"), text.size()));
      source = fmt::format("{}  {}", to_string(*place), text);
    }
    session.say(fmt::format("{} ${:04X}  {:<15} {:<18} {}", address == session.cpu().pc() ? '>' : ' ', address, bytes,
                            instruction.text, source));
    address = static_cast<std::uint16_t>(address + instruction.bytes);
  }
}

void where(Session& session, Words& words) {
  words.end();
  session.say_position();
  const auto calls = session.calls();
  if (!calls) return session.say("interrupted");
  if (calls->empty()) return session.say("no routine has been entered");
  for (auto frame = calls->rbegin(); frame != calls->rend(); ++frame) {
    const Machine& machine = session.machine();
    const std::string source = source_text(machine, frame->caller);
    session.say(fmt::format("in {} by {} at {}{}{}, cycle {}, back to ${:04X}", place_text(machine, frame->target),
                            to_string(frame->kind), place_text(machine, frame->caller), source.empty() ? "" : ", ",
                            source, frame->called, frame->back));
  }
}

}  // namespace

Theme memory_theme() {
  return {"Processor and memory",
          {{"registers",
            "",
            "[NAME VALUE]",
            "show the registers, or change one",
            "Only between two instructions.",
            Takes::reg,
            {},
            registers},
           {"memory",
            "m",
            "RANGE | PLACE [COUNT]",
            "show bytes; -- where nobody answers",
            "Looking has no effect on chips.",
            Takes::place,
            {},
            memory},
           {"poke", "", "PLACE BYTE...", "change bytes of memory, a ROM's too", "", Takes::place, {}, poke},
           {"fill", "", "RANGE BYTE", "put one byte into all of a range of memory", "", Takes::place, {}, fill},
           {"code",
            "",
            "[PLACE] [COUNT]",
            "instructions with their source, from the program counter on",
            "",
            Takes::place,
            {},
            code},
           {"where",
            "",
            "",
            "where the processor is, and through which calls and interrupts",
            "Innermost first. Runs the past again to find out.",
            Takes::nothing,
            {},
            where}}};
}

}  // namespace prewire::front::debug
