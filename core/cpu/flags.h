// Condition codes that the MC6800 and the MC6809 compute alike. Bits as in both data sheets: H I N Z V C from bit 5
// down.
#pragma once

#include <array>
#include <cstdint>

namespace prewire::flags {

inline constexpr std::uint32_t kC = 1, kV = 2, kZ = 4, kN = 8, kI = 16, kH = 32;

/// N and Z of every byte: a look-up is quicker than working them out.
inline constexpr auto kNz = [] {
  std::array<std::uint8_t, 256> table{};
  for (std::uint32_t byte = 0; byte < 256; ++byte) {
    table[byte] = static_cast<std::uint8_t>((byte >> 4 & kN) | (byte == 0 ? kZ : 0));
  }
  return table;
}();

/// N and Z of an 8-bit result; higher bits of `result` are ignored.
constexpr std::uint32_t nz8(std::uint32_t result) { return kNz[result & 0xFF]; }

constexpr std::uint32_t nz16(std::uint32_t result) { return (result >> 12 & kN) | ((result & 0xFFFF) == 0 ? kZ : 0); }

/// V and C of `x` plus or minus `m` with the 8-bit `result` not yet cut to eight bits. Bit n of x ^ m ^ result is the
/// carry or borrow into bit n: V is the carry into bit 7 against the one out of it.
constexpr std::uint32_t vc8(std::uint32_t x, std::uint32_t m, std::uint32_t result) {
  const std::uint32_t carries = x ^ m ^ result;
  return (carries >> 8 & kC) | ((carries >> 6 ^ carries >> 7) & kV);
}

/// The same for sixteen bits.
constexpr std::uint32_t vc16(std::uint32_t x, std::uint32_t m, std::uint32_t result) {
  const std::uint32_t carries = x ^ m ^ result;
  return (carries >> 16 & kC) | ((carries >> 14 ^ carries >> 15) & kV);
}

/// H of an addition.
constexpr std::uint32_t h8(std::uint32_t x, std::uint32_t m, std::uint32_t result) {
  return (x ^ m ^ result) << 1 & kH;
}

/// What DAA adds to `a` (M6800 Programming Reference Manual, appendix A, DAA).
constexpr std::uint32_t decimal_correction(std::uint32_t a, std::uint32_t cc) {
  std::uint32_t correction = 0;
  if ((cc & kH) || (a & 0x0F) > 9) correction |= 0x06;
  if ((cc & kC) || a > 0x99) correction |= 0x60;
  return correction;
}

}  // namespace prewire::flags
