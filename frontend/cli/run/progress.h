// A line on the terminal while a run takes long.
#pragma once

#include <chrono>

#include "prewire/machine.h"

namespace prewire::front::cli {

class Progress {
 public:
  /// Shows nothing unless standard error is a terminal.
  explicit Progress(bool wanted);
  ~Progress() { clear(); }
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  /// Shows how far the machine is, from the first second on and not too often.
  void show(const Machine& machine, std::chrono::duration<double> wall);
  /// Takes the line away, before anything else is written.
  void clear();

 private:
  bool wanted_;
  bool shown_ = false;
  std::chrono::duration<double> next_{1.0};
};

}  // namespace prewire::front::cli
