// Records: what S-record and Intel HEX lines have in common.
#include <fmt/format.h>

#include <numeric>
#include <utility>

#include "image/readers.h"

namespace prewire {

bool check_mark(Reading& reading, const Line& line, std::string_view marks, std::string_view record) {
  const std::string_view first = line.text.substr(0, 1);
  if (marks.find(first) != std::string_view::npos) return true;
  reading.add({.id = "record-mark",
               .weight = Weight::stop,
               .place = reading.at(line, 0),
               .what = fmt::format("the line is not {}", record),
               .expected = quote(marks.substr(0, 1)),
               .found = quote(first),
               .hint = "remove what is not part of the image"});
  return false;
}

std::optional<std::vector<std::uint8_t>> read_record(Reading& reading, const Line& line, const RecordShape& shape) {
  const std::string_view digits = line.text.substr(shape.prefix);
  const auto report = [&](const char* id, std::size_t offset, const char* what, std::string expected, std::string found,
                          const char* hint) {
    reading.add({.id = id,
                 .weight = Weight::stop,
                 .place = reading.at(line, shape.prefix + offset),
                 .what = what,
                 .expected = std::move(expected),
                 .found = std::move(found),
                 .hint = hint});
    return std::nullopt;
  };

  for (std::size_t i = 0; i < digits.size(); ++i) {
    if (hex_digit(digits[i]) < 0) {
      return report("record-digit", i, "a record holds hex digits only", "0-9 or A-F", quote(digits.substr(i, 1)),
                    "letters such as O, I and l are easily taken for digits");
    }
  }
  if (digits.size() % 2 != 0) {
    return report("record-odd", digits.size() - 1, "a digit has no partner", "two hex digits for each byte",
                  fmt::format("an odd number of digits, {}", digits.size()),
                  "a digit of this line was lost or doubled");
  }
  if (digits.size() < 2 * shape.least) {
    return report("record-short", 0, "the record is too short for its type",
                  fmt::format("at least {} hex digits", 2 * shape.least), fmt::format("{}", digits.size()),
                  "the line was cut; get it again from where it came");
  }

  std::vector<std::uint8_t> bytes(digits.size() / 2);
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    bytes[i] = static_cast<std::uint8_t>(hex_digit(digits[2 * i]) * 16 + hex_digit(digits[2 * i + 1]));
  }
  if (const std::size_t counted = bytes.size() - shape.uncounted; bytes.front() != counted) {
    return report("record-length", 0, "the record length disagrees with the line",
                  fmt::format("${:02X}, for the bytes on the line", counted), fmt::format("${:02X}", bytes.front()),
                  "the line was cut or two lines were joined");
  }
  const std::uint8_t found = bytes.back();
  bytes.pop_back();
  const auto expected = static_cast<std::uint8_t>(shape.total - std::accumulate(bytes.begin(), bytes.end(), 0U));
  if (found != expected) {
    return report("record-checksum", digits.size() - 2, "the checksum does not match the record",
                  fmt::format("${:02X}", expected), fmt::format("${:02X}", found),
                  "a digit of this line was changed; compare it with the original");
  }
  return bytes;
}

void check_end(Reading& reading, bool ended, std::string_view kinds) {
  if (!ended) {
    reading.add({.id = "end-missing",
                 .weight = Weight::warn,
                 .place = reading.at({}, 0),
                 .what = "the end record is missing",
                 .expected = std::string(kinds),
                 .found = "the end of the file",
                 .hint = "lines may be lost; get the file again from where it came"});
  } else if (const auto line = reading.next_line()) {
    reading.add({.id = "end-early",
                 .weight = Weight::warn,
                 .place = reading.at(*line, 0),
                 .what = "lines after the end record are not read",
                 .expected = "the end of the file",
                 .found = quote(line->text),
                 .hint = "two files may have been joined; load them one by one"});
  }
}

}  // namespace prewire
