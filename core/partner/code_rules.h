// Rules about an instruction when it is met for the first time at its address.
#pragma once

#include <cstdint>
#include <string>

#include "partner/scene.h"

namespace prewire::partner {

class CodeRules {
 public:
  explicit CodeRules(Scene& scene) : scene_(scene) {}

  /// `before` is the opcode executed just before, null if there is none, and `before_pc` its address.
  void first_visit(const Step& step, const Op* before, std::uint16_t before_pc);

 private:
  /// `way` tells how the program came here.
  void where(const Step& step, const std::string& way);
  void what(const Step& step, const Op* before, std::uint16_t before_pc);
  void written(const Step& step);

  Scene& scene_;
};

}  // namespace prewire::partner
