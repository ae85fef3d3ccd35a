#include <gtest/gtest.h>

#include "desk/panels/theme.h"

namespace prewire::front::desk {
namespace {

// WCAG 2.1 defines the ratio: black on white is 21, and equal colours have 1 (definition of "contrast ratio").
TEST(Contrast, FollowsItsDefinition) {
  EXPECT_NEAR(contrast(rgb(0x000000), rgb(0xFFFFFF)), 21, 1e-9);
  EXPECT_NEAR(contrast(rgb(0x123456), rgb(0x123456)), 1, 1e-9);
  // #767676 on white is known as the lightest grey with 4.5 (W3C, Understanding SC 1.4.3).
  EXPECT_GE(contrast(rgb(0x767676), rgb(0xFFFFFF)), 4.5);
  EXPECT_LT(contrast(rgb(0x777777), rgb(0xFFFFFF)), 4.5);
}

// Success criterion 1.4.6 (level AAA): at least 7 for text.
TEST(Theme, TextHasAContrastOfSeven) {
  for (const ThemeName name : {ThemeName::dark, ThemeName::light}) {
    const Theme& t = theme(name);
    const std::pair<Colour, Colour> pairs[] = {
        {t.text, t.ground},    {t.text, t.panel},   {t.muted, t.ground}, {t.muted, t.panel},
        {t.accent, t.ground},  {t.accent, t.panel}, {t.stop, t.panel},   {t.on_active, t.active},
        {t.on_write, t.write}, {t.on_stop, t.stop}, {t.on_row, t.row},   {t.row_accent, t.row},
        {t.on_key, t.key},     {t.on_well, t.well}, {t.muted, t.well},   {t.text, t.well}};
    for (const auto& [ink, ground] : pairs) {
      EXPECT_GE(contrast(ink, ground), 7) << static_cast<int>(name) << " pair " << (&ink - &pairs[0].first) / 2;
    }
  }
}

// Success criterion 1.4.11: at least 3 for what has to be told apart without letters.
TEST(Theme, LinesAndLampsHaveAContrastOfThree) {
  for (const ThemeName name : {ThemeName::dark, ThemeName::light}) {
    const Theme& t = theme(name);
    for (const Colour line : {t.high, t.low, t.unsure, t.active, t.stop}) EXPECT_GE(contrast(line, t.panel), 3);
    EXPECT_GE(contrast(t.lit, t.unlit), 3);
    EXPECT_GE(contrast(t.lit, t.glass), 3);
  }
}

}  // namespace
}  // namespace prewire::front::desk
