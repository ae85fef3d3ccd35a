#include "output.h"

#include <cerrno>
#include <cstdio>
#include <cstring>

#include "trouble.h"

namespace prewire::front {

void Output::print(std::string_view text) {
  bytes_ += text.size();
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size()) fail();
}

void Output::flush() {
  if (std::fflush(stdout) != 0) fail();
}

void Output::fail() {
  if (errno == EPIPE) throw Trouble(Exit::broken_pipe, "");
  throw Trouble(Exit::input, "the output cannot be written", "", std::strerror(errno),
                "check the space where it goes to");
}

void message(std::string_view text) { std::fwrite(text.data(), 1, text.size(), stderr); }

}  // namespace prewire::front
