#include "output.h"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string>

#include "ending.h"
#include "prewire/text.h"
#include "trouble.h"

namespace prewire::front {

namespace {

constexpr std::string_view kKept = "\t\n";

}  // namespace

void Output::print(std::string_view text) { write(printable(text, kKept)); }

void Output::write(std::string_view bytes) {
  bytes_ += bytes.size();
  if (std::fwrite(bytes.data(), 1, bytes.size(), stdout) != bytes.size()) fail();
}

void Output::flush() {
  if (std::fflush(stdout) != 0) fail();
}

void Output::fail() {
  if (errno == EIO && interrupted()) return std::clearerr(stdout);
  if (errno == EPIPE) throw Trouble(Exit::broken_pipe, "");
  throw Trouble(Exit::input, "the output cannot be written", "", std::strerror(errno),
                "check the space where it goes to");
}

void message(std::string_view text) {
  const std::string shown = printable(text, kKept);
  std::fwrite(shown.data(), 1, shown.size(), stderr);
}

}  // namespace prewire::front
