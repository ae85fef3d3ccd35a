// Rules about the patterns that digits show: of all digits together that hang on the same segment lines.
#pragma once

#include <bitset>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class DigitRules {
 public:
  explicit DigitRules(Scene& scene);

  /// A digit has shown a pattern for long enough: bit 0 is segment a, bit 7 the point, bit 8 that it is no character.
  void on_pattern(std::string_view chip, std::int64_t pattern);
  /// What selects a digit may have moved.
  void on_net(std::string_view net, const NetState& state, Stamp when);
  void forget();

 private:
  struct Group {
    std::vector<std::string> digits{};
    std::vector<std::string_view> nets{};  // of the segments
    std::bitset<256> shown{}, strange{};
    // Of digits that are selected one by one.
    int selected = 0;  // now
    Stamp since = 0;
    int together = 0;    // times that several were, one after the other
    bool alone = false;  // one was
  };
  struct Select {
    std::string_view net;  // as observers get it, by the address of its text
    std::size_t group;
    Level on_at;
    bool on;
  };
  void guess(const Group& group, std::uint64_t number);
  void select(Group& group, std::uint64_t number, int selected, Stamp when);

  Scene& scene_;
  std::vector<Group> groups_;
  std::vector<Select> selects_;
};

}  // namespace prewire::partner
