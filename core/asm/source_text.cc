// A program that was read back, as source.
#include <fmt/format.h>

#include <iterator>

#include "asm/cursor.h"
#include "prewire/disassembler.h"

namespace prewire {

namespace {

using Line = DisassembledProgram::Line;

constexpr std::size_t kMnemonicAt = 12, kOperandAt = 20, kCommentAt = 44;
constexpr std::size_t kBytesShown = 5;

class Writer {
 public:
  Writer(const DisassembledProgram& program, const SourceStyle& style) : program_(program), style_(style) {}

  std::string write() {
    head();
    for (const AddressName& name : program_.outside) {
      put(name.name, "EQU", fmt::format("${:04X}", name.address), name.about);
    }
    std::uint32_t next = 0x10000;  // behind the line before
    bool ended = false;
    for (const Line& line : program_.lines) {
      if (line.address != next) {
        text_ += '\n';
        put("", "ORG", fmt::format("${:04X}", line.address), "");
      } else if (ended && line.kind == LineKind::instruction) {
        text_ += '\n';
      }
      put(line.label, line.mnemonic, line.operand, comment(line));
      next = line.address + static_cast<std::uint32_t>(line.bytes.size());
      ended = line.ends || line.kind == LineKind::data;
    }
    if (program_.entry) {
      text_ += '\n';
      put("", "END", entry(), "");
    }
    return std::move(text_);
  }

 private:
  void head() {
    text_ += fmt::format("; Program for the {}, read back from its bytes.\n", assembler::upper(program_.cpu));
    for (const DisassembledProgram::Loss& loss : program_.losses) {
      text_ += fmt::format("; ${:04X}: {}\n", loss.address, loss.why);
    }
    put("", "CPU", program_.cpu, "");
    if (!program_.title.empty()) put("", "NAM", program_.title, "");
    if (program_.direct_page != 0) put("", "SETDP", fmt::format("${:02X}", program_.direct_page), "");
    if (!program_.outside.empty()) text_ += '\n';
  }

  void put(const std::string& label, const std::string& mnemonic, const std::string& operand,
           const std::string& comment) {
    std::string line = label;
    column(line, kMnemonicAt);
    line += mnemonic;
    if (!operand.empty()) {
      column(line, kOperandAt);
      line += operand;
    }
    if (!comment.empty()) {
      column(line, kCommentAt);
      line += "; " + comment;
    }
    text_ += line + '\n';
  }
  /// At least one blank.
  static void column(std::string& line, std::size_t at) { line.append(line.size() < at ? at - line.size() : 1, ' '); }

  std::string comment(const Line& line) const {
    std::string text;
    if (style_.bytes) {
      std::string bytes;
      const bool all = line.bytes.size() <= kBytesShown;
      for (std::size_t i = 0; i < (all ? line.bytes.size() : kBytesShown - 1); ++i) {
        bytes += fmt::format("{:02X} ", line.bytes[i]);
      }
      text = fmt::format("{:04X}  {:<15} ", line.address, all ? bytes : bytes + "..");
    }
    if (style_.cycles) text += fmt::format("{:>4}  ", line.kind == LineKind::instruction ? cycles(line) : "");
    text += line.note;
    text.erase(text.find_last_not_of(' ') + 1);
    return text;
  }

  /// As in a listing.
  static std::string cycles(const Line& line) {
    if (line.most_cycles == 0) return fmt::format("{}+", line.cycles);
    return line.most_cycles > line.cycles ? fmt::format("{}-{}", line.cycles, line.most_cycles)
                                          : fmt::format("{}", line.cycles);
  }

  std::string entry() const {
    for (const Line& line : program_.lines) {
      if (line.address == *program_.entry && !line.label.empty()) return line.label;
    }
    return fmt::format("${:04X}", *program_.entry);
  }

  const DisassembledProgram& program_;
  const SourceStyle style_;
  std::string text_;
};

}  // namespace

std::string source_text(const DisassembledProgram& program, const SourceStyle& style) {
  return Writer(program, style).write();
}

}  // namespace prewire
