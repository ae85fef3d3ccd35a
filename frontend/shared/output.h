// Standard output, with every error noticed, and messages on standard error.
#pragma once

#include <cstdint>
#include <string_view>

namespace prewire::front {

class Output {
 public:
  /// Throws `Trouble` if it cannot be written; silently of kind `broken_pipe` if nobody reads any more.
  void print(std::string_view text);
  void flush();
  std::uint64_t bytes() const { return bytes_; }

 private:
  [[noreturn]] void fail();

  std::uint64_t bytes_ = 0;
};

/// Writes to standard error, and does not mind if that is closed.
void message(std::string_view text);

}  // namespace prewire::front
