// What the image tests share: a whole image, or what was wrong with it, as text that can be compared.
#pragma once

#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

#include "paths.h"
#include "prewire/image.h"

namespace prewire::testing {

inline std::string dump(const Image& image) {
  std::string text;
  if (!image.header.empty()) text += "header " + image.header + "\n";
  for (const Segment& segment : image.segments) {
    text += fmt::format("${:04X}:", segment.start);
    for (const std::uint8_t byte : segment.bytes) text += fmt::format(" {:02X}", byte);
    text += '\n';
  }
  if (image.entry) text += fmt::format("entry ${:04X}\n", *image.entry);
  for (const Fault& remark : image.remarks) text += to_string(remark);
  return text;
}

/// The dump of the image, or the text of the `InputError`.
inline std::string outcome(std::string_view bytes, ImageFormat format, const std::string& name,
                           std::uint32_t base = 0) {
  try {
    return dump(read_image(bytes, format, name, base));
  } catch (const InputError& error) {
    return error.what();
  }
}

/// `line: id` of each fault of an input that must not be accepted.
inline std::string fault_ids(std::string_view bytes, ImageFormat format) {
  try {
    return "accepted:\n" + dump(read_image(bytes, format, "input"));
  } catch (const InputError& error) {
    std::string text;
    for (const Fault& fault : error.faults()) text += fmt::format("{}: {}\n", fault.place.line, fault.id);
    return text;
  }
}

inline std::string slurp(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot open " + path.string());
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void spill(const std::filesystem::path& path, std::string_view bytes) {
  std::ofstream out(path, std::ios::binary);
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  if (!out.flush()) throw std::runtime_error("cannot write " + path.string());
}

inline std::filesystem::path sample_path(const std::string& name) { return test_data() / "images" / name; }

inline std::string sample(const std::string& name) { return slurp(sample_path(name)); }

inline Image image_of(std::vector<Segment> segments) {
  Image image;
  image.segments = std::move(segments);
  return image;
}

/// What every image promises, whatever it was read from; empty if all holds.
inline std::string broken_promise(const Image& image) {
  if (image.segments.empty()) return "no segments";
  std::uint64_t free_from = 0;
  std::uint64_t size = 0;
  for (const Segment& segment : image.segments) {
    if (segment.bytes.empty()) return "an empty segment";
    if (segment.start < free_from) return "segments out of order, or touching";
    if (segment.end() > std::uint64_t{1} << 32) return "a segment past $FFFFFFFF";
    free_from = segment.end() + 1;
    size += segment.bytes.size();
  }
  if (size != image.size()) return "a wrong size";
  for (const Fault& remark : image.remarks) {
    if (remark.weight == Weight::stop) return "a remark that should have been thrown";
  }
  return "";
}

}  // namespace prewire::testing
