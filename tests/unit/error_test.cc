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

// The shorter a word, the more others are near it by chance.
TEST(DidYouMean, AllowsFewerEditsInShorterWords) {
  EXPECT_EQ(did_you_mean("a", {"A"}), "A");  // no edit
  EXPECT_EQ(did_you_mean("D", {"A"}), "");
  EXPECT_EQ(did_you_mean("D2", {"D1", "D"}), "");
  EXPECT_EQ(did_you_mean("D0", {"DB0"}), "DB0");
  EXPECT_EQ(did_you_mean("", {"A"}), "");
  EXPECT_EQ(did_you_mean("PIB", {"PIA"}), "PIA");
  EXPECT_EQ(did_you_mean("barrow", {"barrel"}), "");  // two in six letters
  EXPECT_EQ(did_you_mean("FLOTA-1", {"FLOAT-2"}), "FLOAT-2");
  EXPECT_EQ(did_you_mean("uninitalizedread", {"uninitialised-read"}), "uninitialised-read");  // three in sixteen
}

// The optimal string alignment distance: two swapped neighbours are one edit, but no letter is edited twice.
TEST(DidYouMean, CountsTwoSwappedNeighboursAsOneEdit) {
  EXPECT_EQ(did_you_mean("PAI", {"PIA"}), "PIA");
  EXPECT_EQ(did_you_mean("APIB", {"PIAB"}), "");  // moved past two
  EXPECT_EQ(did_you_mean("CA", {"ABC"}), "");
  EXPECT_EQ(did_you_mean("IRQA", {"IRQB", "IQRA"}), "IRQB");  // of equals the first
}

TEST(Counted, OneAndMany) {
  EXPECT_EQ(counted(0, "byte"), "0 bytes");
  EXPECT_EQ(counted(1, "byte"), "1 byte");
  EXPECT_EQ(counted(2, "byte"), "2 bytes");
}

TEST(FaultText, IsPrintable) {
  const Fault fault{.id = "some-fault", .place = {.file = "a\x1B\nb"}, .what = "what\x07", .found = "one\ntwo\x0B"};
  EXPECT_EQ(to_string(fault), "a\\x1B\\x0Ab: stop: what\\x07 [some-fault]\n    found:    one\\x0Atwo\\x0B\n");
}

TEST(FaultText, ShowsLinesThatAreIndented) {
  const Fault fault{.id = "some-fault", .found = "one\n              two\x07\n              ^"};
  EXPECT_EQ(to_string(fault), "stop:  [some-fault]\n    found:    one\n              two\\x07\n              ^\n");
}

}  // namespace
}  // namespace prewire
