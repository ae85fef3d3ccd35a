// What `prewire image` tells of images.
#pragma once

#include <string>
#include <vector>

#include "prewire/image_tools.h"

namespace prewire::front::cli {

/// Format, header, start address, addresses, sums. Without `all` long lists are cut.
std::string info_text(const NamedImage& named, bool all);
std::string info_json(const std::vector<NamedImage>& images);

/// Two images side by side.
struct Comparison {
  const NamedImage& first;
  const NamedImage& second;
  std::vector<Difference> differences;
  std::vector<CodeDifference> code;  ///< with a processor only
  bool with_code = false;

  /// Whether both name a start address, and not the same.
  bool other_entry() const {
    return first.image.entry && second.image.entry && first.image.entry != second.image.entry;
  }
  bool alike() const { return differences.empty() && !other_entry(); }
};

/// `cpu` is a processor type, or empty for bytes only.
Comparison compare_images(const NamedImage& first, const NamedImage& second, const std::string& cpu);
std::string comparison_text(const Comparison& comparison, bool all);
std::string comparison_json(const Comparison& comparison, bool all);

}  // namespace prewire::front::cli
