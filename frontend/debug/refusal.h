// A command that cannot be carried out: what is wrong with it, and what would be right.
#pragma once

#include <string>
#include <utility>

#include "cli/exit.h"

namespace prewire::debug {

struct Refusal {
  explicit Refusal(std::string what_, std::string expected_ = {}, std::string found_ = {}, std::string hint_ = {},
                   cli::Exit exit_ = cli::Exit::input)
      : what(std::move(what_)),
        expected(std::move(expected_)),
        found(std::move(found_)),
        hint(std::move(hint_)),
        exit(exit_) {}

  std::string what, expected, found, hint;
  cli::Exit exit;  ///< of a script that ends with it
};

}  // namespace prewire::debug
