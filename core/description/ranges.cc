#include "description/ranges.h"

#include <algorithm>
#include <cstdlib>

namespace prewire {

namespace {

bool is_figure(char c) { return c >= '0' && c <= '9'; }
bool is_latin(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

/// A name that ends with a number or with one letter, as the ends of a range do.
struct Numbered {
  std::string_view prefix;
  int number = 0;  ///< of a letter: its code
  bool letter = false;
};

std::optional<Numbered> numbered(std::string_view name) {
  std::size_t digits = 0;
  while (digits < name.size() && is_figure(name[name.size() - 1 - digits])) ++digits;
  if (digits > 3 || name.empty()) return std::nullopt;
  if (digits > 0) {
    const std::string_view number = name.substr(name.size() - digits);
    if (number.size() > 1 && number[0] == '0') return std::nullopt;
    return Numbered{name.substr(0, name.size() - digits), std::atoi(std::string(number).c_str()), false};
  }
  if (!is_latin(name.back())) return std::nullopt;
  return Numbered{name.substr(0, name.size() - 1), name.back(), true};
}

std::string name_of(const Numbered& of, int number) {
  std::string name(of.prefix);
  if (of.letter) return name + static_cast<char>(number);
  return name + std::to_string(number);
}

/// The same of names that begin with their number, as those of units do: "1D" to "8D".
std::vector<std::string> expand_units(std::string_view first, std::string_view last) {
  const auto unit = [](std::string_view name) {
    return name.size() > 1 && is_figure(name[0]) && name[0] != '0' && !is_figure(name[1]) ? name[0] - '0' : 0;
  };
  const int from = unit(first), to = unit(last);
  if (from == 0 || to == 0 || first.substr(1) != last.substr(1)) return {};
  std::vector<std::string> names;
  for (int number = from;; number += to < from ? -1 : 1) {
    names.push_back(std::to_string(number).append(first.substr(1)));
    if (number == to) return names;
  }
}

}  // namespace

std::optional<std::pair<std::string_view, std::string_view>> range_ends(std::string_view text) {
  const std::size_t dots = text.find("..");
  if (dots == std::string_view::npos) return std::nullopt;
  return std::pair(text.substr(0, dots), text.substr(dots + 2));
}

std::vector<std::string> expand_range(std::string_view first, std::string_view last) {
  const auto from = numbered(first);
  const auto to = numbered(last);
  if (!from || !to || from->letter != to->letter) return {};
  if (!to->prefix.empty() && to->prefix != from->prefix) return expand_units(first, last);
  if (from->letter && (from->number & 0x20) != (to->number & 0x20)) return {};  // one capital, one small
  std::vector<std::string> names;
  const int step = to->number < from->number ? -1 : 1;
  for (int number = from->number;; number += step) {
    names.push_back(name_of(*from, number));
    if (number == to->number) return names;
  }
}

std::vector<std::string> range_in_disguise(std::string_view text) {
  for (const char sign : {'-', ':', '~', '.', '/'}) {
    const std::size_t at = text.find(sign);
    if (at == std::string_view::npos || at + 1 >= text.size()) continue;
    const std::size_t last = text.find_first_not_of(sign, at);
    if (last == std::string_view::npos) continue;
    std::vector<std::string> names = expand_range(text.substr(0, at), text.substr(last));
    if (names.size() > 1) return names;
  }
  return {};
}

std::string pin_list(const std::vector<std::string>& names) {
  std::string list;
  for (std::size_t i = 0; i < names.size();) {
    // The longest run of names that count up, written as a range.
    std::size_t end = i + 1;
    const auto first = numbered(names[i]);
    while (first && !first->letter && end < names.size() &&
           names[end] == name_of(*first, first->number + static_cast<int>(end - i))) {
      ++end;
    }
    if (!list.empty()) list += ", ";
    list += names[i];
    if (end - i > 2) {
      list += ".." + names[end - 1];
      i = end;
    } else {
      ++i;
    }
  }
  return list;
}

}  // namespace prewire
