#include "compare.h"

#include <fmt/format.h>

#include <map>
#include <optional>

namespace prewire::handout {

namespace {

/// Digits that are easily taken for each other, on paper and on seven segments (common practice).
bool alike(int a, int b) {
  const auto is = [&](int x, int y) { return (a == x && b == y) || (a == y && b == x); };
  return a == b || is(0xB, 8) || is(0xD, 0) || is(0xB, 6) || is(1, 7);
}

class Comparer {
 public:
  Comparer(const KeySheet& sheet, const Image& dump) : sheet_(sheet) {
    for (std::size_t line = 0; line < sheet.lines.size(); ++line) {
      for (std::size_t i = 0; i < sheet.lines[line].bytes.size(); ++i) {
        const std::uint32_t address = sheet.lines[line].address + static_cast<std::uint32_t>(i);
        expected_[address] = sheet.lines[line].bytes[i];
        line_[address] = line;
      }
    }
    for (const Segment& segment : dump.segments) {
      for (std::size_t i = 0; i < segment.bytes.size(); ++i) {
        const std::uint32_t address = segment.start + static_cast<std::uint32_t>(i);
        if (expected_.contains(address)) {
          found_[address] = segment.bytes[i];
        } else {
          ++result_.elsewhere;
        }
      }
    }
  }

  Comparison run() {
    for (const auto& [address, byte] : expected_) {
      const auto found = found_.find(address);
      if (found == found_.end()) {
        add_gap(address);
        continue;
      }
      ++result_.compared;
      if (found->second == byte) continue;
      result_.differences.push_back({static_cast<std::uint16_t>(address), byte, found->second,
                                     sheet_.lines[line_.at(address)].text, slip_at(address)});
    }
    for (Gap& gap : result_.gaps) {
      if (starts_line(gap.first) && ends_line(gap.last)) {
        gap.slip = line_.at(gap.first) == line_.at(gap.last) ? "a line was skipped" : "lines were skipped";
      }
    }
    find_pattern();
    return std::move(result_);
  }

 private:
  static std::optional<std::uint8_t> at(const std::map<std::uint32_t, std::uint8_t>& bytes, std::uint32_t address) {
    const auto found = bytes.find(address);
    if (found == bytes.end()) return std::nullopt;
    return found->second;
  }
  std::optional<std::uint8_t> expected(std::uint32_t address) const { return at(expected_, address); }
  std::optional<std::uint8_t> found(std::uint32_t address) const { return at(found_, address); }

  bool starts_line(std::uint32_t address) const { return sheet_.lines[line_.at(address)].address == address; }
  bool ends_line(std::uint32_t address) const {
    const KeyLine& line = sheet_.lines[line_.at(address)];
    return line.address + line.bytes.size() == address + 1;
  }

  void add_gap(std::uint32_t address) {
    if (!result_.gaps.empty() && result_.gaps.back().last + 1U == address) {
      result_.gaps.back().last = static_cast<std::uint16_t>(address);
      return;
    }
    result_.gaps.push_back({static_cast<std::uint16_t>(address), static_cast<std::uint16_t>(address), {}});
  }

  /// How many bytes from `address` on are those that belong `by` addresses further on, up to `most`. Runs of one and
  /// the same byte say nothing.
  std::size_t shifted(std::uint32_t address, int by, std::size_t most) const {
    std::size_t count = 0;
    bool varied = false;
    for (std::uint32_t i = 0; i < most; ++i) {
      const auto here = found(address + i),
                 there = expected(static_cast<std::uint32_t>(static_cast<std::int64_t>(address) + i + by));
      if (!here || !there || *here != *there) break;
      varied = varied || *there != expected(address + i);
      ++count;
    }
    return varied ? count : 0;
  }

