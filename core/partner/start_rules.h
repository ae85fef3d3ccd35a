// Parts that run by themselves once somebody has started them.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class StartRules {
 public:
  explicit StartRules(Scene& scene) : scene_(scene) {}

  /// A conversion of that chip has begun.
  void on_start(std::string_view chip);
  /// At the end of a run.
  void conclude();
  void forget() { started_.clear(); }

 private:
  Scene& scene_;
  std::vector<std::string> started_;
};

}  // namespace prewire::partner
