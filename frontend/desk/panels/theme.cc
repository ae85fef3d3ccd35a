#include "theme.h"

#include <algorithm>
#include <cmath>

namespace prewire::front::desk {

namespace {

// Hues after "Color Universal Design" (2008), which most people tell apart.
constexpr Theme kDark = {.ground = rgb(0x0B0F14),
                         .panel = rgb(0x181E26),
                         .border = rgb(0x46515D),
                         .grid = rgb(0x333D48),
                         .text = rgb(0xF4F7FA),
                         .muted = rgb(0xB9C4CE),
                         .accent = rgb(0x6CC0F0),
                         .active = rgb(0x56B4E9),
                         .on_active = rgb(0x06121C),
                         .write = rgb(0xF0B020),
                         .on_write = rgb(0x171002),
                         .stop = rgb(0xFF8A70),
                         .on_stop = rgb(0x1D0602),
                         .row = rgb(0x1B4666),
                         .on_row = rgb(0xFFFFFF),
                         .row_accent = rgb(0xBFE4FB),
                         .key = rgb(0x323C47),
                         .on_key = rgb(0xFFFFFF),
                         .well = rgb(0x05080B),
                         .on_well = rgb(0xF4F7FA),
                         .high = rgb(0x56B4E9),
                         .low = rgb(0x6B7885),
                         .unsure = rgb(0xF0B020),
                         .lit = rgb(0xFF4A30),
                         .unlit = rgb(0x33110D),
                         .glass = rgb(0x120505),
                         .leds = {{{rgb(0x3A1512), rgb(0xFF5038)},
                                   {rgb(0x3A3110), rgb(0xFFD23C)},
                                   {rgb(0x10331F), rgb(0x3DDC84)},
                                   {rgb(0x14283F), rgb(0x5AA8FF)},
                                   {rgb(0x33373B), rgb(0xFFFFFF)}}}};

constexpr Theme kLight = {.ground = rgb(0xDFE5EA),
                          .panel = rgb(0xFCFDFE),
                          .border = rgb(0x8B97A3),
                          .grid = rgb(0xC9D1D8),
                          .text = rgb(0x0D141B),
                          .muted = rgb(0x3B4650),
                          .accent = rgb(0x004B80),
                          .active = rgb(0x004B80),
                          .on_active = rgb(0xFFFFFF),
                          .write = rgb(0xF0B020),
                          .on_write = rgb(0x171002),
                          .stop = rgb(0x8E1B06),
                          .on_stop = rgb(0xFFFFFF),
                          .row = rgb(0xCDE6F8),
                          .on_row = rgb(0x05121C),
                          .row_accent = rgb(0x00406E),
                          .key = rgb(0xE3E9EE),
                          .on_key = rgb(0x0D141B),
                          .well = rgb(0xEDF1F4),
                          .on_well = rgb(0x0D141B),
                          .high = rgb(0x0070B8),
                          .low = rgb(0x6B7885),
                          .unsure = rgb(0xB56A00),
                          .lit = rgb(0xFF4A30),
                          .unlit = rgb(0x33110D),
                          .glass = rgb(0x1A0807),
                          .leds = {{{rgb(0xD9C2BE), rgb(0xE8260C)},
                                    {rgb(0xDBD4BC), rgb(0xF2B200)},
                                    {rgb(0xC0D3C7), rgb(0x0C9E4C)},
                                    {rgb(0xC1CCDA), rgb(0x1F6FE0)},
                                    {rgb(0xB9C0C6), rgb(0xFFFFFF)}}}};

double luminance(Colour colour) {
  const auto linear = [](std::uint8_t channel) {
    const double c = channel / 255.0;
    return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * linear(colour.r) + 0.7152 * linear(colour.g) + 0.0722 * linear(colour.b);
}

}  // namespace

const Theme& theme(ThemeName name) { return name == ThemeName::dark ? kDark : kLight; }

double contrast(Colour a, Colour b) {
  const auto [darker, lighter] = std::minmax({luminance(a), luminance(b)});
  return (lighter + 0.05) / (darker + 0.05);
}

}  // namespace prewire::front::desk
