// A file that a command writes: under another name until it is whole.
#pragma once

#include <cstdio>
#include <optional>
#include <string>
#include <string_view>

#include "ending.h"

namespace prewire::front {

class NewFile {
 public:
  /// What messages say.
  struct Words {
    std::string refused;      ///< why it does not write there
    std::string replaceable;  ///< where it would
    std::string failed;       ///< what cannot be written
  };

  /// An existing file is replaced only if it begins with `mark`. Throws `Trouble` if the file cannot be made.
  NewFile(std::string name, std::string_view mark, Words words);
  ~NewFile();
  NewFile(const NewFile&) = delete;
  NewFile& operator=(const NewFile&) = delete;

  const std::string& name() const { return name_; }
  /// Until `close`. Never throws, as observers must not: what goes wrong is kept for `check` and `close`.
  void write(std::string_view text);
  /// Throws `Trouble` if something could not be written so far.
  void check() const;
  /// Throws `Trouble` unless all of it has been written.
  void close();
  /// Takes the place of what had the name, if anything.
  void take_name();

 private:
  void forget();
  [[noreturn]] void fail(int error) const;

  std::string name_;
  std::string part_;  // the name until the end
  std::optional<Temporary> temporary_;
  Words words_;
  std::FILE* stream_ = nullptr;
  int error_ = 0;
};

}  // namespace prewire::front
