#include "description/part_names.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "prewire/error.h"
#include "units/text.h"

namespace prewire {

namespace {

bool is_number(char c) { return c >= '0' && c <= '9'; }

/// Small letters and figures only; a leading 7 of a word is "seven".
std::string plain(std::string_view word) {
  std::string text;
  for (char c : word) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c | 0x20);
    if (is_number(c) || (c >= 'a' && c <= 'z')) text += c;
  }
  if (text.size() > 1 && text[0] == '7' && !is_number(text[1])) text.replace(0, 1, "seven");
  return text;
}

/// The figures of a part number: those of 74HCT373 and 74ls373, or of 68B21 and mc6821, are the same.
std::string number_of(std::string_view word) {
  std::string figures;
  for (const char c : word) {
    if (is_number(c)) figures += c;
  }
  return figures;
}

// A number of a part has three figures or more.
constexpr std::size_t kPartNumber = 3;

// Words of the trade that are in no name and no title.
constexpr std::array<std::pair<std::string_view, std::string_view>, 14> kWords = {{{"pia", "mc6821"},
                                                                                   {"xor", "74ls86"},
                                                                                   {"exor", "74ls86"},
                                                                                   {"nor", "74ls02"},
                                                                                   {"or", "74ls32"},
                                                                                   {"key", "button"},
                                                                                   {"dip", "switch"},
                                                                                   {"dipswitch", "switch"},
                                                                                   {"lamp", "led"},
                                                                                   {"light", "led"},
                                                                                   {"crystal", "oscillator"},
                                                                                   {"xtal", "oscillator"},
                                                                                   {"vref", "voltage_source"},
                                                                                   {"supply", "voltage_source"}}};

/// Two figures that stand side by side are exchanged.
bool exchanged(const std::string& one, const std::string& other) {
  if (one.size() != other.size()) return false;
  std::size_t at = 0;
  while (at < one.size() && one[at] == other[at]) ++at;
  return at + 1 < one.size() && one[at] == other[at + 1] && one[at + 1] == other[at] &&
         one.compare(at + 2, std::string::npos, other, at + 2) == 0;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

std::vector<std::string> parts_meant(std::string_view word, const std::vector<PartName>& parts) {
  const std::string wanted = plain(word), number = number_of(wanted);
  std::vector<std::string> names;
  const auto gather = [&](auto&& fits) {
    if (!names.empty()) return;
    for (const PartName& part : parts) {
      if (fits(part)) names.emplace_back(part.name);
    }
  };
  // "LS138", "138" or "LS00": what is printed largest on a part of the 74 series.
  const auto printed = [&](const PartName& part) {
    return number.size() >= 2 && (wanted == number || wanted == "ls" + number) && part.name == "74ls" + number;
  };
  gather(printed);
  if (number.size() >= kPartNumber) {
    gather([&](const PartName& part) { return number_of(part.name) == number; });
    gather([&](const PartName& part) { return exchanged(number_of(part.name), number); });
    return names;
  }
  for (const auto& [trade, part] : kWords) {
    if (wanted == trade) gather([&, name = part](const PartName& known) { return known.name == name; });
  }
  constexpr std::size_t kShortest = 3;
  if (wanted.size() < kShortest) return names;
  std::vector<std::string> words;
  for (const PartName& part : parts) {
    if (number_of(part.name).size() < kPartNumber) words.emplace_back(part.name);
  }
  const std::string near = did_you_mean(word, words);
  if (!near.empty()) gather([&](const PartName& part) { return part.name == near; });
  gather([&](const PartName& part) { return has(plain(part.name), wanted); });
  gather([&](const PartName& part) {
    const std::string name = plain(part.name);
    return number_of(name).empty() && name.size() >= kShortest && has(wanted, name);
  });
  gather([&](const PartName& part) { return has(plain(part.title), wanted); });
  return names;
}

std::string part_hint(std::string_view word, const std::vector<PartName>& parts, std::string otherwise) {
  const std::vector<std::string> names = parts_meant(word, parts);
  if (!names.empty()) return fmt::format("did you mean {}?", one_of(names));
  const std::string number = number_of(plain(word));
  if (number.size() < kPartNumber) return otherwise;
  std::vector<std::string> family;
  for (const PartName& part : parts) {
    const std::string of = number_of(part.name);
    if (of.size() >= kPartNumber && of.compare(0, 2, number, 0, 2) == 0) family.emplace_back(part.name);
  }
  if (family.empty()) return "this version does not have that part; " + otherwise;
  return fmt::format("this version does not have that part; of its family it has {}", list_of(family));
}

}  // namespace prewire
