#include "asm/faults.h"

#include <fmt/format.h>

#include <utility>

namespace prewire::assembler {

std::string meant(const std::string& near) { return near.empty() ? "" : fmt::format("did you mean {}?", near); }

std::string shown_value(std::int64_t value) {
  return value < 0 ? std::to_string(value) : fmt::format("{} (${:X})", value, value);
}

void Faults::add(const char* id, Weight weight, At at, Words words) {
  std::size_t& count = weight == Weight::stop ? stops_ : remarks_;
  if (count >= kMost) return;
  ++count;
  std::string found = std::move(words.found);
  if (!found.empty()) found += "\n              ";
  found += source_.excerpt(at);
  const int caller = source_.line(at.line).caller;
  if (caller >= 0) {
    words.hint += fmt::format("{}the line comes from a macro that {} calls", words.hint.empty() ? "" : "; ",
                              source_.shown(caller));
  }
  list_.push_back({.id = id,
                   .weight = weight,
                   .place = source_.place(at),
                   .what = std::move(words.what),
                   .expected = std::move(words.expected),
                   .found = std::move(found),
                   .hint = std::move(words.hint)});
}

}  // namespace prewire::assembler
