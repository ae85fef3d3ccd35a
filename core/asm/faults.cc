#include "asm/faults.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

namespace prewire::assembler {

namespace {

/// Where the other remarks of a group are, as its `what` tells it.
constexpr std::size_t kMostPlaces = 6;

std::string also_in(std::vector<Place> places) {
  const auto same_line = [](const Place& a, const Place& b) { return a.line == b.line && a.file == b.file; };
  places.erase(std::unique(places.begin(), places.end(), same_line), places.end());
  if (places.size() == 1) return "";
  std::vector<std::string> shown;
  for (std::size_t i = 1; i < std::min(places.size(), kMostPlaces + 1); ++i) {
    const bool here = places[i].file == places[0].file;
    shown.push_back(here ? std::to_string(places[i].line) : fmt::format("{}:{}", places[i].file, places[i].line));
  }
  if (places.size() > kMostPlaces + 1) shown.push_back(counted(places.size() - kMostPlaces - 1, "more line"));
  return fmt::format(" (also in {} {})", shown.size() == 1 ? "line" : "lines", list_of(shown));
}

}  // namespace

std::string meant(const std::string& near) { return near.empty() ? "" : fmt::format("did you mean {}?", near); }

std::string shown_value(std::int64_t value) {
  return value < 0 ? std::to_string(value) : fmt::format("{} (${:X})", value, value);
}

Words not_over(const Cursor& in) {
  const char c = in.peek();
  Words words{.what = "the operand should be over here",
              .expected = "a blank and a comment, or the end of the line",
              .found = fmt::format("'{}'", c >= ' ' && c <= '~' ? c : '?'),
              .hint = c == ')' || c == ']' ? "nothing opens it" : ""};
  if (c == '/' && in.peek(1) == '/') {
    words.hint = "; begins a comment";
    words.fixes = {{in.at(), in.at() + 2, " ;"}};
  }
  return words;
}

std::vector<Fix> without_blanks(Cursor in) {
  const std::size_t first = in.at();
  in.skip_blanks();
  if (in.at() == first || in.done() || in.peek() == ';') return {};
  return {{first, in.at(), ""}};
}

void Faults::give_up(const char* id, At at, Words words) {
  if (full()) return;
  // Only so many are shown, by line.
  while (stops_ >= InputError::kMost) {
    const auto last =
        std::find_if(list_.rbegin(), list_.rend(), [](const Fault& f) { return f.weight == Weight::stop; });
    list_.erase(std::next(last).base());
    --stops_;
  }
  add(id, Weight::stop, at, std::move(words));
  stops_ = kMost;
}

void Faults::add(const char* id, Weight weight, At at, Words words) {
  std::size_t& count = weight == Weight::stop ? stops_ : remarks_;
  if (count >= kMost) return;
  ++count;
  std::string found = std::move(words.found);
  if (!found.empty()) found += "\n              ";
  found += source_.excerpt(at);
  const int caller = source_.line(at.line).caller;
  const auto also = [&](const std::string& hint) { words.hint += (words.hint.empty() ? "" : "; ") + hint; };
  if (caller >= 0) also(fmt::format("the line comes from a macro that {} calls", source_.shown(caller)));
  if (!words.fixes.empty()) also("write\n              " + source_.mended(at.line, words.fixes.front()));
  list_.push_back({.id = id,
                   .weight = weight,
                   .place = source_.place(at),
                   .what = std::move(words.what),
                   .expected = std::move(words.expected),
                   .found = std::move(found),
                   .hint = std::move(words.hint)});
}

void Faults::group_remarks() {
  // What else is wrong with a source for another processor follows from that.
  const auto clash = std::find_if(list_.begin(), list_.end(), [](const Fault& f) { return f.id == "asm-cpu-clash"; });
  if (clash != list_.end()) list_ = std::vector<Fault>{std::move(*clash)};
  std::vector<Fault> kept;
  std::map<std::pair<std::string, std::string>, std::pair<std::size_t, std::vector<Place>>> groups;
  for (Fault& fault : list_) {
    if (fault.weight != Weight::stop) {
      auto& [index, places] = groups[{fault.id, fault.what}];
      places.push_back(fault.place);
      if (places.size() > 1) continue;
      index = kept.size();
    }
    kept.push_back(std::move(fault));
  }
  for (auto& [key, group] : groups) {
    if (group.second.size() > 1) kept[group.first].what += also_in(group.second);
  }
  // The worst come first, and those of one weight by line.
  std::stable_sort(kept.begin(), kept.end(), [](const Fault& a, const Fault& b) {
    return std::pair(b.weight, a.place.line) < std::pair(a.weight, b.place.line);
  });
  const auto first = std::find_if(kept.begin(), kept.end(), [](const Fault& f) { return f.weight != Weight::stop; });
  const auto remarks = static_cast<std::size_t>(kept.end() - first);
  if (remarks > InputError::kMost) {
    const auto cut = first + static_cast<std::ptrdiff_t>(InputError::kMost) - 1;
    std::map<std::string, std::size_t> left;
    for (auto fault = cut; fault != kept.end(); ++fault) ++left[fault->id];
    std::vector<std::string> shown;
    shown.reserve(left.size());
    for (const auto& [id, count] : left) shown.push_back(fmt::format("{} {}", count, id));
    // As weighty as what it stands for.
    Fault rest{.id = "asm-more", .weight = cut->weight, .place = {.file = cut->place.file}};
    rest.what = fmt::format("{} more: {}", remarks - InputError::kMost + 1, list_of(shown));
    rest.hint = "mend those above first";
    kept.erase(cut, kept.end());
    kept.push_back(std::move(rest));
  }
  list_ = std::move(kept);
}

}  // namespace prewire::assembler
