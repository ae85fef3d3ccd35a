// Any text at all: the assembler returns an image that keeps its promises, or throws InputError with faults that make
// sense; and it comes to an end.
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

constexpr std::string_view kSample = R"(* Tidewater greenhouse
        CPU     mc6809
        NAM     FANS
COUNT   SET     0
STEP    MACRO   VALUE,WHERE
COUNT   SET     COUNT+1
.again  LDA     #\VALUE
        STA     \WHERE
        BNE     .again
        ENDM
        SETDP   $20
BUF     EQU     $2010
        ORG     $C000
START   LDS     #$01FF
        LDA     BUF
        LDA     <BUF
        LEAX    TABLE,PCR
        LDD     [D,X]
        STD     ,--Y
        TFR     A,DP
        PSHS    D,X,PC
        STEP    3,{5,X}
        STEP    'A,>$10
        LBEQ    START
        IF      COUNT=2
        FCB     1,2,'A,-1,%1010,@17
        ELSE
        FCB     9
        ENDIF
TABLE   FDB     TABLE,*,START/2+(1<<3)
        FCC     /Tidewater/
FAR     FILL    $FF,4
        RMB     300
        JMP     START   and again
        ORG     $FFFE
        FDB     START
        END     START
)";

class AsmRandom : public ::testing::Test {
 protected:
  void feed(const std::string& source) {
    for (const char* cpu : {"mc6800", "mc6809", ""}) {
      try {
        const Image image = assemble(source, "random.asm", {.cpu = cpu, .folder = {}, .root = {}});
        ASSERT_FALSE(image.segments.empty());
        std::uint64_t free_from = 0;
        for (const Segment& segment : image.segments) {
          ASSERT_FALSE(segment.bytes.empty());
          ASSERT_GE(segment.start, free_from);
          free_from = segment.end() + 1;
        }
        ASSERT_LE(image.segments.back().end(), 0x10000U);
        ASSERT_FALSE(listing(image).empty());
        ASSERT_FALSE(symbol_file(image).empty());
        ++accepted_;
      } catch (const InputError& error) {
        ASSERT_FALSE(error.faults().empty());
        ASSERT_EQ(error.faults().front().weight, Weight::stop);
        for (const Fault& fault : error.faults()) {
          ASSERT_FALSE(fault.what.empty());
          ASSERT_EQ(fault.place.file, "random.asm");
        }
        ++refused_;
      }
    }
  }

  std::size_t below(std::size_t limit) { return random_() % limit; }

  std::mt19937 random_{6809};
  int accepted_ = 0;
  int refused_ = 0;
};

TEST_F(AsmRandom, RandomBytes) {
  constexpr std::string_view kLikely = " \t\n\n*;:'\"#$%@<>,[](){}\\+-=.ABDXYUSabx0123456789LDAORGFCBIF";
  for (int i = 0; i < 4000; ++i) {
    std::string source(below(120), '\0');
    const bool any = i % 4 == 0;
    for (char& c : source) c = any ? static_cast<char>(random_()) : kLikely[below(kLikely.size())];
    feed(source);
  }
  EXPECT_GT(refused_, 10000);
}

TEST_F(AsmRandom, MutatedSource) {
  for (int i = 0; i < 3000; ++i) {
    std::string source(kSample);
    for (std::size_t changes = 1 + below(4); changes > 0; --changes) {
      const std::size_t at = below(source.size() + 1);
      switch (below(5)) {
        case 0: source.resize(at); break;
        case 1: source.insert(at, 1, static_cast<char>(random_())); break;
        case 2: source.erase(at, 1 + below(6)); break;
        case 3: source.insert(at, kSample.substr(below(kSample.size()), below(40))); break;
        case 4:
          if (at < source.size()) source[at] = static_cast<char>(source[at] ^ (1 << below(7)));
          break;
      }
    }
    feed(source);
  }
  EXPECT_GT(accepted_, 100);
  EXPECT_GT(refused_, 3000);
}

TEST_F(AsmRandom, LinesInAnyOrder) {
  std::vector<std::string> lines;
  for (std::size_t at = 0; at < kSample.size();) {
    const std::size_t end = kSample.find('\n', at);
    lines.emplace_back(kSample.substr(at, end - at + 1));
    at = end + 1;
  }
  for (int i = 0; i < 1000; ++i) {
    std::shuffle(lines.begin(), lines.end(), random_);
    std::string source;
    for (const std::string& line : lines) source += line;
    feed(source);
  }
  EXPECT_GT(refused_, 1000);
}

TEST_F(AsmRandom, LargeSourcesComeToAnEnd) {
  // Each would take minutes if a step looked at all others.
  std::string labels, macros, segments, unknown;
  for (int i = 0; i < 60000; ++i) {
    labels += fmt::format("L{}\n", i);
    macros += fmt::format("M{} MACRO\n ENDM\n", i);
    if (i < 30000) segments += fmt::format(" ORG {}\nS{} FCB 1\n", 2 * i, i);
    unknown += fmt::format(" FDB N{}\n", i);
  }
  for (int i = 0; i < 60000; ++i) macros += " NOP\n";
  for (std::string* source : {&labels, &macros, &segments, &unknown}) feed(*source + " NOP\n");
  EXPECT_EQ(accepted_, 6);
  EXPECT_EQ(refused_, 6);
}

}  // namespace
}  // namespace prewire::testing
