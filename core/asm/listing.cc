// The listing: what a person prints and writes on.
#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <iterator>
#include <span>
#include <utility>

#include "asm/cursor.h"
#include "prewire/assembler.h"
#include "prewire/image_tools.h"
#include "prewire/text.h"

namespace prewire {

namespace {

constexpr std::size_t kBytesPerRow = 5;  // the longest instruction
constexpr std::size_t kMostRows = 8;
constexpr int kWidth = 100;

class Listing {
 public:
  explicit Listing(const Image& image) : image_(image), map_(*image.source) {}

  std::string write() {
    print("Listing of {} for the {}{}\n\n", file_name(0), assembler::upper(map_.cpu),
          map_.title.empty() ? "" : ": " + map_.title);
    text_ += " line  at     bytes           cycles    sum  source\n";
    int file = 0;
    for (const SourceMap::Line& line : map_.lines) {
      if (line.file != file) print("       {}\n", file_name(line.file));
      file = line.file;
      row(line);
    }
    symbols();
    memory();
    return std::move(text_);
  }

 private:
  template <typename... Args>
  void print(fmt::format_string<Args...> format, Args&&... args) {
    fmt::format_to(std::back_inserter(text_), format, std::forward<Args>(args)...);
  }

  void row(const SourceMap::Line& line) {
    const bool code = line.kind == LineKind::instruction, data = line.kind == LineKind::data;
    if (line.block || (!code && line.size > 0)) sum_ = least_sum_ = 0, open_ = false;
    const std::span<const std::uint8_t> bytes = (code || data) && line.size > 0
                                                    ? bytes_in(image_, {line.address, line.address + line.size - 1})
                                                    : std::span<const std::uint8_t>();
    std::string at, middle, cycles, sum;
    if (line.kind == LineKind::value) middle = fmt::format("= ${:04X}", line.address);
    if (line.kind == LineKind::place || line.kind == LineKind::space || code || data) {
      at = fmt::format("{:04X}", line.address);
    }
    if (line.kind == LineKind::space) middle = fmt::format("{} reserved", line.size);
    if (code || data) middle = hex(bytes, 0);
    if (code) {
      least_sum_ += line.cycles;
      sum_ += std::max(line.cycles, line.most_cycles);
      open_ = open_ || line.most_cycles == 0;
      cycles = range(line.cycles, line.most_cycles == 0 ? line.cycles : line.most_cycles, line.most_cycles == 0);
      sum = range(least_sum_, sum_, open_);
    }
    std::string shown = fmt::format("{:>5}{} {:<5}  {:<14}  {:>6} {:>6}  ", line.number, line.expanded ? "+" : " ", at,
                                    middle, cycles, sum);
    shown += line.text;
    shown.erase(shown.find_last_not_of(" \t") + 1);
    text_ += shown + "\n";
    for (std::size_t first = kBytesPerRow; first < bytes.size(); first += kBytesPerRow) {
      if (first >= kBytesPerRow * kMostRows) {
        print("              and {} more\n", counted(bytes.size() - first, "byte"));
        break;
      }
      print("       {:04X}   {}\n", line.address + first, hex(bytes, first));
    }
  }

  static std::string hex(std::span<const std::uint8_t> bytes, std::size_t first) {
    std::string text;
    for (std::size_t i = first; i < std::min(first + kBytesPerRow, bytes.size()); ++i) {
      text += fmt::format("{}{:02X}", i == first ? "" : " ", bytes[i]);
    }
    return text;
  }

  /// `5`, `5-6` where a branch decides, `9+` where only an interrupt ends it.
  static std::string range(int least, int most, bool open) {
    return fmt::format("{}{}{}", least, most > least ? fmt::format("-{}", most) : "", open ? "+" : "");
  }

  void symbols() {
    text_ += "\nNames\n";
    std::size_t longest = 8;
    for (const SourceMap::Symbol& symbol : map_.symbols) longest = std::max(longest, symbol.name.size());
    longest = std::min<std::size_t>(longest, 24);
    for (const SourceMap::Symbol& symbol : map_.symbols) {
      const std::string value = symbol.kind == SourceMap::SymbolKind::macro
                                    ? std::string("-")
                                    : fmt::format("${:04X}", static_cast<std::uint16_t>(symbol.value));
      std::string line = fmt::format("  {:<{}}  {:<5}  {:<8}  {}", symbol.name, longest, value, to_string(symbol.kind),
                                     place(symbol.file, symbol.line));
      const std::size_t indent = line.size() + 2;
      line += symbol.uses.empty() ? "  not used" : "  used in ";
      for (std::size_t i = 0; i < symbol.uses.size(); ++i) {
        const std::string use = place(symbol.uses[i].file, symbol.uses[i].line);
        if (line.size() - line.find_last_of('\n') + use.size() + 2 > kWidth && i > 0) {
          line += ",\n" + std::string(indent, ' ');
        } else if (i > 0) {
          line += ", ";
        }
        line += use;
      }
      text_ += line + "\n";
    }
  }

  std::string file_name(int file) const { return printable(map_.files[static_cast<std::size_t>(file)]); }

  std::string place(int file, int line) const {
    return file == 0 ? std::to_string(line) : fmt::format("{}:{}", file_name(file), line);
  }

  void memory() {
    text_ += "\nMemory\n";
    for (const Segment& segment : image_.segments) {
      print("  ${:04X}-${:04X}  {} {}\n", segment.start, segment.end() - 1, segment.bytes.size(),
            segment.bytes.size() == 1 ? "byte" : "bytes");
    }
    // Reserved lines that follow each other are one region.
    std::uint32_t first = 0, end = 0;
    const auto flush = [&] {
      if (end > first) print("  ${:04X}-${:04X}  {} reserved\n", first, end - 1, end - first);
    };
    for (const SourceMap::Line& line : map_.lines) {
      if (line.kind != LineKind::space || line.size == 0) continue;
      if (line.address != end || end == first) {
        flush();
        first = line.address;
      }
      end = line.address + line.size;
    }
    flush();
    if (image_.entry) print("  starts at ${:04X}\n", *image_.entry);
  }

  const Image& image_;
  const SourceMap& map_;
  std::string text_;
  int least_sum_ = 0, sum_ = 0;
  bool open_ = false;
};

}  // namespace

std::string listing(const Image& image) {
  assert(image.source != nullptr);
  return Listing(image).write();
}

}  // namespace prewire
