#include "partner/code_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

namespace prewire::partner {

namespace {

constexpr Cycle kEntry = 24;  // an instruction or an interrupt entry takes fewer cycles

/// The operand of a line of source: what stands behind label and mnemonic.
std::string_view operand_of(std::string_view line) {
  const auto skip = [&](bool blank) {
    while (!line.empty() && (std::isspace(static_cast<unsigned char>(line[0])) != 0) == blank) line.remove_prefix(1);
  };
  skip(false);  // a label, or nothing
  skip(true);
  skip(false);  // the mnemonic
  skip(true);
  const auto end = std::find_if(line.begin(), line.end(),
                                [](char c) { return std::isspace(static_cast<unsigned char>(c)) != 0 || c == ';'; });
  return line.substr(0, static_cast<std::size_t>(end - line.begin()));
}

}  // namespace

/// Whether the instruction at `from` may go on at `pc`.
bool CodeRules::leads(std::uint16_t from, std::uint16_t pc) const {
  const Outline there = outline(scene_.machine, from);
  switch (there.flow) {
    case Flow::plain:
    case Flow::wait: return static_cast<std::uint16_t>(from + there.bytes) == pc;
    case Flow::branch: return static_cast<std::uint16_t>(from + there.bytes) == pc || there.target == pc;
    default: return !there.target || *there.target == pc;
  }
}

std::optional<std::uint16_t> CodeRules::leader_of(std::uint16_t pc) const {
  for (std::uint32_t from = 0; from < 65536; ++from) {
    const auto at = static_cast<std::uint16_t>(from);
    if ((scene_.marks[at] & Scene::kStart) && leads(at, pc) && outline(scene_.machine, at).flow != Flow::ret) return at;
  }
  return std::nullopt;
}

std::string CodeRules::way(const Before& before, std::uint16_t pc) const {
  // What was seen last need not be what was executed last.
  const bool sure = before.op != nullptr && leads(before.pc, pc);
  const std::optional<std::uint16_t> leader = sure ? before.pc : leader_of(pc);
  if (!leader && before.op == nullptr) return "a vector has led there";
  const std::uint16_t from = leader.value_or(before.pc);
  const std::string at = scene_.at(from);
  switch (outline(scene_.machine, from).flow) {
    case Flow::branch:
    case Flow::jump: return fmt::format("the jump at {} has led there", at);
    case Flow::call: return fmt::format("the call at {} has led there", at);
    case Flow::ret:
    case Flow::interrupt_return: return fmt::format("the return at {} has led there", at);
    default: return fmt::format("the program has run on from {}", at);
  }
}

/// What comes of executing data is told of as that. Below 0 if none are.
std::int64_t CodeRules::blame_data(Cycle since) {
  if (!in_data_) return -1;
  const Occurrence there{
      .subject = data_at_, .cause = data_from_.pc, .address = true, .since = since, .pc = data_from_.pc};
  return scene_.say("runs-into-data", there, [&] {
    return std::pair(fmt::format("the processor executes what stands at {}, which the source reserves for data; {}",
                                 scene_.at(data_at_), way(data_from_, data_at_)),
                     "is the address that of a variable in place of a subroutine, or does the code before it not end?");
  });
}

void CodeRules::undefined(const Step& step, const Before& before) {
  const std::int64_t data = scene_.astray() ? -1 : blame_data(step.cycle);
  const Occurrence here{.subject = step.pc, .cause = step.pc, .follows = data};
  scene_.say("undefined-opcode", here, [&] {
    const auto code = code_at(scene_.machine, step.pc);
    std::string bytes = fmt::format("byte ${:02X}", code[0]);
    if (step.operand != static_cast<std::uint16_t>(step.pc + 1)) {
      bytes = fmt::format("pair ${:02X} ${:02X}", code[0], code[1]);
    }
    return std::pair(fmt::format("the {} at {} is no instruction of this processor; a real one may stop or do anything",
                                 bytes, scene_.at(step.pc)),
                     fmt::format("look at the way there: {}", way(before, step.pc)));
  });
}

void CodeRules::first_visit(const Step& step, const Before& before, bool in_handler) {
  const Text text = scene_.text(step.pc);
  if (text == Text::start) in_data_ = false;
  if (text == Text::data && !in_data_ && before.op != nullptr && scene_.is(step.pc, kRam) &&
      scene_.machine.use(step.pc).written) {
    in_data_ = true;
    data_at_ = step.pc;
    data_from_ = before;
  }
  if (where(step, before)) {
    if (!step.op.has(kDefined)) undefined(step, before);
    return;
  }
  if (!step.op.has(kDefined)) return undefined(step, before);
  if (loaded_ != kAll) index(step, in_handler);
  what(step, before.op, before.pc);
  written(step);
  auto& marks = scene_.marks;
  marks[step.pc] = static_cast<std::uint16_t>(Scene::kStart | scene_.peek(step.pc));
  unsigned bytes = step.op.bytes;
  if (step.op.mode == Mode::indexed) bytes += static_cast<unsigned>(postbyte(scene_.peek(step.operand)).bytes);
  const std::uint16_t inside = step.op.has(kSkips) ? Scene::kSkipped : Scene::kInside;
  for (unsigned i = 1; i < bytes; ++i) {
    auto& mark = marks[static_cast<std::uint16_t>(step.pc + i)];
    if ((mark & Scene::kStart) == 0) mark = inside;
  }
}

bool CodeRules::skips(std::uint16_t pc) const {
  const std::uint8_t opcode = scene_.peek(pc);
  const Op& op = scene_.op_at(pc, opcode);
  const std::uint16_t hidden = scene_.operand_at(pc, opcode);
  const auto after = static_cast<std::uint16_t>(pc + op.bytes);
  if (!op.has(kDefined)) return false;
  const bool ends = scene_.text(after) == Text::start;
  // A single opcode between instructions, such as one that the assembler does not know.
  if (op.bytes == 1) {
    return ends && scene_.text(static_cast<std::uint16_t>(pc - 1)) != Text::data && pc != 0 && scene_.item(pc) == 0;
  }
  if (!op.has(kSkips | kDrops)) return false;
  if (op.has(kSkips) && ends) return true;
  // An entry behind another: what is hidden must be an instruction, and where it ends the next one may be skipped.
  if (op.has(kDrops) && scene_.item(pc) != 0) return false;
  if (scene_.text(hidden) != Text::start) return false;
  return ends || (scene_.text(after) == Text::data && skips(after));
}

/// Whether whole instructions are hidden from `pc` on in the operand of one of the source that does nothing else.
bool CodeRules::hidden(std::uint16_t pc) const {
  constexpr int kLongest = 5;
  std::uint16_t start = pc;
  for (int back = 0; scene_.text(start) == Text::inside; --start) {
    if (++back == kLongest) return false;
  }
  const std::uint8_t opcode = scene_.peek(start);
  const Op& op = scene_.op_at(start, opcode);
  if (scene_.text(start) != Text::start || !op.has(kSkips)) return false;
  const int end = start + op.bytes;
  int at = pc;
  while (at < end) {
    const Outline there = outline(scene_.machine, static_cast<std::uint16_t>(at));
    if (!there.defined) return false;
    at += there.bytes;
  }
  return at == end;
}

bool CodeRules::where(const Step& step, const Before& before) {
  const std::uint16_t pc = step.pc;
  const Cycle since = std::max(before.op == nullptr ? 0 : before.cycle, step.cycle - kEntry);
  // What has led here is the cause, if something was found about it.
  const Occurrence here{.subject = pc,
                        .cause = before.pc,
                        .address = true,
                        .follows = scene_.led_away >= 0 ? scene_.led_away : scene_.bad_stack,
                        .since = since};
  std::int64_t found = -1;
  const auto say = [&](std::string_view id, std::string message, std::string hint) {
    Occurrence there = here;
    if (const std::int64_t data = blame_data(since); data >= 0) {
      scene_.go_astray(data, since);
      return true;
    }
    if (id == "astray" && before.op != nullptr) there.pc = before.pc;  // what is there says nothing
    found = scene_.say(id, there, [&] { return std::pair(std::move(message), std::move(hint)); });
    scene_.go_astray(scene_.led_away >= 0 ? scene_.led_away : found, since);
    return true;
  };
  if (scene_.is(pc, kDevice)) {
    const auto names = scene_.machine.answering(pc);
    return say("runs-into-device",
               fmt::format("the processor takes an instruction from ${:04X}, a register of {}: it executes "
                           "whatever the register holds",
                           pc, names.empty() ? "a chip" : names[0]),
               fmt::format("look at the way there: {}", way(before, step.pc)));
  }
  if (!scene_.is(pc, kRam | kRom)) {
    return say("astray",
               fmt::format("the program has left its code: it executes at ${:04X}, where no chip answers; {}", pc,
                           way(before, step.pc)),
               "look at that instruction and where it takes its address from");
  }
  const ByteUse use = scene_.machine.use(pc);
  if (scene_.is(pc, kRam) && !use.loaded && !use.written) {
    return say("astray",
               fmt::format("the program has left its code: it executes at ${:04X}, RAM that nobody has written; {}", pc,
                           way(before, step.pc)),
               "look at that instruction and where it takes its address from");
  }
  if (pc + step.op.bytes > 65536) {
    return say("program-wrap", fmt::format("the instruction at ${:04X} goes on at $0000: addresses wrap", pc),
               "the vectors fill the end of memory: no code should run there");
  }
  const Text text = scene_.text(pc);
  const bool inside = text == Text::inside || (text == Text::none && scene_.marks[pc] == Scene::kInside);
  // Code that was stored there by the program is code, whatever the source reserved the bytes for.
  const bool stored = scene_.is(pc, kRam) && use.written;
  if (inside && !stored && !hidden(pc)) {
    const std::string message = fmt::format(
        "the processor takes ${:02X} at {} for an opcode, but it belongs to the instruction that starts "
        "before it: from here on the bytes mean something else",
        code_at(scene_.machine, pc)[0], scene_.at(pc));
    return say("inside-instruction", message,
               fmt::format("check the distance of the jump or the entry of the table; {}", way(before, step.pc)));
  }
  if (text == Text::data && !stored && !skips(pc)) {
    return say("runs-into-data",
               fmt::format("the processor executes ${:02X} at {}, which the source calls data",
                           code_at(scene_.machine, pc)[0], scene_.at(pc)),
               fmt::format("end the code before it with a branch, RTS or RTI; {}", way(before, step.pc)));
  }
  if (scene_.is(pc, kRom) && !use.loaded && !use.written) {
    return say("runs-into-blank",
               fmt::format("the processor executes ${:04X}, a part of the ROM that no program fills: an erased EPROM "
                           "holds $FF there",
                           pc),
               fmt::format("look where the program left its code; {}", way(before, step.pc)));
  }
  return false;
}

/// An address in a register that nothing has loaded is any.
void CodeRules::index(const Step& step, bool in_handler) {
  const int opcode = step.opcode;
  const std::uint8_t post = scene_.peek(step.operand);
  unsigned uses = 0, loads = 0;
  const auto transfer = [](unsigned code) { return code >= 1 && code <= 3 ? 1U << (code - 1) : 0U; };
  const int column = opcode >= 0x80 ? opcode & 0xCF : -1;
  if (!scene_.mc6809) {
    uses = step.op.mode == Mode::offset || opcode == 0x35 ? kX : 0U;  // TXS
    loads = column == 0xCE || opcode == 0x30 ? kX : 0U;               // LDX, TSX
  } else {
    const bool second = scene_.peek(step.pc) == 0x10;
    const Postbyte indexed = postbyte(post);
    const bool register_in_it = indexed.form != Postbyte::Form::pc8 && indexed.form != Postbyte::Form::pc16 &&
                                indexed.form != Postbyte::Form::extended;
    if (step.op.mode == Mode::indexed && register_in_it && indexed.base < 3) uses = 1U << indexed.base;
    if (opcode == 0x36 || opcode == 0x37) uses = kU;
    if (column == 0x8E) loads = second ? kY : kX;
    if (column == 0xCE && !second) loads = kU;
    if (opcode == 0x30 || opcode == 0x31 || opcode == 0x33) loads = opcode == 0x30 ? kX : opcode == 0x31 ? kY : kU;
    if (opcode == 0x1E || opcode == 0x1F) loads = transfer(post & 0xFU) | (opcode == 0x1E ? transfer(post >> 4) : 0U);
    if (opcode == 0x35 || opcode == 0x37) loads = (post >> 4 & 3U) | (opcode == 0x35 ? post >> 4 & 4U : 0U);
  }
  // RTI brings back what was there, but for a frame that the program has made.
  if (opcode == 0x3B && !in_handler) loads = kAll;
  const unsigned bare = uses & ~loaded_;
  loaded_ |= loads | uses;
  if (bare == 0 || !scene_.saw_reset) return;
  const char name = bare == kX ? 'X' : bare == kY ? 'Y' : 'U';
  scene_.say("register-never-loaded", {.subject = bare, .pc = step.pc}, [&] {
    return std::pair(
        fmt::format("the instruction at {} goes by {}, and nothing has loaded {} since power-on: it is any "
                    "address, on the bench another one each time",
                    scene_.at(step.pc), name, name),
        fmt::format("load {} before, with {}", name,
                    scene_.mc6809 ? fmt::format("LD{} or LEA{}", name, name) : "LDX or TSX"));
  });
}

/// Does it make sense after, or before, the one beside it?
void CodeRules::what(const Step& step, const Op* before, std::uint16_t before_pc) {
  const auto behind = [&] { return static_cast<std::uint16_t>(before_pc + before->bytes) == step.pc; };
  if (step.op.has(kDaa) && before != nullptr && before->has(kSpoilsDaa) && behind()) {
    scene_.say("daa-misplaced", step.pc, [&] {
      return std::pair(
          fmt::format("DAA at {} follows an instruction that is no addition: it needs the half carry that "
                      "ADDA, ADCA or ABA leave, and corrects nothing else",
                      scene_.at(step.pc)),
          fmt::format("to count in decimal use ADDA #1 and not INCA; to count down add $99. The instruction "
                      "before stands at {}",
                      scene_.at(before_pc)));
    });
  }
  if (step.op.has(kCpx)) {
    // BHI, BLS, BCC, BCS
    const auto next = static_cast<std::uint16_t>(step.pc + step.op.bytes);
    const std::uint8_t opcode = scene_.peek(next);
    if (opcode >= 0x22 && opcode <= 0x25) {
      scene_.say("cpx-carry", step.pc, [&] {
        return std::pair(fmt::format("the branch at {} looks at the carry, which CPX of the MC6800 does not change: it "
                                     "goes by an older result",
                                     scene_.at(next)),
                         "test for equality with BEQ or BNE, or compare the two bytes with SUBB and SBCA");
      });
    }
  }
}

/// SETDP tells the assembler which page short addresses lie in, and TFR the processor: both must be told.
void CodeRules::page(const Step& step, std::string_view operand) {
  while (operand.starts_with('<')) operand.remove_prefix(1);
  const auto source = scene_.machine.source_at(step.pc);
  const SourceMap::Symbol* symbol = source->map->find(operand.substr(0, operand.find_first_of("+-")));
  if (symbol == nullptr || symbol->kind == SourceMap::SymbolKind::macro) return;
  const unsigned page = static_cast<unsigned>(symbol->value) >> 8 & 0xFF;
  const unsigned dp = scene_.dp(step.cpu);
  if (page == dp || symbol->value < 0x100) return;
  scene_.say("setdp-mismatch", {.subject = step.pc, .cause = page << 8 | dp}, [&] {
    return std::pair(
        fmt::format("the instruction at {} has a short address for {}, which lies at ${:04X}, but DP is ${:02X}: "
                    "it reaches ${:04X}",
                    scene_.at(step.pc), symbol->name, static_cast<std::uint16_t>(symbol->value), dp,
                    dp << 8 | scene_.peek(step.operand)),
        fmt::format("SETDP only tells the assembler: load DP, too, with LDA #${:02X} and TFR A,DP", page));
  });
}

/// Does the source look as if something else was meant?
void CodeRules::written(const Step& step) {
  if (scene_.text(step.pc) != Text::start) return;
  if (scene_.mc6809 && step.op.mode == Mode::direct) {
    if (const auto source = scene_.machine.source_at(step.pc)) page(step, operand_of(source->line->text));
  }
  const bool value = step.op.mode == Mode::imm8;
  const bool place = step.op.has(kImmediateToo) && (step.op.mode == Mode::direct || step.op.mode == Mode::extended);
  if (!value && !place) return;
  const auto source = scene_.machine.source_at(step.pc);
  if (!source) return;
  const std::string_view operand = operand_of(source->line->text);
  if (place) {
    const bool number = !operand.empty() && std::all_of(operand.begin(), operand.end(),
                                                        [](unsigned char c) { return std::isdigit(c) != 0; });
    if (!number) return;
    scene_.say("number-as-address", step.pc, [&] {
      return std::pair(fmt::format("the instruction at {} reads memory at address {}: without # a number is an address",
                                   scene_.at(step.pc), operand),
                       fmt::format("for the number itself write #{}; for the address a name makes it clear", operand));
    });
    return;
  }
  if (operand.size() < 2 || operand[0] != '#') return;
  const SourceMap::Symbol* symbol = source->map->find(operand.substr(1));
  if (symbol == nullptr || symbol->kind != SourceMap::SymbolKind::label) return;
  scene_.say("address-as-value", step.pc, [&] {
    return std::pair(fmt::format("the instruction at {} takes the address of {}, ${:04X}, for a value; what is stored "
                                 "there is not looked at",
                                 scene_.at(step.pc), symbol->name, static_cast<std::uint16_t>(symbol->value)),
                     fmt::format("leave # out to get the byte at {}", symbol->name));
  });
}

}  // namespace prewire::partner
