#include "key_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numeric>

#include "prewire/disassembler.h"

namespace prewire::handout {

namespace {

constexpr std::size_t kMostBytes = 8;  // on a line

std::string without_blanks(const std::string& text) {
  const std::size_t first = text.find_first_not_of(" \t"), last = text.find_last_not_of(" \t\r");
  return first == std::string::npos ? "" : text.substr(first, last - first + 1);
}

class Sheet {
 public:
  explicit Sheet(const Machine& machine) : machine_(machine) {
    bool all_known = true;
    for (const Image* image : machine.programs()) {
      for (const Segment& segment : image->segments) {
        for (std::size_t i = 0; i < segment.bytes.size() && segment.start + i <= 0xFFFF; ++i) {
          const auto address = static_cast<std::uint16_t>(segment.start + i);
          bytes_[address] = segment.bytes[i];
          all_known = all_known && machine.source_at(address).has_value();
        }
      }
    }
    if (!all_known) find_code();
  }

  KeySheet make() {
    for (auto at = bytes_.begin(); at != bytes_.end();) {
      const std::size_t run = run_at(at->first);
      const std::size_t taken = add(at->first, run);
      std::advance(at, static_cast<std::ptrdiff_t>(taken));
    }
    return std::move(sheet_);
  }

 private:
  /// Where instructions are, for bytes without source.
  void find_code() {
    Image image;
    for (const auto& [address, byte] : bytes_) {
      if (image.segments.empty() || image.segments.back().end() != address) image.segments.push_back({address, {}});
      image.segments.back().bytes.push_back(byte);
    }
    DisassemblerOptions options;
    options.cpu = machine_.cpu().type();
    for (const DisassembledProgram::Line& line : disassemble_program(image, options).lines) {
      if (line.kind == LineKind::instruction) code_[line.address] = line.bytes.size();
    }
  }

  /// Bytes from here to the end of their run.
  std::size_t run_at(std::uint16_t address) const {
    std::size_t count = 0;
    while (address + count <= 0xFFFF && bytes_.contains(static_cast<std::uint16_t>(address + count))) ++count;
    return count;
  }

  std::vector<std::uint8_t> take(std::uint16_t address, std::size_t count) const {
    std::vector<std::uint8_t> bytes;
    for (std::size_t i = 0; i < count; ++i) bytes.push_back(bytes_.at(static_cast<std::uint16_t>(address + i)));
    return bytes;
  }

  void put(std::uint16_t address, std::size_t count, std::string text, std::string source) {
    sheet_.lines.push_back({address, take(address, count), std::move(text), std::move(source)});
  }

  void put_data(std::uint16_t address, std::size_t count, const std::string& source) {
    for (std::size_t done = 0; done < count; done += kMostBytes) {
      const std::size_t now = std::min(kMostBytes, count - done);
      put(static_cast<std::uint16_t>(address + done), now, "data", done == 0 ? source : "");
    }
  }

  Disassembly disassembly(std::uint16_t address, std::size_t run) const {
    const std::vector<std::uint8_t> code = take(address, std::min<std::size_t>(run, 5));
    return disassemble(machine_.processor().type->name, address, code);
  }

  /// Adds the line or lines at `address`; returns how many bytes they hold, at most `run`.
  std::size_t add(std::uint16_t address, std::size_t run) {
    if (const std::string name = vector_at(address); !name.empty() && run >= 2) {
      const auto place = machine_.source_at(address);
      put(address, 2, fmt::format("vector of {}", name), place ? source_of(*place) : label(address));
      return 2;
    }
    if (const auto place = machine_.source_at(address)) {
      const SourceMap::Line& line = *place->line;
      const std::size_t from = static_cast<std::size_t>(address - line.address);
      const std::size_t count = std::min<std::size_t>(run, line.size - from);
      const std::string text = from == 0 ? source_of(*place) : "";
      if (line.kind == LineKind::instruction && from == 0 && count == line.size) {
        put(address, count, disassembly(address, run).text, text);
      } else {
        put_data(address, until_vectors(address, count), text);
        return until_vectors(address, count);
      }
      return count;
    }
    if (const auto code = code_.find(address); code != code_.end() && code->second <= run) {
      put(address, code->second, disassembly(address, run).text, label(address));
      return code->second;
    }
    std::size_t count = 1;
    const auto at = [&](std::size_t i) { return static_cast<std::uint16_t>(address + i); };
    while (count < run && !code_.contains(at(count)) && !machine_.source_at(at(count)) &&
           vector_at(at(count)).empty()) {
      ++count;
    }
    put_data(address, count, label(address));
    return count;
  }

