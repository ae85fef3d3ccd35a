// How the program ends. docs/command-line.md explains the numbers.
#pragma once

namespace prewire::front {

enum class Exit : int {
  ok = 0,
  internal = 1,
  usage = 2,        ///< the command line itself makes no sense
  input = 3,        ///< what it names does: a file, a value, a place to write to
  fault = 4,        ///< the simulated machine went wrong
  expectation = 5,  ///< it went on well, but not as expected
  limit = 6,
  interrupted = 130,
  broken_pipe = 141,  ///< nobody reads the output any more
};

/// Of a command that has no other.
inline constexpr const char* kExitHelp =
    "Exit status:\n"
    "  0  all is well           2  bad usage\n"
    "  1  internal error        3  bad input, or a place that cannot be written to";

}  // namespace prewire::front
