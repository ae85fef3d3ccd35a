// The command line of prewire-desk.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "desk/panels/geometry.h"
#include "desk/view/choices.h"
#include "prewire/machine.h"
#include "prewire/stimulus.h"
#include "shared/output.h"

namespace prewire::front::desk {

struct Options {
  std::string machine;  ///< or a check file; empty: none yet
  std::string check;    ///< its name
  LoadOptions load;
  std::vector<std::string> stimulus_files;
  std::vector<Stimulus> sets;
  Look look = Look::full;
  ThemeName theme = ThemeName::dark;
  Tab tab = Tab::memory;
  Size size{1280, 720};
  double scale = 1;
  std::string net;
  std::string shot;  ///< a picture to draw, instead of a window
  Moment at;         ///< when
  bool run = false;
  bool help_shown = false;
};

/// Empty after `--help` and `--version`, which it prints. Throws `Trouble`.
std::optional<Options> parse_options(int argc, char** argv, Output& out);

}  // namespace prewire::front::desk
