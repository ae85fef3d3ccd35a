// What is done with images: every edge of the address space, and what must be refused. The values are worked out by
// hand from the definition in prewire/image_tools.h.
#include <gtest/gtest.h>

#include <cstdint>
#include <map>
#include <random>

#include "prewire/image_tools.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

constexpr std::uint32_t kTop = 0xFFFFFFFF;

Image image_of(std::vector<Segment> segments, std::optional<std::uint32_t> entry = {}) {
  Image image;
  image.segments = std::move(segments);
  image.entry = entry;
  return image;
}

/// The dump of what `operation` returns, or the text of its `InputError`.
template <typename Operation>
std::string outcome_of(Operation operation) {
  try {
    return dump(operation());
  } catch (const InputError& error) {
    return error.what();
  }
}

const Image kEmpty;
const Image kBarrel = image_of({{0x100, {0x8E, 0x01, 0xFF}}, {0x10A, {0x3F}}, {0xFFFE, {0x01, 0x00}}}, 0x100);

TEST(ImageSpan, IsFromTheFirstAddressToTheLast) {
  EXPECT_EQ(span_of(kEmpty), std::nullopt);
  EXPECT_EQ(span_of(kBarrel), (AddressRange{0x100, 0xFFFF}));
  EXPECT_EQ(span_of(image_of({{kTop, {1}}})), (AddressRange{kTop, kTop}));
  EXPECT_EQ(to_string(AddressRange{0, kTop}), "$0000-$FFFFFFFF");
  EXPECT_EQ((AddressRange{0, kTop}).size(), std::uint64_t{1} << 32);
}

TEST(ImageBytes, AreThereWhenAllOfThemAre) {
  const auto bytes = [](std::uint32_t first, std::uint32_t last) {
    const auto found = bytes_in(kBarrel, {first, last});
    return std::vector<std::uint8_t>(found.begin(), found.end());
  };
  EXPECT_EQ(bytes(0x100, 0x102), (std::vector<std::uint8_t>{0x8E, 0x01, 0xFF}));
  EXPECT_EQ(bytes(0x101, 0x101), (std::vector<std::uint8_t>{0x01}));
  EXPECT_EQ(bytes(0xFFFF, 0xFFFF), (std::vector<std::uint8_t>{0x00}));
  EXPECT_TRUE(bytes(0x101, 0x103).empty());
  EXPECT_TRUE(bytes(0xFF, 0x100).empty());
  EXPECT_TRUE(bytes(0x10000, 0x10000).empty());
  EXPECT_TRUE(bytes_in(kEmpty, {0, kTop}).empty());
}

TEST(ImageCrop, KeepsWhatLiesInTheRange) {
  EXPECT_EQ(dump(crop(kBarrel, {0x101, 0x10A})), "$0101: 01 FF\n$010A: 3F\n");
  EXPECT_EQ(dump(crop(kBarrel, {0xFFFF, 0xFFFF})), "$FFFF: 00\n");
  EXPECT_EQ(dump(crop(kBarrel, {0, kTop})), dump(kBarrel));
  EXPECT_EQ(dump(crop(kBarrel, {0x100, 0x100})), "$0100: 8E\nentry $0100\n");
  EXPECT_EQ(dump(crop(kBarrel, {0x103, 0x109})), "");
  EXPECT_EQ(dump(crop(kBarrel, {0x10000, kTop})), "");
  EXPECT_EQ(dump(crop(kEmpty, {0, kTop})), "");
  EXPECT_EQ(dump(crop(image_of({{kTop - 1, {1, 2}}}, kTop), {kTop, kTop})), "$FFFFFFFF: 02\nentry $FFFFFFFF\n");
}

