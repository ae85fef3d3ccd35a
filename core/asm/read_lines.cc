#include "asm/read_lines.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

#include "asm/data_runs.h"
#include "asm/timing.h"
#include "asm/vectors.h"

namespace prewire::assembler {

namespace {

using Line = DisassembledProgram::Line;
using Cell = Follower::Cell;

constexpr std::size_t kBytesPerLine = 8, kWordsPerLine = 4, kTextPerLine = 48;

void note(Line& line, const std::string& text) {
  if (text.empty()) return;
  if (!line.note.empty()) line.note += "; ";
  line.note += text;
}

}  // namespace

std::vector<Line> LineReader::read() {
  page_first_ = page_end_ = (reading_.direct_page + 1U) << 8;
  while (page_first_ > 0 && written_.holds(page_first_ - 1)) --page_first_;
  while (written_.holds(page_end_)) ++page_end_;
  for (std::uint32_t at = code_.first_present(); at < code_.end_present();) {
    if (!written_.holds(at)) {
      ++at;
      continue;
    }
    const auto address = static_cast<std::uint16_t>(at);
    const Cell cell = code_.cell(address);
    if (cell == Cell::code && written_.holds(address, static_cast<std::size_t>(code_.step(address).size))) {
      instruction(address);
    } else if (cell == Cell::word && written_.holds(address, 2)) {
      words(address);
    } else {
      data(address);
    }
    at += static_cast<std::uint32_t>(lines_.back().bytes.size());
  }
  return std::move(lines_);
}

Line& LineReader::add(std::uint16_t address, std::size_t size, LineKind kind, std::string mnemonic,
                      std::string operand) {
  Line& line = lines_.emplace_back();
  line.address = address;
  const std::span<const std::uint8_t> bytes = code_.bytes(address, size);
  line.bytes.assign(bytes.begin(), bytes.end());
  line.kind = kind;
  line.mnemonic = std::move(mnemonic);
  line.operand = std::move(operand);
  line.label = names_.at(address);
  note(line, names_.about(address));
  const auto& notes = code_.notes();
  for (auto at = notes.lower_bound(address); at != notes.end() && at->first < address + size; ++at) {
    const std::string where = at->first == address ? "" : fmt::format("+{}: ", at->first - address);
    for (const std::string& text : at->second) note(line, where + text);
  }
  return line;
}

void LineReader::instruction(std::uint16_t address) {
  const Step& step = code_.step(address);
  const auto size = static_cast<std::size_t>(step.size);
  const std::span<const std::uint8_t> bytes = code_.bytes(address, size);
  if (!comes_back(reading_, address, step.text, bytes)) {
    Line& line = add(address, size, LineKind::data, "FCB", hex(address, size));
    line.note = line.note.empty() ? step.text : fmt::format("{}; {}", step.text, line.note);
    line.ends = !step.goes_on;
    return;
  }
  const auto name = step.named ? names_.expression(*step.named, step.use) : std::nullopt;
  const std::string text = name ? with_name(reading_, step, *name, least(*step.named)) : step.text;
  const std::size_t blank = text.find(' ');
  Line& line = add(address, size, LineKind::instruction, text.substr(0, blank),
                   blank == std::string::npos ? "" : text.substr(blank + 1));
  const Timing timing = timing_of(*step.row, bytes);
  line.cycles = timing.cycles;
  line.most_cycles = timing.most;
  line.ends = !step.goes_on;
}

std::uint16_t LineReader::least(std::uint16_t named) const {
  if (named < page_first_ || named >= page_end_) return named;
  // An instruction of three bytes or more may lose one.
  return static_cast<std::uint16_t>(named - (named - page_first_) / 3);
}

void LineReader::words(std::uint16_t address) {
  const auto vector = std::find_if(std::begin(kVectors), std::end(kVectors), [&](const Vector& each) {
    return each.address == address && has_vector(reading_.target->family(), each);
  });
  const bool alone = vector != std::end(kVectors);
  std::string operand;
  std::size_t size = 0;
  do {
    const std::uint16_t target = code_.word(static_cast<std::uint16_t>(address + size));
    const unsigned use = code_.cell(target) == Cell::code ? kListed : kValue;
    operand += fmt::format("{}{}", size == 0 ? "" : ",",
                           names_.expression(target, use).value_or(fmt::format("${:04X}", target)));
    size += 2;
  } while (!alone && size < 2 * kWordsPerLine && joins(address, size, Cell::word) &&
           written_.holds(address + static_cast<std::uint32_t>(size), 2));
  Line& line = add(address, size, LineKind::data, "FDB", std::move(operand));
  if (alone) note(line, vector->name.empty() ? "reserved" : std::string(vector->name));
}

bool LineReader::joins(std::uint16_t address, std::size_t size, Cell cell) const {
  const std::uint32_t next = address + static_cast<std::uint32_t>(size);
  if (next > 0xFFFF || !written_.holds(next)) return false;
  const auto at = static_cast<std::uint16_t>(next);
  return code_.cell(at) == cell && names_.at(at).empty() && code_.notes().count(at) == 0;
}

std::string LineReader::hex(std::uint16_t address, std::size_t size) const {
  std::string text;
  for (const std::uint8_t byte : code_.bytes(address, size)) {
    text += fmt::format("{}${:02X}", text.empty() ? "" : ",", byte);
  }
  return text;
}

void LineReader::data(std::uint16_t address) {
  // Part of an instruction or a word that is not written as a whole.
  if (code_.cell(address) != Cell::data) {
    add(address, 1, LineKind::data, "FCB", hex(address, 1));
    return;
  }
  if (run_end_ <= address) {
    run_end_ = address + std::size_t{1};
    while (joins(address, run_end_ - address, Cell::data)) ++run_end_;
  }
  const std::span<const std::uint8_t> run = code_.bytes(address, run_end_ - address);
  if (const std::size_t size = fill_length(run); size != 0) {
    add(address, size, LineKind::data, "FILL", fmt::format("${:02X},{}", run.front(), size));
    return;
  }
  if (text_end_ <= address) {
    text_size_ = text_length(run);
    text_end_ = address + printable_length(run);
  }
  if (text_size_ != 0 && address < text_end_) {
    const std::size_t size = std::min(text_end_ - address, kTextPerLine);
    const std::span<const std::uint8_t> text = run.first(size);
    const char mark = mark_for(text);
    add(address, size, LineKind::data, "FCC", mark + std::string(text.begin(), text.end()) + mark);
    return;
  }
  const std::size_t size = plain_length(address, run);
  add(address, size, LineKind::data, "FCB", hex(address, size));
}

std::size_t LineReader::plain_length(std::uint16_t address, std::span<const std::uint8_t> run) const {
  std::size_t size = 1;
  for (; size < std::min(kBytesPerLine, run.size()); ++size) {
    const bool known = address + size < text_end_;  // characters that are no text
    const std::span<const std::uint8_t> rest = run.subspan(size);
    if (fill_length(rest) != 0 || (!known && text_length(rest) != 0)) break;
  }
  return size;
}

}  // namespace prewire::assembler
