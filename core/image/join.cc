// Several images made one, and what is to be said about it.
#include <fmt/format.h>

#include <utility>

#include "image/pieces.h"
#include "prewire/image_tools.h"

namespace prewire {

namespace {

/// What two images have both.
struct Shared {
  std::uint64_t same = 0, different = 0;
  std::uint32_t first_same = 0, first_different = 0;
  std::uint8_t early = 0, late = 0;  // at first_different
};

Shared shared_by(const Image& early, const Image& late) {
  Shared shared;
  for_each_piece(early.segments, late.segments, [&](const Piece& piece) {
    for (std::size_t i = 0; i < std::min(piece.first.size(), piece.second.size()); ++i) {
      const std::uint32_t address = piece.start + static_cast<std::uint32_t>(i);
      if (piece.first[i] == piece.second[i]) {
        if (shared.same++ == 0) shared.first_same = address;
      } else if (shared.different++ == 0) {
        shared.first_different = address;
        shared.early = piece.first[i];
        shared.late = piece.second[i];
      }
    }
  });
  return shared;
}

Fault clash(const NamedImage& early, const NamedImage& late, const Shared& shared) {
  return {.id = "join-clash",
          .weight = Weight::stop,
          .place = {.file = late.name},
          .what = fmt::format("another byte for ${:04X} than in {}", shared.first_different, early.name),
          .expected = fmt::format("${:02X}, as in {}", shared.early, early.name),
          .found = shared.different == 1 ? fmt::format("${:02X}", shared.late)
                                         : fmt::format("${:02X}; {} bytes clash in all", shared.late, shared.different),
          .hint = "crop or move one of the images, or say that the later one replaces the earlier"};
}

Fault replaced(const NamedImage& early, const NamedImage& late, const Shared& shared) {
  return {.id = "join-replaced",
          .weight = Weight::warn,
          .place = {.file = late.name},
          .what = fmt::format("replaces {} of {}, the first at ${:04X}: ${:02X} by ${:02X}",
                              counted(shared.different, "byte"), early.name, shared.first_different, shared.early,
                              shared.late)};
}

Fault repeated(const NamedImage& early, const NamedImage& late, const Shared& shared) {
  return {.id = "join-repeat",
          .weight = Weight::hint,
          .place = {.file = late.name},
          .what = fmt::format("gives {} again, with the same value as {}, the first at ${:04X}",
                              counted(shared.same, "byte"), early.name, shared.first_same),
          .hint = "check that both files belong here"};
}

Fault other_entry(const NamedImage& late, std::uint32_t kept, const std::string& of) {
  return {.id = "join-entry",
          .weight = Weight::warn,
          .place = {.file = late.name},
          .what = "a second start address is not used",
          .expected = fmt::format("${:04X}, as in {}", kept, of),
          .found = fmt::format("${:04X}", *late.image.entry),
          .hint = "put the image with the start address that you want first"};
}

}  // namespace

Image join(std::span<const NamedImage> images, Clash policy) {
  Image whole;
  std::vector<Fault> faults;
  std::string entry_from;
  for (std::size_t late = 0; late < images.size(); ++late) {
    const NamedImage& next = images[late];
    for (std::size_t early = 0; early < late; ++early) {
      const Shared shared = shared_by(images[early].image, next.image);
      if (shared.different > 0 && policy == Clash::fault) faults.push_back(clash(images[early], next, shared));
      if (shared.different > 0 && policy == Clash::replace) {
        whole.remarks.push_back(replaced(images[early], next, shared));
      }
      if (shared.same > 0) whole.remarks.push_back(repeated(images[early], next, shared));
    }
    whole.segments = overlay(whole.segments, next.image.segments);
    if (whole.header.empty()) whole.header = next.image.header;
    if (next.image.entry && !whole.entry) {
      whole.entry = next.image.entry;
      entry_from = next.name;
    } else if (next.image.entry && next.image.entry != whole.entry) {
      whole.remarks.push_back(other_entry(next, *whole.entry, entry_from));
    }
  }
  if (!faults.empty()) throw InputError(std::move(faults));
  return whole;
}

}  // namespace prewire
