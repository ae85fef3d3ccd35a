// A position that moves along a line.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace prewire::assembler {

inline bool is_blank(char c) { return c == ' ' || c == '\t'; }
inline bool is_digit(char c) { return c >= '0' && c <= '9'; }
inline bool is_letter(char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'); }
/// Names begin with a letter, an underscore, or the point of a local label.
inline bool begins_name(char c) { return is_letter(c) || c == '_' || c == '.'; }
inline bool in_name(char c) { return begins_name(c) || is_digit(c); }

inline std::string upper(std::string_view text) {
  std::string result(text);
  for (char& c : result) c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 32) : c;
  return result;
}

inline std::string lower(std::string_view text) {
  std::string result(text);
  for (char& c : result) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return result;
}

class Cursor {
 public:
  explicit Cursor(std::string_view text) : text_(text) {}

  std::size_t at() const { return at_; }
  void go(std::size_t at) { at_ = at; }
  bool done() const { return at_ >= text_.size(); }
  /// 0 behind the end.
  char peek(std::size_t ahead = 0) const { return at_ + ahead < text_.size() ? text_[at_ + ahead] : '\0'; }
  void skip(std::size_t count = 1) { at_ += count; }
  bool take(char c) {
    if (done() || text_[at_] != c) return false;
    ++at_;
    return true;
  }
  void skip_blanks() {
    while (is_blank(peek())) ++at_;
  }
  /// A name or a number begun with a digit; empty if there is none.
  std::string_view word() {
    const std::size_t first = at_;
    while (in_name(peek())) ++at_;
    return text_.substr(first, at_ - first);
  }
  std::string_view rest() const { return at_ < text_.size() ? text_.substr(at_) : std::string_view(); }
  /// From `first` to here.
  std::string_view since(std::size_t first) const { return text_.substr(first, at_ - first); }
  /// The operand is over: a blank, the line's end, or a comment that follows at once.
  bool at_end_of_operand() const { return done() || is_blank(peek()) || peek() == ';'; }

 private:
  std::string_view text_;
  std::size_t at_ = 0;
};

}  // namespace prewire::assembler
