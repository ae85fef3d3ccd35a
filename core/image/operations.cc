// What changes images. Whatever fails says where, and changes nothing.
#include <fmt/format.h>

#include <utility>

#include "image/pieces.h"
#include "prewire/image_tools.h"

namespace prewire {

namespace {

constexpr std::uint64_t kMostSpan = std::uint64_t{16} << 20;

void check_span(std::uint64_t size, const std::string& name) {
  if (size <= kMostSpan) return;
  throw InputError(Fault{.id = "image-span",
                         .weight = Weight::stop,
                         .place = {.file = name},
                         .what = "the image would be too large without gaps",
                         .expected = "at most 16 MiB from the first address to the last",
                         .found = fmt::format("{} bytes", size),
                         .hint = "crop it, or move its parts together"});
}

/// All of `range`: `byte` where there is none.
std::vector<Segment> filled(const std::vector<Segment>& segments, const AddressRange& range, std::uint8_t byte) {
  const Segment ground{range.first, std::vector<std::uint8_t>(range.size(), byte)};
  return overlay({ground}, segments);
}

std::vector<std::uint8_t> low_halves(const std::vector<std::uint8_t>& bytes, int shift) {
  std::vector<std::uint8_t> halves(bytes);
  for (std::uint8_t& byte : halves) byte = static_cast<std::uint8_t>(byte >> shift & 0x0F);
  return halves;
}

/// A copy that holds no bytes, and no start address: a chip that holds half of each word cannot start.
Image without_bytes(const Image& image) {
  Image copy;
  copy.header = image.header;
  return copy;
}

}  // namespace

std::string to_string(const AddressRange& range) { return fmt::format("${:04X}-${:04X}", range.first, range.last); }

std::optional<AddressRange> span_of(const Image& image) {
  if (image.segments.empty()) return std::nullopt;
  return AddressRange{image.segments.front().start, static_cast<std::uint32_t>(image.segments.back().end() - 1)};
}

std::span<const std::uint8_t> bytes_in(const Image& image, const AddressRange& range) {
  const auto after =
      std::upper_bound(image.segments.begin(), image.segments.end(), range.first,
                       [](std::uint32_t address, const Segment& segment) { return address < segment.start; });
  if (after == image.segments.begin() || (after - 1)->end() <= range.last) return {};
  const Segment& segment = *(after - 1);
  return std::span(segment.bytes).subspan(range.first - segment.start, range.size());
}

Image crop(Image image, const AddressRange& range) {
  std::vector<Segment> kept;
  for (const Segment& segment : image.segments) {
    const std::uint64_t from = std::max<std::uint64_t>(segment.start, range.first);
    const std::uint64_t end = std::min(segment.end(), std::uint64_t{range.last} + 1);
    if (from >= end) continue;
    append(kept, static_cast<std::uint32_t>(from), std::span(segment.bytes).subspan(from - segment.start, end - from));
  }
  image.segments = std::move(kept);
  if (image.entry && !range.contains(*image.entry)) image.entry.reset();
  return image;
}

Image move(Image image, std::int64_t distance, const std::string& name) {
  const auto moved = [&](std::uint32_t address, const char* what) {
    // Neither sum overflows: an address has 32 bits, and larger distances are out of range whatever the address.
    constexpr std::int64_t kMost = 0xFFFFFFFF;
    const std::int64_t target = distance > kMost || distance < -kMost ? -1 : std::int64_t{address} + distance;
    if (target >= 0 && target <= kMost) return static_cast<std::uint32_t>(target);
    const std::uint64_t by =
        distance < 0 ? 0 - static_cast<std::uint64_t>(distance) : static_cast<std::uint64_t>(distance);
    throw InputError(
        Fault{.id = "move-range",
              .weight = Weight::stop,
              .place = {.file = name},
              .what = fmt::format("{} would leave the address space", what),
              .expected = "addresses from $0000 to $FFFFFFFF",
              .found = fmt::format("${:04X} moved {} by ${:04X}", address, distance < 0 ? "down" : "up", by),
              .hint = "move by less, or crop first; it does not go on at the other end"});
  };
  for (Segment& segment : image.segments) {
    moved(static_cast<std::uint32_t>(segment.end() - 1), "a byte");
    segment.start = moved(segment.start, "a byte");
  }
  if (image.entry) image.entry = moved(*image.entry, "the start address");
  return image;
}

Image fill(Image image, std::uint8_t byte, const std::string& name) {
  const std::optional<AddressRange> span = span_of(image);
  if (!span) return image;
  check_span(span->size(), name);
  image.segments = filled(image.segments, *span, byte);
  return image;
}

Image pad(Image image, const AddressRange& range, std::uint8_t byte, const std::string& name) {
  check_span(range.size(), name);
  if (const auto span = span_of(image); span && !(range.contains(span->first) && range.contains(span->last))) {
    const std::uint32_t outside = !range.contains(span->first) ? span->first : span->last;
    throw InputError(Fault{.id = "pad-outside",
                           .weight = Weight::stop,
                           .place = {.file = name},
                           .what = fmt::format("a byte lies outside {}", to_string(range)),
                           .expected = "all bytes in that range",
                           .found = fmt::format("${:04X}", outside),
                           .hint = "crop the image to the range first, or move it there"});
  }
  image.segments = filled(image.segments, range, byte);
  return image;
}

AddressRange block_of(const Image& image, std::uint32_t size, const std::string& name) {
  const std::optional<AddressRange> span = span_of(image);
  if (span && span->first / size == span->last / size) {
    const std::uint32_t first = span->first / size * size;
    return {first, first + (size - 1)};
  }
  throw InputError(Fault{
      .id = "chip-outside",
      .weight = Weight::stop,
      .place = {.file = name},
      .what = span ? "the image does not fit in the chip" : "there is no byte for the chip",
      .expected = fmt::format("bytes in one block of ${:04X} addresses, from a multiple of ${:04X} on", size, size),
      .found = span ? to_string(*span) : "none",
      .hint = "crop the image to the chip's addresses, or move it"});
}

std::array<Image, 2> split_even_odd(const Image& image) {
  std::array<Image, 2> halves{without_bytes(image), without_bytes(image)};
  for (const Segment& segment : image.segments) {
    std::array<std::vector<std::uint8_t>, 2> bytes;
    for (std::size_t i = 0; i < segment.bytes.size(); ++i) bytes[(segment.start + i) % 2].push_back(segment.bytes[i]);
    for (std::uint32_t half = 0; half < 2; ++half) {
      // An odd first byte is for the other chip: the even one gets what follows.
      const std::uint32_t first = segment.start / 2 + (half == 0 ? segment.start % 2 : 0);
      append(halves[half].segments, first, bytes[half]);
    }
  }
  return halves;
}

std::array<Image, 2> split_nibbles(const Image& image) {
  std::array<Image, 2> halves{without_bytes(image), without_bytes(image)};
  for (const Segment& segment : image.segments) {
    halves[0].segments.push_back({segment.start, low_halves(segment.bytes, 0)});
    halves[1].segments.push_back({segment.start, low_halves(segment.bytes, 4)});
  }
  return halves;
}

}  // namespace prewire
