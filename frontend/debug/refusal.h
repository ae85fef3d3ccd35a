// A command that cannot be carried out: what is wrong with it, and what would be right.
#pragma once

#include <string>
#include <utility>

#include "shared/exit.h"

namespace prewire::front::debug {

struct Refusal {
  explicit Refusal(std::string what_, std::string expected_ = {}, std::string found_ = {}, std::string hint_ = {},
                   Exit exit_ = Exit::input)
      : what(std::move(what_)),
        expected(std::move(expected_)),
        found(std::move(found_)),
        hint(std::move(hint_)),
        exit(exit_) {}

  std::string what, expected, found, hint;
  Exit exit;  ///< of a script that ends with it
};

}  // namespace prewire::front::debug
