// Images as commands read, name and write them.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/image.h"
#include "prewire/image_tools.h"

namespace prewire::front::cli {

/// "0xF800" or "$F800": one to eight hex digits.
std::optional<std::uint32_t> parse_hex(std::string_view text);

/// Reads FILE, or FILE@ADDRESS for raw bytes from that address on; its remarks become messages. Throws `Trouble` and
/// `InputError`.
NamedImage read_named(const std::string& argument);
/// The file that such an argument names.
std::string file_of(const std::string& argument);

/// The format that the word names; `automatic` only if asked for. Throws `Trouble`.
ImageFormat parse_image_format(const std::string& name, bool or_automatic);

/// As `read_image_file`; where the format cannot be told, `hint` says how to name it.
Image read_image_file(const std::string& file, ImageFormat format, std::uint32_t base, const std::string& hint);

/// The format that `format` names or, if that is empty, the name of the file. Throws `Trouble`.
ImageFormat output_format(const std::string& file, const std::string& format);

/// No file that was read is written: throws `Trouble` if `file` is one of `read`, which messages call `what`.
void protect(const std::string& option, const std::string& file, const std::vector<std::string>& read,
             const std::string& what);

/// "128 bytes".
std::string count_bytes(std::uint64_t count);
/// "128 bytes in $F800-$F877, $FFF8-$FFFF".
std::string describe(const Image& image);

}  // namespace prewire::front::cli
