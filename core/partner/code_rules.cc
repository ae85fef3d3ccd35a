#include "partner/code_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

namespace prewire::partner {

namespace {

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

void CodeRules::first_visit(const Step& step, const Op* before, std::uint16_t before_pc) {
  const std::string way = before == nullptr ? std::string("the processor came here by a vector")
                                            : fmt::format("the instruction before stands at {}", scene_.at(before_pc));
  where(step, way);
  if (!step.op.has(kDefined)) {
    scene_.say("undefined-opcode", step.pc, [&] {
      std::string bytes = fmt::format("byte ${:02X}", scene_.peek(step.pc));
      if (step.operand != static_cast<std::uint16_t>(step.pc + 1)) {
        bytes = fmt::format("pair ${:02X} ${:02X}", scene_.peek(step.pc), scene_.peek(step.pc + 1U));
      }
      return std::pair(
          fmt::format("the {} at ${:04X} is no instruction of this processor; a real one may stop or do anything",
                      bytes, step.pc),
          fmt::format("look at the way there: {}", way));
    });
    return;
  }
  what(step, before, before_pc);
  written(step);
  auto& marks = scene_.marks;
  marks[step.pc] = static_cast<std::uint16_t>(Scene::kStart | scene_.peek(step.pc));
  unsigned bytes = step.op.bytes;
  if (step.op.mode == Mode::indexed) bytes += static_cast<unsigned>(postbyte(scene_.peek(step.operand)).bytes);
  for (unsigned i = 1; i < bytes; ++i) {
    auto& mark = marks[static_cast<std::uint16_t>(step.pc + i)];
    if ((mark & Scene::kStart) == 0) mark = Scene::kInside;
  }
}

/// Is this a place for an instruction?
void CodeRules::where(const Step& step, const std::string& way) {
  const std::uint16_t pc = step.pc;
  if (scene_.is(pc, kDevice)) {
    scene_.say("runs-into-device", pc, [&] {
      const auto names = scene_.machine.answering(pc);
      return std::pair(fmt::format("the processor takes an instruction from ${:04X}, a register of {}: it executes "
                                   "whatever the register holds",
                                   pc, names.empty() ? "a chip" : names[0]),
                       way);
    });
    return;
  }
  const Text text = scene_.text(pc);
  const bool inside = text == Text::inside || (text == Text::none && scene_.marks[pc] == Scene::kInside);
  if (inside) {
    scene_.say("inside-instruction", pc, [&] {
      return std::pair(fmt::format("the processor takes ${:02X} at {} for an opcode, but it belongs to the instruction "
                                   "that starts before it: from here on the bytes mean something else",
                                   scene_.peek(pc), scene_.at(pc)),
                       fmt::format("check the distance of the jump or the entry of the table; {}", way));
    });
  } else if (text == Text::data) {
    scene_.say("runs-into-data", pc, [&] {
      return std::pair(fmt::format("the processor executes ${:02X} at {}, which the source calls data", scene_.peek(pc),
                                   scene_.at(pc)),
                       fmt::format("end the code before it with a branch, RTS or RTI; {}", way));
    });
  } else if (scene_.is(pc, kRom)) {
    const ByteUse use = scene_.machine.use(pc);
    if (!use.loaded && !use.written) {
      scene_.say("runs-into-blank", pc >> 8, [&] {
        return std::pair(
            fmt::format("the processor executes ${:04X}, a part of the ROM that no program fills: an erased "
                        "EPROM holds $FF there",
                        pc),
            fmt::format("look where the program left its code; {}", way));
      });
    }
  }
  if (pc + step.op.bytes > 65536) {
    scene_.say("program-wrap", pc, [&] {
      return std::pair(fmt::format("the instruction at ${:04X} goes on at $0000: addresses wrap", pc),
                       "the vectors fill the end of memory: no code should run there");
    });
  }
}

/// Does it make sense after, or before, the one beside it?
void CodeRules::what(const Step& step, const Op* before, std::uint16_t before_pc) {
  if (step.op.has(kDaa) && before != nullptr && before->has(kSpoilsDaa)) {
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

/// Does the source look as if something else was meant?
void CodeRules::written(const Step& step) {
  if (scene_.text(step.pc) != Text::start) return;
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
