// What errors have in common: the guess at what somebody meant.
#include "prewire/error.h"

#include <gtest/gtest.h>

namespace prewire {
namespace {

TEST(DidYouMean, TakesTheNearestCandidate) {
  const std::vector<std::string> candidates{"resistor", "button", "PIA", "seven_segment"};
  const auto guess = [&](std::string_view word) { return did_you_mean(word, candidates); };
  EXPECT_EQ(guess("resistor"), "resistor");
  EXPECT_EQ(guess("RESISTER"), "resistor");             // a letter changed, and capitals
  EXPECT_EQ(guess("resitor"), "resistor");              // missing
  EXPECT_EQ(guess("seven_segmment"), "seven_segment");  // too many
  EXPECT_EQ(guess("rsietor"), "resistor");              // two edits in seven letters: a swap, and one missing
  EXPECT_EQ(guess("rseitsro"), "");                     // three
  EXPECT_EQ(guess("capacitor"), "");
  EXPECT_EQ(guess(""), "");
}

// The optimal string alignment distance: two swapped neighbours are one edit, but no letter is edited twice.
TEST(DidYouMean, CountsTwoSwappedNeighboursAsOneEdit) {
  EXPECT_EQ(did_you_mean("PAI", {"PIA"}), "PIA");
  EXPECT_EQ(did_you_mean("APIB", {"PIAB"}), "");  // moved past two
  EXPECT_EQ(did_you_mean("CA", {"ABC"}), "");
  EXPECT_EQ(did_you_mean("IRQA", {"IRQB", "IQRA"}), "IRQB");  // of equals the first
}

}  // namespace
}  // namespace prewire
