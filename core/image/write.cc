// Writing program images. docs/images.md specifies the formats.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cassert>
#include <iterator>
#include <string_view>
#include <utility>

#include "prewire/image.h"

namespace prewire {

namespace {

constexpr std::size_t kMostInRecord = 16;
constexpr std::uint8_t kErased = 0xFF;  // an EPROM's cell that nobody has programmed

/// Calls `write(address, bytes)` for pieces of at most 16 bytes that end at multiples of 16.
template <typename Write>
void for_each_record(const Image& image, Write write) {
  for (const Segment& segment : image.segments) {
    for (std::size_t at = 0; at < segment.bytes.size();) {
      const std::uint32_t address = segment.start + static_cast<std::uint32_t>(at);
      const std::size_t count = std::min(segment.bytes.size() - at, kMostInRecord - address % kMostInRecord);
      write(address, segment.bytes.data() + at, count);
      at += count;
    }
  }
}

std::uint32_t last_address(const Image& image) {
  return image.segments.empty() ? 0 : static_cast<std::uint32_t>(image.segments.back().end() - 1);
}

/// The low eight bits in two digits.
void add_hex(std::string& text, unsigned value) {
  constexpr std::string_view kDigits = "0123456789ABCDEF";
  text += kDigits[value >> 4 & 15];
  text += kDigits[value & 15];
}

class SRecordWriter {
 public:
  std::string write(const Image& image) {
    const std::uint32_t last = std::max(last_address(image), image.entry.value_or(0));
    const int width = last <= 0xFFFF ? 2 : last <= 0xFFFFFF ? 3 : 4;
    std::size_t all = 0;
    for (const Segment& segment : image.segments) all += segment.bytes.size();
    text_.reserve(3 * all + 256);
    record('0', 2, 0, reinterpret_cast<const std::uint8_t*>(image.header.data()),
           std::min(image.header.size(), std::size_t{64}));
    for_each_record(image, [&](std::uint32_t address, const std::uint8_t* bytes, std::size_t count) {
      record(static_cast<char>('1' + width - 2), width, address, bytes, count);
    });
    record(static_cast<char>('9' - (width - 2)), width, image.entry.value_or(0), nullptr, 0);
    return std::move(text_);
  }

 private:
  void byte(unsigned value) {
    sum_ += value;
    add_hex(text_, value);
  }
  void record(char type, int width, std::uint32_t address, const std::uint8_t* bytes, std::size_t count) {
    text_ += 'S';
    text_ += type;
    sum_ = 0;
    byte(static_cast<unsigned>(count) + static_cast<unsigned>(width) + 1);
    for (int shift = 8 * (width - 1); shift >= 0; shift -= 8) byte(address >> shift & 0xFF);
    for (std::size_t i = 0; i < count; ++i) byte(bytes[i]);
    add_hex(text_, ~sum_);
    text_ += '\n';
  }

  std::string text_;
  unsigned sum_ = 0;
};

class IntelHexWriter {
 public:
  std::string write(const Image& image) {
    for_each_record(image, [&](std::uint32_t address, const std::uint8_t* bytes, std::size_t count) {
      if (address >> 16 != upper_) {
        upper_ = address >> 16;
        const std::array<std::uint8_t, 2> data{static_cast<std::uint8_t>(upper_ >> 8),
                                               static_cast<std::uint8_t>(upper_)};
        record(0, 4, data.data(), data.size());
      }
      record(address & 0xFFFF, 0, bytes, count);
    });
    const bool small = image.entry && *image.entry <= 0xFFFF && last_address(image) <= 0xFFFF;
    if (image.entry && !small) {
      std::array<std::uint8_t, 4> data{};
      for (std::size_t i = 0; i < 4; ++i) data[i] = static_cast<std::uint8_t>(*image.entry >> (24 - 8 * i));
      record(0, 5, data.data(), data.size());
    }
    record(small ? *image.entry : 0, 1, nullptr, 0);
    return std::move(text_);
  }

 private:
  void byte(unsigned value) {
    sum_ += value;
    add_hex(text_, value);
  }
  void record(std::uint32_t address, unsigned type, const std::uint8_t* bytes, std::size_t count) {
    text_ += ':';
    sum_ = 0;
    byte(static_cast<unsigned>(count));
    byte(address >> 8 & 0xFF);
    byte(address & 0xFF);
    byte(type);
    for (std::size_t i = 0; i < count; ++i) byte(bytes[i]);
    add_hex(text_, 0U - sum_);
    text_ += '\n';
  }

  std::string text_;
  unsigned sum_ = 0;
  std::uint32_t upper_ = 0;
};

std::string write_binary(const Image& image) {
  std::string bytes;
  for (const Segment& segment : image.segments) {
    const std::size_t from = segment.start - image.segments.front().start;
    assert(from < std::size_t{16} << 20);
    bytes.resize(from, static_cast<char>(kErased));
    bytes.append(segment.bytes.begin(), segment.bytes.end());
  }
  return bytes;
}

std::string write_key_in(const Image& image) {
  std::string text;
  if (!image.header.empty()) text += "; " + image.header + "\n";
  for_each_record(image, [&](std::uint32_t address, const std::uint8_t* bytes, std::size_t count) {
    fmt::format_to(std::back_inserter(text), "{:04X}:", address);
    for (std::size_t i = 0; i < count; ++i) fmt::format_to(std::back_inserter(text), " {:02X}", bytes[i]);
    text += '\n';
  });
  return text;
}

}  // namespace

std::string write_image(const Image& image, ImageFormat format) {
  switch (format) {
    case ImageFormat::automatic: break;
    case ImageFormat::s_record: return SRecordWriter().write(image);
    case ImageFormat::intel_hex: return IntelHexWriter().write(image);
    case ImageFormat::binary: return write_binary(image);
    case ImageFormat::key_in: return write_key_in(image);
  }
  assert(false);
  return "";
}

std::optional<ImageFormat> format_by_extension(const std::filesystem::path& path) {
  constexpr std::array<std::pair<std::string_view, ImageFormat>, 7> kExtensions{{{".s19", ImageFormat::s_record},
                                                                                 {".srec", ImageFormat::s_record},
                                                                                 {".mot", ImageFormat::s_record},
                                                                                 {".hex", ImageFormat::intel_hex},
                                                                                 {".ihx", ImageFormat::intel_hex},
                                                                                 {".bin", ImageFormat::binary},
                                                                                 {".key", ImageFormat::key_in}}};
  std::string extension = path.extension().string();
  for (char& c : extension) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  for (const auto& [known, format] : kExtensions) {
    if (known == extension) return format;
  }
  return std::nullopt;
}

}  // namespace prewire
