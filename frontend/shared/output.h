// Standard output, with every error noticed, and messages on standard error.
#pragma once

#include <cstdint>
#include <string_view>

namespace prewire::front {

class Output {
 public:
  /// A text, made printable: its lines and tabs stay. Throws `Trouble` if it cannot be written; silently of kind
  /// `broken_pipe` if nobody reads any more. A terminal that is gone, and has said so by a signal, is no error: what
  /// else is to be written is.
  void print(std::string_view text);
  /// Bytes as they are, such as those of an image. Throws likewise.
  void write(std::string_view bytes);
  void flush();
  std::uint64_t bytes() const { return bytes_; }

 private:
  static void fail();

  std::uint64_t bytes_ = 0;
};

/// Writes a text to standard error, made printable likewise, and does not mind if that is closed.
void message(std::string_view text);

}  // namespace prewire::front
