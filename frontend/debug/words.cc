#include "words.h"

#include <fmt/format.h>

#include <charconv>

#include "refusal.h"
#include "shared/places.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

namespace {

template <class Integer>
std::optional<Integer> parse_integer(std::string_view text, int base = 10) {
  Integer value{};
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, base);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

bool hex_digits(std::string_view text) {
  return !text.empty() && text.size() <= 4 &&
         text.find_first_not_of("0123456789abcdefABCDEF") == std::string_view::npos;
}

}  // namespace

std::vector<std::string> split(std::string_view line) {
  std::vector<std::string> words;
  bool open = false, quoted = false;
  for (const char c : line) {
    if (quoted) {
      if (c == '"') {
        quoted = false;
      } else {
        words.back() += c;
      }
    } else if (c == '#' && !open) {
      break;
    } else if (c == ' ' || c == '\t' || c == '\r') {
      open = false;
    } else {
      if (!open) words.emplace_back();
      open = true;
      if (c == '"') {
        quoted = true;
      } else {
        words.back() += c;
      }
    }
  }
  if (quoted) throw Refusal("a quotation mark is not closed", "a second \" on the same line");
  return words;
}

const std::string& Words::peek() const {
  static const std::string kNothing;
  return empty() ? kNothing : words_[next_];
}

std::string Words::take(std::string_view what) {
  if (empty()) throw Refusal(fmt::format("{} is missing", what));
  return words_[next_++];
}

bool Words::take_if(std::string_view word) {
  if (empty() || words_[next_] != word) return false;
  ++next_;
  return true;
}

std::string Words::take_rest(std::string_view what) {
  std::string text = take(what);
  while (!empty()) text += " " + words_[next_++];
  return text;
}

void Words::end() const {
  if (!empty())
    throw Refusal("the command has no use for this", "", words_[next_], "`help COMMAND` says what it takes");
}

std::optional<int> parse_value(const Machine& machine, std::string_view text) {
  if (text.starts_with('%')) {
    const auto value = parse_integer<int>(text.substr(1), 2);
    return value && *value >= 0 && *value <= 0xFFFF ? value : std::nullopt;
  }
  if (const auto value = parse_integer<int>(text)) return *value >= 0 && *value <= 0xFFFF ? value : std::nullopt;
  if (const auto place = parse_place(machine, text)) return *place;
  return std::nullopt;
}

std::uint16_t need_place(const Machine& machine, const std::string& text) {
  if (const auto place = parse_place(machine, text)) return *place;
  const std::string base = text.substr(0, text.find_first_of("+-"));
  const std::string hint =
      hex_digits(text) ? fmt::format("did you mean ${}?", text) : meant(base, label_names(machine));
  throw Refusal("there is no such place", "an address such as $F800, a label, or a label with an offset: show+3", text,
                hint);
}

std::uint16_t Words::take_place(const Machine& machine) { return need_place(machine, take("an address or a label")); }

std::pair<std::uint16_t, std::uint16_t> Words::take_range(const Machine& machine) {
  const std::string text = take("an address or a label");
  if (const auto place = parse_place(machine, text)) {
    if (!take_if("-")) return {*place, *place};
    const std::uint16_t last = take_place(machine);
    if (last < *place) throw Refusal("the range ends before it begins");
    return {*place, last};
  }
  const std::size_t dash = text.find('-');
  if (dash == std::string::npos || dash == 0) return {need_place(machine, text), 0};
  const std::uint16_t first = need_place(machine, text.substr(0, dash));
  const std::uint16_t last = need_place(machine, text.substr(dash + 1));
  if (last < first) throw Refusal("the range ends before it begins", "", text);
  return {first, last};
}

std::uint16_t Words::take_value(const Machine& machine, std::string_view what, int most) {
  const std::string text = take(what);
  const auto value = parse_value(machine, text);
  if (value && *value <= most) return static_cast<std::uint16_t>(*value);
  throw Refusal(fmt::format("{} cannot be that", what),
                fmt::format("a number from 0 to {0} or ${0:X}: 10, $0A, %1010 or a label", most), text,
                hex_digits(text) && !value ? fmt::format("did you mean ${}?", text) : "");
}

int Words::take_count(int otherwise) {
  if (empty()) return otherwise;
  const std::string text = take("a count");
  const auto count = parse_integer<int>(text);
  constexpr int kMost = 1'000'000;
  if (!count || *count < 1 || *count > kMost)
    throw Refusal("there is no such count", "a number from 1 to 1000000", text);
  return *count;
}

}  // namespace prewire::front::debug
