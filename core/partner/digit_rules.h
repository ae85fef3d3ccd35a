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
  void forget();

 private:
  struct Group {
    std::vector<std::string> digits{};
    std::vector<std::string_view> nets{};  // of the segments
    std::bitset<256> shown{}, strange{};
  };
  void guess(const Group& group, std::uint64_t number);

  Scene& scene_;
  std::vector<Group> groups_;
};

}  // namespace prewire::partner
