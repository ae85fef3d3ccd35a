// What the command line of `prewire image` asks for.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "prewire/image_tools.h"

namespace prewire::front::cli {

struct ImageOptions {
  std::string task, crop, move, pad, fill, chip, format, cpu;
  std::vector<std::string> files, outputs;
  bool even_odd = false, nibbles = false, replace = false, json = false, all = false;
};

/// The options that change an image, as values.
struct ImageChanges {
  std::optional<AddressRange> crop, pad;
  std::optional<std::int64_t> move;
  std::optional<std::uint8_t> fill;
  std::optional<std::uint32_t> chip;  ///< its size

  /// What fills what nobody gives.
  std::uint8_t ground() const { return fill.value_or(0xFF); }
};

/// Throws `Trouble` unless the task exists and the options and files go with it.
void check_task(const ImageOptions& options);
/// Throws `Trouble` for a value that cannot be read.
ImageChanges parse_changes(const ImageOptions& options);

/// The names that `--chip` takes: ROM types.
std::vector<std::string> rom_types();

/// Crops, moves, pads and fills. Throws `InputError`, or `Trouble` if nothing is left.
NamedImage change(NamedImage named, const ImageChanges& changes);
/// Fills the chip, if one is named.
NamedImage put_in_chip(NamedImage named, const ImageChanges& changes);

}  // namespace prewire::front::cli
