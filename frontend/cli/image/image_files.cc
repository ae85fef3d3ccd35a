#include "image_files.h"

#include <fmt/format.h>

#include <charconv>
#include <filesystem>
#include <system_error>

#include "shared/output.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

/// Where the '@' of an argument FILE@ADDRESS is; `npos` for a mere file, whose name may have one too.
std::size_t mark_of(const std::string& argument) {
  std::error_code error;
  return std::filesystem::exists(argument, error) ? std::string::npos : argument.rfind('@');
}

}  // namespace

std::optional<std::uint32_t> parse_hex(std::string_view text) {
  if (text.starts_with("0x") || text.starts_with("0X")) {
    text.remove_prefix(2);
  } else if (text.starts_with('$')) {
    text.remove_prefix(1);
  } else {
    return std::nullopt;
  }
  std::uint32_t value = 0;
  const char* const last = text.data() + text.size();
  const auto [end, error] = std::from_chars(text.data(), last, value, 16);
  if (error != std::errc{} || end != last || text.size() > 8) return std::nullopt;
  return value;
}

std::string file_of(const std::string& argument) { return argument.substr(0, mark_of(argument)); }

NamedImage read_named(const std::string& argument) {
  const std::size_t mark = mark_of(argument);
  const std::string file = argument.substr(0, mark);
  const std::optional<ImageFormat> by_name = format_by_extension(file);
  ImageFormat format = by_name == ImageFormat::binary ? ImageFormat::binary : ImageFormat::automatic;
  std::uint32_t base = 0;
  if (mark != std::string::npos) {
    const auto address = parse_hex(std::string_view(argument).substr(mark + 1));
    if (!address) {
      throw Trouble(Exit::usage, "there is no address after the '@' of a file",
                    "FILE@ADDRESS, such as dump.bin@0xF800 or 'dump.bin@$F800'", argument,
                    "a shell takes $ for its own unless it is in single quotes");
    }
    if (by_name && *by_name != ImageFormat::binary) {
      throw Trouble(Exit::usage, "only raw bytes need an address", "a file without addresses of its own", argument,
                    "--move changes the addresses of an image");
    }
    base = *address;
    format = ImageFormat::binary;
  }
  Image image =
      read_image_file(file, format, base, "of raw bytes write the first address behind the name: FILE@0xF800");
  for (const Fault& remark : image.remarks) message(to_string(remark));
  return {argument, std::move(image)};
}

ImageFormat parse_image_format(const std::string& name, bool or_automatic) {
  const auto format = image_format(name);
  if (format && (or_automatic || *format != ImageFormat::automatic)) return *format;
  std::vector<std::string> names{"automatic", "s-record", "intel-hex", "binary", "key-in"};
  if (!or_automatic) names.erase(names.begin());
  throw Trouble(Exit::usage, "there is no such format", list_of(names, "or"), name, meant(name, names));
}

Image read_image_file(const std::string& file, ImageFormat format, std::uint32_t base, const std::string& hint) {
  try {
    return prewire::read_image_file(file, format, base);
  } catch (const InputError& error) {
    Fault fault = error.faults().front();
    if (fault.id != "image-format") throw;
    fault.hint = hint;
    throw InputError(std::move(fault));
  }
}

ImageFormat output_format(const std::string& file, const std::string& name) {
  if (!name.empty()) return parse_image_format(name, false);
  if (const auto format = format_by_extension(file)) return *format;
  throw Trouble(Exit::usage, "the name of the image does not tell its format",
                ".s19, .srec or .mot (S-record), .hex or .ihx (Intel HEX), .bin (raw), .key (key-in listing)", file,
                "choose another name, or give --format");
}

void protect(const std::string& option, const std::string& file, const std::vector<std::string>& read,
             const std::string& what) {
  std::error_code error;
  for (const std::string& each : read) {
    if (std::filesystem::equivalent(file, each, error)) {
      throw Trouble(Exit::input, fmt::format("{} would replace {}", option, what), "another file", file);
    }
  }
}

std::string count_bytes(std::uint64_t count) { return fmt::format("{} {}", count, count == 1 ? "byte" : "bytes"); }

std::string describe(const Image& image) {
  std::string where;
  for (const Segment& segment : image.segments) {
    where += fmt::format("{}${:04X}-${:04X}", where.empty() ? "" : ", ", segment.start, segment.end() - 1);
    if (where.size() > 60) {
      where += " and more";
      break;
    }
  }
  return fmt::format("{} in {}", count_bytes(image.size()), where);
}

}  // namespace prewire::front::cli