TEST(ImageMove, TakesTheStartAddressAlong) {
  EXPECT_EQ(dump(move(kBarrel, 0x1000, "")), "$1100: 8E 01 FF\n$110A: 3F\n$10FFE: 01 00\nentry $1100\n");
  EXPECT_EQ(dump(move(kBarrel, -0x100, "")), "$0000: 8E 01 FF\n$000A: 3F\n$FEFE: 01 00\nentry $0000\n");
  EXPECT_EQ(dump(move(image_of({{0, {7}}}), kTop, "")), "$FFFFFFFF: 07\n");
  EXPECT_EQ(dump(move(image_of({{kTop, {7}}}), -std::int64_t{kTop}, "")), "$0000: 07\n");
  EXPECT_EQ(dump(move(kEmpty, -5, "")), "");
}

TEST(ImageMove, DoesNotGoRoundTheEnd) {
  EXPECT_EQ(outcome_of([] { return move(kBarrel, -0x101, "barrel.key"); }),
            "barrel.key: stop: a byte would leave the address space [move-range]\n"
            "    expected: addresses from $0000 to $FFFFFFFF\n"
            "    found:    $0100 moved down by $0101\n"
            "    hint:     move by less, or crop first; it does not go on at the other end\n");
  EXPECT_THROW(move(kBarrel, 0xFFFF0001, ""), InputError);  // the last byte alone
  EXPECT_NO_THROW(move(kBarrel, 0xFFFF0000, ""));
  for (const std::int64_t far : {std::int64_t{1} << 32, -(std::int64_t{1} << 32), INT64_MAX, INT64_MIN}) {
    EXPECT_THROW(move(kBarrel, far, ""), InputError) << far;
  }
  // The bytes could be moved, the start address could not.
  EXPECT_THROW(move(image_of({{0x100, {1}}}, 0), -1, ""), InputError);
}

TEST(ImageFill, FillsTheGapsOnly) {
  EXPECT_EQ(dump(fill(crop(kBarrel, {0, 0x10A}), 0xFF, "")), "$0100: 8E 01 FF FF FF FF FF FF FF FF 3F\nentry $0100\n");
  EXPECT_EQ(fill(kBarrel, 0, "").size(), 0xFF00U);
  EXPECT_EQ(dump(fill(kEmpty, 0, "")), "");
  EXPECT_EQ(dump(fill(image_of({{kTop, {1}}}), 0, "")), "$FFFFFFFF: 01\n");
}

TEST(ImageFill, MakesAtMost16MiB) {
  EXPECT_EQ(fill(image_of({{5, {1}}, {5 + 0xFFFFFF, {2}}}), 0, "").size(), std::uint64_t{16} << 20);
  EXPECT_EQ(outcome_of([] {
              return fill(image_of({{5, {1}}, {5 + 0x1000000, {2}}}), 0, "mast.s37");
            }),
            "mast.s37: stop: the image would be too large without gaps [image-span]\n"
            "    expected: at most 16 MiB from the first address to the last\n"
            "    found:    16777217 bytes\n"
            "    hint:     crop it, or move its parts together\n");
  EXPECT_THROW(pad(kEmpty, {0, kTop}, 0, ""), InputError);
  EXPECT_EQ(pad(kEmpty, {kTop - 0xFFFFFF, kTop}, 0, "").size(), std::uint64_t{16} << 20);
}

TEST(ImagePad, CoversExactlyTheRange) {
  EXPECT_EQ(dump(pad(crop(kBarrel, {0x102, 0x10A}), {0x101, 0x10C}, 0xFF, "")),
            "$0101: FF FF FF FF FF FF FF FF FF 3F FF FF\n");
  EXPECT_EQ(dump(pad(kEmpty, {0xFFFE, 0xFFFF}, 0x12, "")), "$FFFE: 12 12\n");
  EXPECT_EQ(dump(pad(image_of({{kTop, {1}}}), {kTop - 1, kTop}, 0, "")), "$FFFFFFFE: 00 01\n");
  EXPECT_EQ(outcome_of([] {
              return pad(kBarrel, {0x100, 0xFFFE}, 0, "barrel.key");
            }),
            "barrel.key: stop: a byte lies outside $0100-$FFFE [pad-outside]\n"
            "    expected: all bytes in that range\n"
            "    found:    $FFFF\n"
            "    hint:     crop the image to the range first, or move it there\n");
  EXPECT_THROW(pad(kBarrel, {0x101, 0xFFFF}, 0, ""), InputError);
}

