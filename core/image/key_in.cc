// Key-in listings: `address: byte byte ... ; comment`, as typed from a handout. Specified in docs/images.md.
#include <fmt/format.h>

#include <algorithm>

#include "image/readers.h"

namespace prewire {

namespace {

constexpr std::size_t kMostAddressDigits = 8;

/// Where the parts of a line start. All are indices into the line; `colon` is where the colon has to be.
struct Parts {
  std::size_t digits = 0;
  std::size_t digits_end = 0;
  std::size_t colon = 0;
};

Parts split(std::string_view text) {
  Parts parts;
  const std::string_view two = text.substr(0, 2);
  if (two == "0x" || two == "0X") {
    parts.digits = 2;
  } else if (two.substr(0, 1) == "$") {
    parts.digits = 1;
  }
  parts.digits_end = parts.digits;
  while (parts.digits_end < text.size() && hex_digit(text[parts.digits_end]) >= 0) ++parts.digits_end;
  parts.colon = std::min(text.find_first_not_of(kBlanks, parts.digits_end), text.size());
  return parts;
}

std::string found_at(std::string_view text, std::size_t index) {
  return index < text.size() ? quote(text.substr(index, 1)) : "the end of the line";
}

void read_bytes(Reading& reading, const Line& line, std::string_view text, std::size_t from, std::uint32_t address) {
  std::vector<std::uint8_t> bytes;
  bool whole = true;
  for (std::size_t i = text.find_first_not_of(kBlanks, from); i < text.size();) {
    const std::size_t end = std::min(text.find_first_of(kBlanks, i), text.size());
    const std::string_view word = text.substr(i, end - i);
    const int high = hex_digit(word[0]);
    const int low = word.size() == 2 ? hex_digit(word[1]) : -1;
    if (high >= 0 && low >= 0) {
      bytes.push_back(static_cast<std::uint8_t>(high * 16 + low));
    } else {
      whole = false;
      reading.add({.id = "key-byte",
                   .weight = Weight::stop,
                   .place = reading.at(line, i),
                   .what = "this is not a byte",
                   .expected = "two hex digits, such as 0F",
                   .found = quote(word),
                   .hint = "put blanks between bytes; letters such as O, I and l are easily taken for digits"});
    }
    i = text.find_first_not_of(kBlanks, end);
  }
  if (!whole) return;
  if (bytes.empty()) {
    reading.add({.id = "key-empty",
                 .weight = Weight::warn,
                 .place = reading.at(line, 0),
                 .what = "an address without bytes",
                 .expected = "at least one byte after the colon",
                 .found = "none",
                 .hint = "add the bytes, or make the line a comment with ';'"});
  }
  reading.add_data(line, 0, address, bytes);
}

void read_line(Reading& reading, const Line& line) {
  const std::string_view text = line.text.substr(0, line.text.find(';'));
  if (text.empty()) return;
  const Parts parts = split(text);
  const std::size_t digits = parts.digits_end - parts.digits;
  if (digits == 0 || digits > kMostAddressDigits) {
    reading.add({.id = "key-address",
                 .weight = Weight::stop,
                 .place = reading.at(line, parts.digits),
                 .what = "the line does not start with an address",
                 .expected = "1 to 8 hex digits and a colon, such as 0100:",
                 .found = digits == 0 ? found_at(text, parts.digits) : fmt::format("{} digits", digits),
                 .hint = "start every line with its address; comments start with ';'"});
    return;
  }
  if (parts.colon == text.size() || text[parts.colon] != ':') {
    reading.add({.id = "key-colon",
                 .weight = Weight::stop,
                 .place = reading.at(line, parts.colon),
                 .what = "there is no colon after the address",
                 .expected = "':'",
                 .found = found_at(text, parts.colon),
                 .hint = "write the line as in 0100: 8E 01 FF"});
    return;
  }
  std::uint32_t address = 0;
  for (std::size_t i = parts.digits; i < parts.digits_end; ++i) {
    address = address * 16 + static_cast<std::uint32_t>(hex_digit(text[i]));
  }
  read_bytes(reading, line, text, parts.colon + 1, address);
}

}  // namespace

void read_key_in(Reading& reading) {
  while (const auto line = reading.next_line()) read_line(reading, *line);
}

bool looks_like_key_in(std::string_view line) {
  if (line[0] == ';') return true;  // no other format has comments
  const Parts parts = split(line);
  return parts.digits_end > parts.digits && parts.colon < line.size() && line[parts.colon] == ':';
}

}  // namespace prewire
