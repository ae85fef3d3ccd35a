// Bad input: every fault found in it, each with its place, what was expected, what was found, and a hint.
#pragma once

#include <exception>
#include <string>
#include <string_view>
#include <vector>

namespace prewire {

/// How much a fault or a finding matters.
enum class Weight {
  hint,  ///< legal, often unintended
  warn,  ///< almost surely a mistake
  stop,  ///< cannot go on meaningfully
};

std::string_view to_string(Weight weight);

/// Where in the input a fault is. Lines and columns count from 1; 0 means that they do not apply.
struct Place {
  std::string file{};  ///< as the user wrote it; may be empty
  int line = 0;
  int column = 0;
  std::string pointer{};  ///< JSON pointer (RFC 6901) for JSON input, else empty
};

/// One thing that is wrong with an input.
struct Fault {
  std::string id{};  ///< stable name, such as `unknown-pin`; explained in docs
  Weight weight = Weight::stop;
  Place place{};
  std::string what{};      ///< one sentence
  std::string expected{};  ///< may be empty
  std::string found{};     ///< may be empty
  std::string hint{};      ///< one next step; may be empty
};

/// The fault as a person reads it: a line with the place, then indented lines for expected, found and hint. All of it
/// is made `printable` (prewire/text.h). A field may hold further lines, each indented by 14 blanks.
std::string to_string(const Fault& fault);

/// Thrown for data that the user can mend. Holds one fault or more (at most `kMost` are kept), worst first in file
/// order.
class InputError : public std::exception {
 public:
  static constexpr std::size_t kMost = 20;
  static constexpr std::size_t kWhole = 6;  ///< of the rest the text has only the first line: it fits on a screen

  explicit InputError(std::vector<Fault> faults);
  explicit InputError(Fault fault) : InputError(std::vector<Fault>{std::move(fault)}) {}

  const std::vector<Fault>& faults() const { return faults_; }
  /// Faults that were found but not kept.
  std::size_t omitted() const { return omitted_; }
  /// The faults, one after the other: `kWhole` with all their lines.
  const char* what() const noexcept override { return text_.c_str(); }

 private:
  std::vector<Fault> faults_;
  std::size_t omitted_ = 0;
  std::string text_;
};

/// The candidate that `word` most likely means, or an empty string. Where the longer of the two has three to six
/// letters, one may be missing, too many, wrong, or swapped with its neighbour; two of seven to ten; three of more.
/// Capitals do not matter.
std::string did_you_mean(std::string_view word, const std::vector<std::string>& candidates);
/// "1 byte", "2 bytes".
template <class Integer>
std::string counted(Integer count, std::string_view one) {
  return std::to_string(count) + ' ' + std::string(one) + (count == 1 ? "" : "s");
}
/// "a, b and c", as messages list things.
std::string list_of(const std::vector<std::string>& words, std::string_view last = "and");

}  // namespace prewire