TEST(ImageBlock, IsWhereTheChipsAddressLinesCountFromZero) {
  EXPECT_EQ(block_of(image_of({{0xF812, {1}}, {0xFFFF, {2}}}), 2048, ""), (AddressRange{0xF800, 0xFFFF}));
  EXPECT_EQ(block_of(image_of({{0, {1}}}), 2048, ""), (AddressRange{0, 0x7FF}));
  EXPECT_EQ(block_of(image_of({{kTop, {1}}}), 8192, ""), (AddressRange{0xFFFFE000, kTop}));
  EXPECT_THROW(block_of(image_of({{0xF7FF, {1, 2}}}), 2048, ""), InputError);  // two bytes in two blocks
  EXPECT_THROW(block_of(kEmpty, 2048, ""), InputError);
}

TEST(ImageJoin, PutsAllInOrder) {
  const std::vector<NamedImage> images{{"mast", image_of({{0, {1}}, {0x103, {0x86}}})}, {"barrel", kBarrel}};
  EXPECT_EQ(dump(join(images)), "$0000: 01\n$0100: 8E 01 FF 86\n$010A: 3F\n$FFFE: 01 00\nentry $0100\n");
  EXPECT_EQ(dump(join({})), "");
  EXPECT_EQ(dump(join(std::vector<NamedImage>{{"one", kEmpty}, {"two", kEmpty}})), "");
}

TEST(ImageJoin, SaysWhereFilesClash) {
  const std::vector<NamedImage> images{{"barrel.key", kBarrel},
                                       {"mast.key", image_of({{0xFE, {9, 9, 0x8E, 0x02, 0x03, 0x04}}})},
                                       {"tanks.key", image_of({{0xFFFF, {0x77}}})}};
  EXPECT_EQ(outcome_of([&] { return join(images); }),
            "mast.key: stop: another byte for $0101 than in barrel.key [join-clash]\n"
            "    expected: $01, as in barrel.key\n"
            "    found:    $02; 2 bytes clash in all\n"
            "    hint:     crop or move one of the images, or say that the later one replaces the earlier\n"
            "tanks.key: stop: another byte for $FFFF than in barrel.key [join-clash]\n"
            "    expected: $00, as in barrel.key\n"
            "    found:    $77\n"
            "    hint:     crop or move one of the images, or say that the later one replaces the earlier\n");
  EXPECT_EQ(dump(join(images, Clash::replace)),
            "$00FE: 09 09 8E 02 03 04\n$010A: 3F\n$FFFE: 01 77\nentry $0100\n"
            "mast.key: warn: replaces 2 bytes of barrel.key, the first at $0101: $01 by $02 [join-replaced]\n"
            "mast.key: hint: gives 1 byte again, with the same value as barrel.key, the first at $0100 [join-repeat]\n"
            "    hint:     check that both files belong here\n"
            "tanks.key: warn: replaces 1 byte of barrel.key, the first at $FFFF: $00 by $77 [join-replaced]\n");
}

TEST(ImageJoin, UsesTheFirstStartAddress) {
  const std::vector<NamedImage> images{{"tanks.key", image_of({{0x20, {1}}})},
                                       {"barrel.s19", kBarrel},
                                       {"again.s19", image_of({{0x10, {1}}}, 0x100)},
                                       {"mast.s19", image_of({{0x30, {1}}}, 0x30)}};
  EXPECT_EQ(dump(join(images)),
            "$0010: 01\n$0020: 01\n$0030: 01\n$0100: 8E 01 FF\n$010A: 3F\n$FFFE: 01 00\nentry $0100\n"
            "mast.s19: warn: a second start address is not used [join-entry]\n"
            "    expected: $0100, as in barrel.s19\n"
            "    found:    $0030\n"
            "    hint:     put the image with the start address that you want first\n");
}

