#include "image_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "image_files.h"
#include "prewire/text.h"
#include "shared/json_text.h"

namespace prewire::front::cli {

namespace {

constexpr std::size_t kMostLines = 64;  // of a list, without --all
constexpr std::size_t kBytesInLine = 8;

std::string hex(std::span<const std::uint8_t> bytes) { return fmt::format("{:02X}", fmt::join(bytes, " ")); }

std::string_view format_title(ImageFormat format) {
  switch (format) {
    case ImageFormat::s_record: return "S-record";
    case ImageFormat::intel_hex: return "Intel HEX";
    case ImageFormat::binary: return "raw binary";
    case ImageFormat::key_in: return "key-in listing";
    case ImageFormat::automatic: break;
  }
  return "image";
}

std::string_view kind_name(Difference::Kind kind) {
  switch (kind) {
    case Difference::Kind::bytes: return "bytes";
    case Difference::Kind::only_first: return "only first";
    case Difference::Kind::only_second: break;
  }
  return "only second";
}

/// Lines up to a limit; how many were left out stands at the end.
class Lines {
 public:
  explicit Lines(bool all) : all_(all) {}

  bool full() const { return !all_ && count_ >= kMostLines; }
  template <typename... Values>
  void add(fmt::format_string<Values...> format, Values&&... values) {
    if (!full()) {
      std::string line = fmt::format(format, std::forward<Values>(values)...);
      line.erase(line.find_last_not_of(' ') + 1);
      text_ += line + '\n';
    }
    ++count_;
  }
  std::string finish() && {
    if (!all_ && count_ > kMostLines) {
      text_ += fmt::format("and {} more lines; --all shows them\n", count_ - kMostLines);
    }
    return std::move(text_);
  }

