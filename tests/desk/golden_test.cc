// A few whole pictures, drawn without a screen. On purpose few: what a panel says is tested by its view and its calls.
#include <SDL.h>
#include <gtest/gtest.h>
#include <png.h>

#include <cstdlib>

#include "desk/paint/picture.h"
#include "desk/paint/sdl_painter.h"
#include "desk_testing.h"

namespace prewire::front::desk {
namespace {

struct Pixels {
  int w = 0, h = 0;
  std::vector<std::uint8_t> rgb;
};

Pixels read_png(const std::filesystem::path& file) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  Pixels pixels;
  if (png_image_begin_read_from_file(&image, file.c_str()) == 0) return pixels;
  image.format = PNG_FORMAT_RGB;
  pixels.w = static_cast<int>(image.width);
  pixels.h = static_cast<int>(image.height);
  pixels.rgb.resize(PNG_IMAGE_SIZE(image));
  png_image_finish_read(&image, nullptr, pixels.rgb.data(), 0, nullptr);
  return pixels;
}

/// How many pixels differ by more than 16 in a channel; all of them if the sizes differ.
int differing(const Pixels& a, const Pixels& b) {
  if (a.w != b.w || a.h != b.h) return std::max(a.w * a.h, b.w * b.h);
  int count = 0;
  for (std::size_t i = 0; i < a.rgb.size(); i += 3) {
    int most = 0;
    for (std::size_t c = 0; c < 3; ++c) most = std::max(most, std::abs(a.rgb[i + c] - b.rgb[i + c]));
    if (most > 16) ++count;
  }
  return count;
}

struct Golden {
  const char* name;
  Look look;
  ThemeName theme;
  Size size;
  const char* net = "";
};

class Pictures : public ::testing::TestWithParam<Golden> {};

TEST_P(Pictures, LookAsBefore) {
  const Golden& golden = GetParam();
  Desk desk(all_chips());
  desk.open(gauge());
  desk.session().set("FLOAT", "2.5 V");
  desk.session().run_to(50'000);
  desk.choices().look = golden.look;
  desk.choices().theme = golden.theme;
  desk.choices().net = golden.net;
  Picture picture(golden.size);
  {
    SdlPainter painter(picture.renderer());
    desk.draw(painter, golden.size);
    SDL_RenderFlush(picture.renderer());
  }
  const Folder folder;
  const auto drawn = folder.path() / "drawn.png";
  write_png(picture.surface(), drawn.string());
  const auto kept = testing::source_folder() / "tests/desk/pictures" / (std::string(golden.name) + ".png");
  if (std::getenv("PREWIRE_REBASE") != nullptr) {
    std::filesystem::copy_file(drawn, kept, std::filesystem::copy_options::overwrite_existing);
  }
  // Fonts are hinted a little differently from one release of the font library to the next; a moved letter is more.
  EXPECT_LT(differing(read_png(kept), read_png(drawn)), 8) << "look at it: PREWIRE_REBASE=1 keeps the new " << kept;
}

INSTANTIATE_TEST_SUITE_P(Few, Pictures,
                         ::testing::Values(Golden{"full-dark", Look::full, ThemeName::dark, {1280, 720}},
                                           Golden{"lecture-light", Look::lecture, ThemeName::light, {1024, 768}},
                                           Golden{
                                               "wiring-dark", Look::wiring, ThemeName::dark, {1280, 720}, "PIA.CA2"}),
                         [](const auto& each) {
                           std::string name = each.param.name;
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

// The rule itself: eight moved pixels are seen, seven are not.
TEST(GoldenRule, CountsPixels) {
  Pixels a{4, 4, std::vector<std::uint8_t>(48, 100)}, b = a;
  for (std::size_t i = 0; i < 7; ++i) b.rgb[3 * i] = 117;
  EXPECT_EQ(differing(a, b), 7);
  b.rgb[45] = 116;
  EXPECT_EQ(differing(a, b), 7);
  b.rgb[45] = 117;
  EXPECT_EQ(differing(a, b), 8);
  EXPECT_EQ(differing(a, Pixels{}), 16);
}

}  // namespace
}  // namespace prewire::front::desk
