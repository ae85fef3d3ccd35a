// Loops that wait for something that cannot come. Looked for now and then, since it costs.
#pragma once

#include <cstdint>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class LoopRules {
 public:
  explicit LoopRules(Scene& scene) : scene_(scene) {}

  bool looking() const { return left_ > 0; }
  /// Begins to look; nothing but the program itself can change anything now.
  void begin(const Step& step);
  void look(const Step& step);
  void give_up() { left_ = 0; }

 private:
  std::vector<std::uint16_t> registers(const Cpu& cpu) const;

  Scene& scene_;
  int left_ = 0;  // instructions to look at
  std::uint16_t start_ = 0;
  std::vector<std::uint16_t> before_;
  bool tests_ = false;           // there is a conditional branch in it
  std::int32_t waits_for_ = -1;  // an address that it reads
};

}  // namespace prewire::partner
