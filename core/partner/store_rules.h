// Rules about where an instruction reads and writes.
#pragma once

#include <cstdint>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class StoreRules {
 public:
  explicit StoreRules(Scene& scene) : scene_(&scene) {}

  void access(const Step& step);
  /// A byte of RAM is written, by a store or by a push.
  void wrote(std::uint16_t address);

 private:
  void into_code(const Step& step, std::uint16_t address);

  Scene* scene_;
  std::vector<std::uint16_t> alias_;  // address + 1 that a cell of mirrored RAM was last written at, by its home
};

}  // namespace prewire::partner
