// When nothing can happen any more: for each source that could end it, what blocks it first.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class WakeRules {
 public:
  explicit WakeRules(Scene& scene) : scene_(scene) {}

  /// The processor waits at `pc` since `since`, and nothing is due.
  void waits(std::uint16_t pc, Cycle since);
  /// Whether a source on IRQ or FIRQ was set up to ask, or may be.
  bool may_be_asked();
  /// Bits of a register of a chip that a loop looks at.
  struct Poll {
    std::uint16_t address;
    std::uint8_t mask;  ///< 0: it only reads them
  };
  /// A loop at `start` comes round unchanged; that is all it looks at.
  void polls(std::uint16_t start, const std::vector<Poll>& polls, Cycle since);

 private:
  /// What is known of a way by which something could come.
  struct Way {
    std::vector<std::string> blocks{};  // what keeps it, the first cause last
    bool person = false;                // somebody or something else could move something
    bool armed = false, flag = false;   // as in `Blocked`
  };
  /// At the board as it is now.
  void look_around();
  bool poll(const Poll& poll, std::vector<std::string>& told);
  void follow(int chip, const Blocked& blocked, int depth, Way& way);
  void at_net(int chip, int pin, int depth, Way& way);
  std::string pin_name(int chip, int pin) const;

  Scene& scene_;
  std::vector<NetView> nets_;
  std::vector<ChipView> chips_;
};

}  // namespace prewire::partner
