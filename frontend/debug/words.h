// The words of one line: the command, and what follows it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::debug {

/// Splits a line at blanks; a text in double quotes is one word. What follows a '#' is a comment.
std::vector<std::string> split(std::string_view line);

/// Takes one argument after the other.
class Words {
 public:
  explicit Words(std::vector<std::string> words) : words_(std::move(words)) {}

  bool empty() const { return next_ == words_.size(); }
  /// The next word, or "" at the end.
  const std::string& peek() const;
  /// Takes the next word; `what` is missing if there is none.
  std::string take(std::string_view what);
  /// Takes the next word if it is this one.
  bool take_if(std::string_view word);
  /// Takes all that is left, with single blanks between.
  std::string take_rest(std::string_view what);
  /// Refuses what is left.
  void end() const;

  std::uint16_t take_place(const Machine& machine);
  /// "FIRST", "FIRST-LAST" or "FIRST - LAST".
  std::pair<std::uint16_t, std::uint16_t> take_range(const Machine& machine);
  /// $hex, 0xhex, %binary, decimal, or a label, from 0 to `most`.
  std::uint16_t take_value(const Machine& machine, std::string_view what, int most);
  /// 1 or more; `otherwise` at the end of the line.
  int take_count(int otherwise);

 private:
  std::vector<std::string> words_;
  std::size_t next_ = 0;
};

/// A number as above, or empty.
std::optional<int> parse_value(const Machine& machine, std::string_view text);
/// An address as `parse_place`, or a `Refusal` with a hint.
std::uint16_t need_place(const Machine& machine, const std::string& text);

}  // namespace prewire::front::debug
