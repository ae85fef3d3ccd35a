// Loops that wait for something that cannot come. Looked for now and then, since it costs.
#pragma once

#include <cstdint>
#include <vector>

#include "partner/scene.h"
#include "partner/wake_rules.h"

namespace prewire::partner {

class LoopRules {
 public:
  LoopRules(Scene& scene, WakeRules& wake) : scene_(scene), wake_(wake) {}

  bool looking() const { return left_ > 0; }
  /// Begins to look; nothing but the program itself can change anything now, or else nothing is due that could.
  /// `interrupts`: it might be interrupted, if anything asked.
  void begin(const Step& step, bool interrupts);
  void look(const Step& step);
  void give_up() { left_ = 0; }

 private:
  void told(const Step& step);
  std::vector<std::uint16_t> registers(const Cpu& cpu) const;

  Scene& scene_;
  WakeRules& wake_;
  int rounds_ = 0;
  bool interrupts_ = false;
  int left_ = 0;  // instructions to look at
  int turn_ = 0;  // those of a turn
  std::uint16_t start_ = 0, lowest_ = 0;
  std::vector<std::uint16_t> before_;
  bool tests_ = false;           // there is a conditional branch in it
  std::int32_t waits_for_ = -1;  // an address of RAM that it reads
  std::int32_t device_ = -1;     // one of a chip
};

}  // namespace prewire::partner
