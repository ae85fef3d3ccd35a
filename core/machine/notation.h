// Words of an instruction in the trade's notation.
#pragma once

#include <algorithm>
#include <initializer_list>
#include <string_view>

namespace prewire {

/// "LDAA" of "LDAA $10".
inline std::string_view mnemonic_of(std::string_view text) { return text.substr(0, text.find(' ')); }

inline bool is_one_of(std::string_view word, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

}  // namespace prewire