  std::string slip_at(std::uint32_t address) {
    constexpr std::size_t kSure = 3;  // bytes in a row that make a shift
    const std::uint8_t want = *expected(address), got = *found(address);
    if (address < shift_end_) return "likewise";
    const KeyLine& line = sheet_.lines[line_.at(address)];
    const auto size = static_cast<int>(line.bytes.size());
    const auto shift = [&](int by, std::string what) {
      const std::size_t count = shifted(address, by, 0x10000);
      if (count < kSure) return std::string();
      shift_end_ = address + static_cast<std::uint32_t>(count);
      return what;
    };
    if (starts_line(address) && size > 1) {
      std::string text = shift(size, "the line was skipped: the next ones stand here");
      if (!text.empty()) return text;
    }
    if (std::string text = shift(1, "a byte was left out: the next ones stand one address too low"); !text.empty()) {
      return text;
    }
    if (std::string text = shift(-1, "a byte too many: the ones before stand one address too high"); !text.empty()) {
      return text;
    }
    if (got == ((want << 4 | want >> 4) & 0xFF)) return "digits swapped";
    if (exchanged(address)) return "exchanged with the next byte";
    if (address > 0 && exchanged(address - 1)) return "exchanged with the byte before";
    if (alike(want >> 4, got >> 4) && alike(want & 15, got & 15)) {
      std::string pairs;
      const auto add = [&](int a, int b) {
        if (a != b) pairs += fmt::format("{}{:X} read as {:X}", pairs.empty() ? "" : ", ", a, b);
      };
      add(want >> 4, got >> 4);
      if (want >> 4 != (want & 15) || got >> 4 != (got & 15)) add(want & 15, got & 15);
      return pairs;
    }
    if (got == 0xFF) return "erased, or nobody answers here";
    if (address > 0 && found(address - 1) && expected(address - 1) && *found(address - 1) == got &&
        *expected(address - 1) == got) {
      return "the byte before entered again";
    }
    return {};
  }

  bool exchanged(std::uint32_t address) const {
    const auto a = expected(address), b = expected(address + 1), c = found(address), d = found(address + 1);
    return a && b && c && d && *a != *b && *a == *d && *b == *c;
  }

  /// One data line that is always wrong.
  void find_pattern() {
    if (result_.differences.size() < kSeveral) return;
    for (int bit = 0; bit < 8; ++bit) {
      const auto mask = static_cast<std::uint8_t>(1 << bit);
      for (const bool high : {false, true}) {
        bool all = true;
        for (const Difference& each : result_.differences) {
          all = all && (each.expected ^ each.found) == mask && ((each.found & mask) != 0) == high;
        }
        for (const auto& [address, byte] : found_) all = all && ((byte & mask) != 0) == high;
        if (!all) continue;
        result_.pattern =
            fmt::format("D{} is {} in every byte of the dump: look at that data line", bit, high ? "high" : "low");
      }
    }
  }

  static constexpr std::size_t kSeveral = 3;

  const KeySheet& sheet_;
  std::map<std::uint32_t, std::uint8_t> expected_, found_;
  std::map<std::uint32_t, std::size_t> line_;
  std::uint32_t shift_end_ = 0;
  Comparison result_;
};

std::string bytes_of(std::size_t count) { return fmt::format("{} {}", count, count == 1 ? "byte" : "bytes"); }

}  // namespace

Comparison compare(const KeySheet& sheet, const Image& dump) { return Comparer(sheet, dump).run(); }

std::string to_text(const Comparison& comparison) {
  std::string text;
  if (!comparison.differences.empty()) text += "address  expected  found  belongs to          likely slip\n";
  for (const Difference& each : comparison.differences) {
    std::string line = fmt::format("${:04X}    ${:02X}       ${:02X}    {:<18}  {}", each.address, each.expected,
                                   each.found, each.line, each.slip);
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  }
  for (const Gap& gap : comparison.gaps) {
    const std::string range =
        gap.first == gap.last ? fmt::format("${:04X}", gap.first) : fmt::format("${:04X}-${:04X}", gap.first, gap.last);
    text += fmt::format("{} not in the dump{}\n", range, gap.slip.empty() ? "" : ": " + gap.slip);
  }
  if (!comparison.pattern.empty()) text += comparison.pattern + "\n";
  text += comparison.same() ? fmt::format("all {} agree\n", bytes_of(comparison.compared))
                            : fmt::format("{} compared, {} differ, {} missing\n", bytes_of(comparison.compared),
                                          comparison.differences.size(), [&] {
                                            std::size_t missing = 0;
                                            for (const Gap& gap : comparison.gaps) missing += gap.last - gap.first + 1U;
                                            return missing;
                                          }());
  if (comparison.elsewhere > 0) {
    text += fmt::format("{} of the dump are at other addresses and do not count\n", bytes_of(comparison.elsewhere));
  }
  return text;
}

}  // namespace prewire::handout