TEST(ImageSplit, GivesEachChipEveryOtherByte) {
  const auto halves = split_even_odd(image_of({{0xFFF7, {1, 2, 3}}, {0xFFFB, {4, 5}}, {kTop, {6}}}, 0xFFF7));
  EXPECT_EQ(dump(halves[0]), "$7FFC: 02\n$7FFE: 05\n");
  EXPECT_EQ(dump(halves[1]), "$7FFB: 01 03 04\n$7FFFFFFF: 06\n");
  for (const Image& half : split_even_odd(kEmpty)) EXPECT_EQ(dump(half), "");
  EXPECT_EQ(dump(split_even_odd(image_of({{0, {1}}}))[1]), "");
}

TEST(ImageSplit, GivesEachNibbleAChip) {
  const auto halves = split_nibbles(kBarrel);
  EXPECT_EQ(dump(halves[0]), "$0100: 0E 01 0F\n$010A: 0F\n$FFFE: 01 00\n");
  EXPECT_EQ(dump(halves[1]), "$0100: 08 00 0F\n$010A: 03\n$FFFE: 00 00\n");
}

// Any image, any operation: what comes out keeps its promises, and a plain map of bytes agrees.
TEST(ImageOperations, AgreeWithAMapOfBytes) {
  std::mt19937 random(6800);
  using Map = std::map<std::uint64_t, std::uint8_t>;
  const auto random_map = [&](std::uint32_t base) {
    Map map;
    for (auto runs = random() % 5; runs > 0; --runs) {
      const std::uint64_t start = base + random() % 60;
      for (std::uint64_t i = 0; i < 1 + random() % 12 && start + i <= kTop; ++i) {
        map[start + i] = static_cast<std::uint8_t>(random() % 3);
      }
    }
    return map;
  };
  const auto image_from = [](const Map& map) {
    Image image;
    for (const auto& [address, byte] : map) {
      if (image.segments.empty() || image.segments.back().end() != address) {
        image.segments.push_back({static_cast<std::uint32_t>(address), {}});
      }
      image.segments.back().bytes.push_back(byte);
    }
    return image;
  };
  for (int round = 0; round < 4000; ++round) {
    const std::uint32_t base = round % 2 == 0 ? 0 : kTop - 63;
    const Map a = random_map(base), b = random_map(base);
    const Image one = image_from(a), two = image_from(b);
    const auto first = static_cast<std::uint32_t>(base + random() % 40);
    const auto last = static_cast<std::uint32_t>(first + random() % 20);

    Map cropped, joined = b, even, odd;
    bool clashes = false;
    for (const auto& [address, byte] : a) {
      if (first <= address && address <= last) cropped[address] = byte;
      (address % 2 == 0 ? even : odd)[address / 2] = byte;
      clashes = clashes || (b.contains(address) && b.at(address) != byte);
      joined.emplace(address, byte);
    }
    EXPECT_EQ(crop(one, {first, last}).segments, image_from(cropped).segments);
    EXPECT_EQ(split_even_odd(one)[0].segments, image_from(even).segments);
    EXPECT_EQ(split_even_odd(one)[1].segments, image_from(odd).segments);
    const std::vector<NamedImage> both{{"one", one}, {"two", two}};
    EXPECT_EQ(join(both, Clash::replace).segments, image_from(joined).segments);
    if (clashes) {
      EXPECT_THROW(join(both), InputError);
    } else {
      EXPECT_EQ(join(both).segments, image_from(joined).segments);
    }

    std::map<std::uint64_t, Difference::Kind> kinds;
    for (const auto& [address, byte] : joined) {
      if (!a.contains(address))
        kinds[address] = Difference::Kind::only_second;
      else if (!b.contains(address))
        kinds[address] = Difference::Kind::only_first;
      else if (a.at(address) != byte)
        kinds[address] = Difference::Kind::bytes;
    }
    std::vector<Difference> expected;
    for (const auto& [address, kind] : kinds) {
      const auto here = static_cast<std::uint32_t>(address);
      if (!expected.empty() && expected.back().kind == kind && expected.back().range.last + 1 == here) {
        expected.back().range.last = here;
      } else {
        expected.push_back({kind, {here, here}});
      }
    }
    ASSERT_EQ(compare(one, two), expected);
  }
}

}  // namespace
}  // namespace prewire::testing