  /// The line of source, with its label where that stands on a line before.
  std::string source_of(const SourcePlace& place) const {
    const std::string text = without_blanks(place.line->text), name = label(place.line->address);
    return name.empty() || text.starts_with(name) ? text : fmt::format("{}: {}", name, text);
  }

  std::size_t until_vectors(std::uint16_t address, std::size_t count) const {
    for (std::size_t i = 1; i < count; ++i) {
      if (!vector_at(static_cast<std::uint16_t>(address + i)).empty()) return i;
    }
    return count;
  }

  std::string label(std::uint16_t address) const { return std::string(machine_.label_at(address)); }

  /// Whose vector begins at this address; empty for all others (MC6800 and MC6809 data sheets, tables of vectors).
  std::string vector_at(std::uint16_t address) const {
    const bool mc6809 = machine_.processor().type->name.starts_with("mc6809");
    switch (address) {
      case 0xFFFE: return "RESET";
      case 0xFFFC: return "NMI";
      case 0xFFFA: return "SWI";
      case 0xFFF8: return "IRQ";
      case 0xFFF6: return mc6809 ? "FIRQ" : "";
      case 0xFFF4: return mc6809 ? "SWI2" : "";
      case 0xFFF2: return mc6809 ? "SWI3" : "";
      default: return "";
    }
  }

  const Machine& machine_;
  std::map<std::uint16_t, std::uint8_t> bytes_;
  std::map<std::uint16_t, std::size_t> code_;  // instructions without source: address and size
  KeySheet sheet_;
};

}  // namespace

std::uint8_t KeyLine::sum() const {
  return static_cast<std::uint8_t>(std::accumulate(bytes.begin(), bytes.end(), 0U) & 0xFF);
}

std::size_t KeySheet::bytes() const {
  std::size_t count = 0;
  for (const KeyLine& line : lines) count += line.bytes.size();
  return count;
}

std::uint16_t KeySheet::sum() const {
  unsigned sum = 0;
  for (const KeyLine& line : lines) sum = std::accumulate(line.bytes.begin(), line.bytes.end(), sum);
  return static_cast<std::uint16_t>(sum & 0xFFFF);
}

KeySheet make_key_sheet(const Machine& machine) { return Sheet(machine).make(); }

std::string to_text(const KeyLine& line, std::size_t most) {
  std::string text =
      fmt::format("{:04X}: {:<{}} ; {:02X}  {:<16}  {}", line.address,
                  fmt::format("{:02X}", fmt::join(line.bytes, " ")), 3 * most - 1, line.sum(), line.text, line.source);
  text.erase(text.find_last_not_of(' ') + 1);
  return text;
}

std::string to_text(const KeySheet& sheet) {
  std::string text =
      "; The number behind the semicolon is the checksum of the line: add its bytes, without the\n"
      "; address, and keep the last two hex digits.\n";
  std::size_t most = 1;
  for (const KeyLine& line : sheet.lines) most = std::max(most, line.bytes.size());
  std::uint32_t next = sheet.lines.empty() ? 0 : sheet.lines.front().address;
  for (const KeyLine& line : sheet.lines) {
    if (line.address != next) text += "\n";
    text += to_text(line, most) + "\n";
    next = line.address + static_cast<std::uint32_t>(line.bytes.size());
  }
  text += fmt::format("; {}; all of them added and the last four hex digits kept: {:04X}\n",
                      counted(sheet.bytes(), "byte"), sheet.sum());
  return text;
}

}  // namespace prewire::handout
