// Sums and cyclic redundancy checks.
#include <array>

#include "prewire/image_tools.h"

namespace prewire {

namespace {

// XMODEM is the polynomial of ITU-T V.41 as the file transfer protocol of that name uses it; IBM-3740 the same from a
// register of ones, as on a floppy disk; ARC an archiver's; ISO-HDLC that of ITU-T V.42 (8.1.1.6.2) and IEEE 802.3.
constexpr std::array<Crc, 4> kCrcs{{
    {.name = "CRC-16/XMODEM", .width = 16, .polynomial = 0x1021, .check = 0x31C3},
    {.name = "CRC-16/IBM-3740", .width = 16, .polynomial = 0x1021, .initial = 0xFFFF, .check = 0x29B1},
    {.name = "CRC-16/ARC", .width = 16, .polynomial = 0x8005, .reflected = true, .check = 0xBB3D},
    {.name = "CRC-32/ISO-HDLC",
     .width = 32,
     .polynomial = 0x04C11DB7,
     .initial = 0xFFFFFFFF,
     .reflected = true,
     .final = 0xFFFFFFFF,
     .check = 0xCBF43926},
}};

std::uint32_t reversed(std::uint32_t value, unsigned width) {
  std::uint32_t result = 0;
  for (unsigned bit = 0; bit < width; ++bit) result |= (value >> bit & 1U) << (width - 1 - bit);
  return result;
}

/// What eight shifts make of the register's byte, for each value of it. A reflected check keeps its register reversed.
std::array<std::uint32_t, 256> table_of(const Crc& crc) {
  std::array<std::uint32_t, 256> table{};
  const std::uint32_t top = std::uint32_t{1} << (crc.width - 1);
  const std::uint32_t turned = reversed(crc.polynomial, crc.width);
  for (std::uint32_t byte = 0; byte < table.size(); ++byte) {
    std::uint32_t value = crc.reflected ? byte : byte << (crc.width - 8);
    for (int shift = 0; shift < 8; ++shift) {
      if (crc.reflected) {
        value = value >> 1 ^ ((value & 1U) != 0 ? turned : 0);
      } else {
        value = value << 1 ^ ((value & top) != 0 ? crc.polynomial : 0);
      }
    }
    table[byte] = value;
  }
  return table;
}

std::uint64_t sum(const Image& image) {
  std::uint64_t total = 0;
  for (const Segment& segment : image.segments) {
    for (const std::uint8_t byte : segment.bytes) total += byte;
  }
  return total;
}

}  // namespace

std::span<const Crc> known_crcs() { return kCrcs; }

std::uint8_t sum8(const Image& image) { return static_cast<std::uint8_t>(sum(image)); }

std::uint16_t sum16(const Image& image) { return static_cast<std::uint16_t>(sum(image)); }

std::uint32_t crc_of(const Image& image, const Crc& crc) {
  const std::array<std::uint32_t, 256> table = table_of(crc);
  const std::uint32_t mask = 0xFFFFFFFFU >> (32 - crc.width);
  std::uint32_t value = crc.reflected ? reversed(crc.initial, crc.width) : crc.initial;
  for (const Segment& segment : image.segments) {
    for (const std::uint8_t byte : segment.bytes) {
      if (crc.reflected) {
        value = value >> 8 ^ table[(value ^ byte) & 0xFF];
      } else {
        value = value << 8 ^ table[(value >> (crc.width - 8) ^ byte) & 0xFF];
      }
    }
  }
  return (value ^ crc.final) & mask;
}

}  // namespace prewire
