// Reports are built up in one string.
#pragma once

#include <fmt/format.h>

#include <iterator>
#include <string>
#include <utility>

namespace prewire {

template <class... Values>
void add(std::string& text, fmt::format_string<Values...> format, Values&&... values) {
  fmt::format_to(std::back_inserter(text), format, std::forward<Values>(values)...);
}

}  // namespace prewire
