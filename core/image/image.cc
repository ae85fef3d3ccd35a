#include "prewire/image.h"

#include <fmt/format.h>

#include <array>
#include <numeric>
#include <system_error>
#include <utility>

#include "image/file_bytes.h"
#include "image/readers.h"

namespace prewire {

namespace {

constexpr std::size_t kMostBytes = std::size_t{16} << 20;

constexpr std::array<std::pair<ImageFormat, std::string_view>, 5> kFormats = {{{ImageFormat::automatic, "automatic"},
                                                                               {ImageFormat::s_record, "s-record"},
                                                                               {ImageFormat::intel_hex, "intel-hex"},
                                                                               {ImageFormat::binary, "binary"},
                                                                               {ImageFormat::key_in, "key-in"}}};

ImageFormat format_of(Reading& reading, const Line& line) {
  const std::string_view text = line.text;
  const bool s_record = (text[0] == 'S' || text[0] == 's') && text.size() > 1 && text[1] >= '0' && text[1] <= '9';
  if (s_record) return ImageFormat::s_record;
  if (text[0] == ':') return ImageFormat::intel_hex;
  if (looks_like_key_in(text)) return ImageFormat::key_in;
  reading.add({.id = "image-format",
               .weight = Weight::stop,
               .place = reading.at(line, 0),
               .what = "the format cannot be told from the content",
               .expected = "'S' and a digit (S-record), ':' (Intel HEX), or an address and ':' (key-in listing)",
               .found = quote(text),
               .hint = "state the format; raw binary also needs the address of its first byte"});
  return ImageFormat::automatic;
}

std::string read_file(const std::string& name) {
  FileBytes file = read_bytes(name, kMostBytes);
  if (!file.trouble.empty()) {
    throw InputError(Fault{.id = "image-unreadable",
                           .weight = Weight::stop,
                           .place = {.file = name},
                           .what = "the file cannot be read",
                           .found = file.trouble,
                           .hint = "check the path and the permissions"});
  }
  if (file.too_large) {
    throw InputError(Fault{.id = "image-too-large",
                           .weight = Weight::stop,
                           .place = {.file = name},
                           .what = "the file is too large for a program image",
                           .expected = "at most 16 MiB",
                           .found = "more",
                           .hint = "check that this is the right file"});
  }
  return std::move(file.bytes);
}

}  // namespace

std::uint64_t Image::size() const {
  return std::accumulate(segments.begin(), segments.end(), std::uint64_t{0},
                         [](std::uint64_t sum, const Segment& segment) { return sum + segment.bytes.size(); });
}

std::string_view to_string(ImageFormat format) {
  for (const auto& [value, name] : kFormats) {
    if (value == format) return name;
  }
  return "";
}

std::optional<ImageFormat> image_format(std::string_view name) {
  for (const auto& [value, known] : kFormats) {
    if (known == name) return value;
  }
  return std::nullopt;
}

Image read_image(std::string_view bytes, ImageFormat format, const std::string& name, std::uint32_t base) {
  Reading reading(bytes, name);
  if (format == ImageFormat::automatic) {
    if (const auto line = Reading(bytes, name).next_line()) format = format_of(reading, *line);
  }
  reading.image().format = format;
  switch (format) {
    case ImageFormat::automatic: break;  // empty or unknown: finish() says so
    case ImageFormat::s_record: read_s_record(reading); break;
    case ImageFormat::intel_hex: read_intel_hex(reading); break;
    case ImageFormat::key_in: read_key_in(reading); break;
    case ImageFormat::binary: {
      const std::vector<std::uint8_t> data(bytes.begin(), bytes.end());
      reading.add_data({}, 0, base, data);
      break;
    }
  }
  return std::move(reading).finish();
}

Image read_image_file(const std::filesystem::path& path, ImageFormat format, std::uint32_t base) {
  const std::string name = path.string();
  return read_image(read_file(name), format, name, base);
}

}  // namespace prewire
