// Program images: reading and writing the trade's file formats. docs/images.md specifies the formats and lists every
// fault.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/error.h"

namespace prewire {

struct SourceMap;

enum class ImageFormat : std::uint8_t {
  automatic,  ///< by content: S-record, Intel HEX, key-in listing, else an error
  s_record,   ///< S0-S3, S5-S9 (Motorola)
  intel_hex,  ///< types 00-05 (Intel)
  binary,     ///< raw bytes at a base address that comes from outside
  key_in,     ///< lines of `address: byte byte ... ; comment`, as typed from a handout
};

/// A run of bytes at consecutive addresses.
struct Segment {
  std::uint32_t start = 0;
  std::vector<std::uint8_t> bytes;

  std::uint64_t end() const { return std::uint64_t{start} + bytes.size(); }  ///< one past the last address
  friend bool operator==(const Segment&, const Segment&) = default;
};

/// A program image, whatever the file looked like.
struct Image {
  std::string header;                  ///< text of the first S0 record, `.` for what is not printable ASCII; else empty
  std::vector<Segment> segments;       ///< ascending, disjoint, never adjacent
  std::optional<std::uint32_t> entry;  ///< start address, where the file names one
  std::vector<Fault> remarks;          ///< faults of weight `warn` and `hint`: the image can be used
  ImageFormat format = ImageFormat::automatic;  ///< that it was read from; `automatic` if it was made otherwise
  std::shared_ptr<const SourceMap> source;      ///< of a program that was assembled (prewire/assembler.h); else null

  std::uint64_t size() const;
};

/// "automatic", "s-record", "intel-hex", "binary" or "key-in".
std::string_view to_string(ImageFormat format);
/// The format with that name.
std::optional<ImageFormat> image_format(std::string_view name);

/// Reads an image. `name` is used in messages only. `base` is the address of the first byte of a `binary` image; other
/// formats bring their own addresses. Throws `InputError` with every fault of the file (line, column, checksum expected
/// and found), followed by the remarks; reading stops after 1000 faults.
Image read_image(std::string_view bytes, ImageFormat format, const std::string& name, std::uint32_t base = 0);

/// Reads a file; a file that cannot be read or is over 16 MiB is a fault too.
Image read_image_file(const std::filesystem::path& path, ImageFormat format, std::uint32_t base = 0);

/// The image as a file of that format, which must not be `automatic`. Records hold at most 16 bytes. An S-record file
/// has the header, and the start address if there is one. A `binary` holds all bytes from the first address to the last
/// and $FF between the segments; it must not span more than 16 MiB.
std::string write_image(const Image& image, ImageFormat format);

/// The format that a file name's extension stands for in the trade: `.s19`, `.srec`, `.mot`; `.hex`, `.ihx`; `.bin`;
/// `.key`. Case does not matter.
std::optional<ImageFormat> format_by_extension(const std::filesystem::path& path);

}  // namespace prewire