 private:
  bool all_;
  std::size_t count_ = 0;
  std::string text_;
};

/// A run of differences, at most eight addresses in a line.
void add_bytes(Lines& lines, const Comparison& comparison, const AddressRange& range) {
  for (std::uint64_t from = range.first; from <= range.last; from += kBytesInLine) {
    const AddressRange part{static_cast<std::uint32_t>(from),
                            static_cast<std::uint32_t>(std::min<std::uint64_t>(range.last, from + kBytesInLine - 1))};
    lines.add("{:<10}{:<26}{}", fmt::format("${:04X}", part.first), hex(bytes_in(comparison.first.image, part)),
              hex(bytes_in(comparison.second.image, part)));
  }
}

/// Instructions of both sides at the same address stand in one line.
void add_code(Lines& lines, const CodeDifference& difference) {
  auto a = difference.first.begin();
  auto b = difference.second.begin();
  while (a != difference.first.end() || b != difference.second.end()) {
    const bool left = b == difference.second.end() || (a != difference.first.end() && a->address <= b->address);
    const bool right = a == difference.first.end() || (b != difference.second.end() && b->address <= a->address);
    const ComparedCode none;
    const ComparedCode& one = left ? *a : none;
    const ComparedCode& two = right ? *b : none;
    lines.add("{:<10}{:<16}{:<26}{:<16}{}", fmt::format("${:04X}", left ? one.address : two.address), hex(one.bytes),
              one.text, hex(two.bytes), two.text);
    if (left) ++a;
    if (right) ++b;
  }
}

/// Bytes that differ, that the first has alone, that the second has alone.
std::array<std::uint64_t, 3> totals(const Comparison& comparison) {
  std::array<std::uint64_t, 3> sums{};
  for (const Difference& difference : comparison.differences) {
    sums[static_cast<std::size_t>(difference.kind)] += difference.range.size();
  }
  return sums;
}

Json code_json(const std::vector<ComparedCode>& code) {
  Json list = Json::array();
  for (const ComparedCode& each : code) {
    list.push_back({{"address", each.address}, {"bytes", hex(each.bytes)}, {"text", each.text}});
  }
  return list;
}

}  // namespace

std::string info_text(const NamedImage& named, bool all) {
  const Image& image = named.image;
  std::string text = fmt::format("{}: {}\n", printable(named.name), format_title(image.format));
  const auto add = [&](std::string_view what, const std::string& value) {
    text += fmt::format("  {:<18}{}\n", what, value);
  };
  if (!image.header.empty()) add("header", printable(image.header));
  add("start address", image.entry ? fmt::format("${:04X}", *image.entry) : "none");
  const std::optional<AddressRange> span = span_of(image);
  const std::uint64_t gaps = span->size() - image.size();
  add("addresses", to_string(*span));
  add("bytes",
      gaps == 0 ? fmt::format("{}", image.size()) : fmt::format("{}; {} in gaps", image.size(), count_bytes(gaps)));
  if (gaps > 0) {
    Lines lines(all);
    for (const Segment& segment : image.segments) {
      lines.add("{:20}${:04X}-${:04X}  {}", "", segment.start, segment.end() - 1, segment.bytes.size());
    }
    text += std::move(lines).finish();
  }
  add("8-bit sum", fmt::format("${:02X}", sum8(image)));
  add("16-bit sum", fmt::format("${:04X}", sum16(image)));
  for (const Crc& crc : known_crcs()) add(crc.name, fmt::format("${:0{}X}", crc_of(image, crc), crc.width / 4));
  return text;
}

std::string info_json(const std::vector<NamedImage>& images) {
  Json list = Json::array();
  for (const auto& [name, image] : images) {
    Json entry{{"file", name}, {"format", to_string(image.format)}};
    if (!image.header.empty()) entry["header"] = image.header;
    if (image.entry) entry["start"] = *image.entry;
    const std::optional<AddressRange> span = span_of(image);
    entry["first"] = span->first;
    entry["last"] = span->last;
    entry["size"] = image.size();
    Json segments = Json::array();
    for (const Segment& segment : image.segments) {
      segments.push_back({{"first", segment.start}, {"last", segment.end() - 1}, {"size", segment.bytes.size()}});
    }
    entry["segments"] = std::move(segments);
    Json sums{{"8-bit sum", sum8(image)}, {"16-bit sum", sum16(image)}};
    for (const Crc& crc : known_crcs()) sums[std::string(crc.name)] = crc_of(image, crc);
    entry["sums"] = std::move(sums);
    list.push_back(std::move(entry));
  }
  return print_json({{"images", std::move(list)}});
}

Comparison compare_images(const NamedImage& first, const NamedImage& second, const std::string& cpu) {
  Comparison comparison{first, second, compare(first.image, second.image), {}, !cpu.empty()};
  if (comparison.with_code) {
    const auto read = [&](std::uint16_t address, std::span<const std::uint8_t> code) {
      return disassemble(cpu, address, code);
    };
    comparison.code = compare_code(first.image, second.image, comparison.differences, read);
  }
  return comparison;
}

std::string comparison_text(const Comparison& comparison, bool all) {
  const std::string first = printable(comparison.first.name), second = printable(comparison.second.name);
  const Image &first_image = comparison.first.image, &second_image = comparison.second.image;
  if (comparison.alike()) return fmt::format("{} and {} are alike: {}\n", first, second, describe(first_image));
  std::string text = fmt::format("first     {}\nsecond    {}\n", first, second);
  if (comparison.other_entry()) {
    text +=
        fmt::format("start     ${:04X} in the first, ${:04X} in the second\n", *first_image.entry, *second_image.entry);
  }
  const auto [differ, only_first, only_second] = totals(comparison);
  text += fmt::format("bytes     {} differ, {} only in the first, {} only in the second\n", differ, only_first,
                      only_second);
  Lines lines(all);
  if (comparison.with_code) {
    for (const CodeDifference& difference : comparison.code) add_code(lines, difference);
  } else {
    for (const Difference& difference : comparison.differences) add_bytes(lines, comparison, difference.range);
  }
  if (comparison.differences.empty()) return text;
  text += fmt::format("\n{:<10}{:<{}}second\n", "address", "first", comparison.with_code ? 42 : 26);
  return text + std::move(lines).finish();
}

std::string comparison_json(const Comparison& comparison, bool all) {
  const std::size_t most = all ? comparison.differences.size() : kMostLines;
  const auto [differ, only_first, only_second] = totals(comparison);
  Json document{{"files", {comparison.first.name, comparison.second.name}},
                {"alike", comparison.alike()},
                {"differ", differ},
                {"only_first", only_first},
                {"only_second", only_second}};
  if (comparison.other_entry()) {
    document["start"] = {*comparison.first.image.entry, *comparison.second.image.entry};
  }
  Json list = Json::array();
  for (const Difference& difference : comparison.differences) {
    if (list.size() == most) break;
    const AddressRange& range = difference.range;
    list.push_back(
        {{"kind", kind_name(difference.kind)},
         {"first", range.first},
         {"last", range.last},
         {"bytes", {hex(bytes_in(comparison.first.image, range)), hex(bytes_in(comparison.second.image, range))}}});
  }
  document["differences"] = std::move(list);
  if (comparison.with_code) {
    Json code = Json::array();
    for (const CodeDifference& difference : comparison.code) {
      if (code.size() == most) break;
      code.push_back({{"first", difference.range.first},
                      {"last", difference.range.last},
                      {"instructions", {code_json(difference.first), code_json(difference.second)}}});
    }
    document["code"] = std::move(code);
  }
  document["omitted"] = comparison.differences.size() - std::min(most, comparison.differences.size());
  return print_json(document);
}

}  // namespace prewire::front::cli
