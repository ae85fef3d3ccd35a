// What is done with program images before they go into a chip, and after: cropped, moved, filled, padded, joined,
// split, summed, compared. docs/images.md describes the operations and lists every fault.
//
// An image keeps what prewire/image.h promises: segments ascending, disjoint, never adjacent; here it may also be
// empty. `name` is used in messages only.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/address_range.h"
#include "prewire/cpu.h"
#include "prewire/image.h"

namespace prewire {

/// From the lowest address to the highest; nothing for an empty image.
std::optional<AddressRange> span_of(const Image& image);

/// The bytes of all addresses of `range`; empty unless the image has them all.
std::span<const std::uint8_t> bytes_in(const Image& image, const AddressRange& range);

/// What lies in `range`, if anything. A start address elsewhere is dropped.
Image crop(Image image, const AddressRange& range);

/// All addresses higher by `distance`, the start address too. Throws `InputError` if one leaves $0-$FFFFFFFF: it does
/// not go on at the other end.
Image move(Image image, std::int64_t distance, const std::string& name);

/// `byte` in all gaps, so that one segment is left. Throws `InputError` if it would span more than 16 MiB.
Image fill(Image image, std::uint8_t byte, const std::string& name);

/// One segment that is `range`: `byte` where there was none. Throws `InputError` if a byte lies elsewhere, or for a
/// range of more than 16 MiB.
Image pad(Image image, const AddressRange& range, std::uint8_t byte, const std::string& name);

/// The addresses of a chip that holds the image: `size` of them (a power of two), the first a multiple of `size`, as
/// the chip's address lines see them. Throws `InputError` if no such block holds all bytes, or for an empty image.
AddressRange block_of(const Image& image, std::uint32_t size, const std::string& name);

/// An image to join, with the name for messages.
struct NamedImage {
  std::string name;
  Image image;
};

/// What happens where two images give different bytes for an address.
enum class Clash : std::uint8_t {
  fault,    ///< an `InputError` with the first such address of every two images
  replace,  ///< the later image's byte counts, and a remark says where
};

/// One image of all. Addresses that several images give with the same byte are a remark. Header and start address come
/// from the first image that has one; another start address is a remark. Remarks of the images themselves are dropped.
Image join(std::span<const NamedImage> images, Clash clash = Clash::fault);

/// For two chips side by side on a 16-bit bus: bytes of even addresses, bytes of odd addresses, each at half its
/// address. One of them may be empty. Without start address.
std::array<Image, 2> split_even_odd(const Image& image);

/// For two 4-bit chips side by side: D0-D3, then D4-D7. Each byte keeps its address and holds four bits in its low
/// half; its high half is 0. Without start address.
std::array<Image, 2> split_nibbles(const Image& image);

/// A cyclic redundancy check, by the parameters that define it.
struct Crc {
  std::string_view name;
  unsigned width = 16;        ///< bits, 8 to 32
  std::uint32_t polynomial;   ///< without its highest term, highest power in the highest bit
  std::uint32_t initial = 0;  ///< of the register
  bool reflected = false;     ///< the lowest bit of each byte comes first, and the result is turned round
  std::uint32_t final = 0;    ///< XORed to the result
  std::uint32_t check = 0;    ///< of the nine ASCII bytes "123456789"
};

/// The ones that Prewire names: CRC-16/XMODEM, CRC-16/IBM-3740, CRC-16/ARC and CRC-32/ISO-HDLC.
std::span<const Crc> known_crcs();

/// Over all bytes in the order of their addresses; gaps do not count.
std::uint8_t sum8(const Image& image);                     ///< low 8 bits of the sum of all bytes
std::uint16_t sum16(const Image& image);                   ///< low 16 bits of the sum of all bytes
std::uint32_t crc_of(const Image& image, const Crc& crc);  ///< `crc.width` bits

/// A run of addresses where two images are not alike in one way.
struct Difference {
  enum class Kind : std::uint8_t {
    bytes,        ///< both have bytes, and each is another
    only_first,   ///< the second has none
    only_second,  ///< the first has none
  };
  Kind kind = Kind::bytes;
  AddressRange range;
  friend bool operator==(const Difference&, const Difference&) = default;
};

/// All of them, ascending, each as long as it can be; start addresses do not count.
std::vector<Difference> compare(const Image& first, const Image& second);

/// An instruction as one image has it, or bytes that make none.
struct ComparedCode {
  std::uint32_t address = 0;
  std::vector<std::uint8_t> bytes;  ///< 1 to 5
  std::string text;                 ///< `LDAA $4001`; empty for bytes above $FFFF
};

/// One difference or several, widened to whole instructions, as both sides have them.
struct CodeDifference {
  AddressRange range;                ///< of whole instructions, on both sides
  std::vector<ComparedCode> first;   ///< ascending
  std::vector<ComparedCode> second;  ///< ascending
};

/// Reads one instruction, as `disassemble` of prewire/cpu.h for some processor does.
using Disassembler = std::function<Disassembly(std::uint16_t address, std::span<const std::uint8_t> code)>;

/// `differences`, which are those of `compare`, as instructions. Each side is read from the start of each of its
/// segments on, one instruction after the other, data as well; a difference ends where both sides are at the start of
/// an instruction again.
std::vector<CodeDifference> compare_code(const Image& first, const Image& second,
                                         std::span<const Difference> differences, const Disassembler& disassembler);

}  // namespace prewire
