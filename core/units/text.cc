#include "units/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "prewire/error.h"
#include "prewire/text.h"

namespace prewire {

std::string_view trim(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

std::string in_quotes(std::string_view text) {
  constexpr int kMostShown = 40;
  // A byte of a UTF-8 character that began before it.
  const auto is_tail = [](char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; };
  std::size_t end = 0;
  for (int characters = 0; end < text.size(); ++end) {
    if (!is_tail(text[end]) && ++characters > kMostShown) break;
  }
  using Json = nlohmann::json;
  std::string shown = printable_json(Json(text.substr(0, end)).dump(-1, ' ', false, Json::error_handler_t::replace));
  if (end < text.size()) shown.insert(shown.size() - 1, "...");
  return shown;
}

std::string meant(std::string_view word, const std::vector<std::string>& candidates, std::string otherwise) {
  constexpr std::size_t kLongestName = 40;
  if (word.size() > kLongestName) return otherwise;
  const std::string near = did_you_mean(word, candidates);
  if (!near.empty()) return fmt::format("did you mean {}?", in_quotes(near));
  // Else names of which the word is a part, if they are few.
  constexpr std::size_t kShortest = 3, kFew = 3;
  std::vector<std::string> longer;
  for (const std::string& name : candidates) {
    const auto same = [](char a, char b) {
      return a == b || ((a ^ b) == 0x20 && (a | 0x20) >= 'a' && (a | 0x20) <= 'z');
    };
    const auto found = std::search(name.begin(), name.end(), word.begin(), word.end(), same);
    if (word.size() >= kShortest && found != name.end()) longer.push_back(name);
  }
  return longer.empty() || longer.size() > kFew ? otherwise : fmt::format("did you mean {}?", one_of(longer));
}

std::string one_of(const std::vector<std::string>& words) {
  std::vector<std::string> list;
  list.reserve(words.size());
  for (const std::string& word : words) list.push_back(in_quotes(word));
  return list_of(list, "or");
}

}  // namespace prewire
