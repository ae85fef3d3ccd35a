// What is wrong with a source, and what may be.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "asm/cursor.h"
#include "asm/source.h"

namespace prewire::assembler {

/// How the line should read: `text` in place of what stands from `first` to `last`.
struct Fix {
  std::size_t first = 0, last = 0;
  std::string text{};
};

/// What a message says beside its place.
struct Words {
  std::string what{};
  std::string expected{};
  std::string found{};  ///< comes before the line itself
  std::string hint{};
  std::vector<Fix> fixes{};  ///< one or none
};

/// `300 ($12C)`.
std::string shown_value(std::int64_t value);

/// `did you mean LDAA?`; empty if nothing is near.
std::string meant(const std::string& near);

/// Something stands where an operand should be over.
Words not_over(const Cursor& in);

/// Without the blanks at the cursor; nothing if none stand there, or nothing behind them.
std::vector<Fix> without_blanks(Cursor in);

class Faults {
 public:
  /// Past this many the input is something else altogether.
  static constexpr std::size_t kMost = 1000;

  explicit Faults(const Source& source) : source_(source) {}

  void fault(const char* id, At at, Words words) { add(id, Weight::stop, at, std::move(words)); }
  void report(const char* id, Weight weight, At at, Words words) { add(id, weight, at, std::move(words)); }
  /// A fault after which nobody reads on: a limit that was passed. It is shown whatever else was found.
  void give_up(const char* id, At at, Words words);

  /// Nobody reads on.
  bool full() const { return stops_ >= kMost; }
  bool any() const { return stops_ > 0; }
  /// Whether a did-you-mean is still worth its time: more faults than these are not shown.
  bool searching() const { return stops_ < InputError::kMost; }

  std::vector<Fault>& list() { return list_; }
  /// Remarks that differ in their place only become one; of too many the last one tells the rest.
  void group_remarks();

 private:
  void add(const char* id, Weight weight, At at, Words words);

  const Source& source_;
  std::vector<Fault> list_;
  std::size_t stops_ = 0, remarks_ = 0;
};

}  // namespace prewire::assembler
