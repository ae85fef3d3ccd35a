#include <gtest/gtest.h>

#include "desk/panels/layout.h"

namespace prewire::front::desk {
namespace {

std::vector<std::pair<const char*, Rect>> panels(const Layout& l) {
  std::vector<std::pair<const char*, Rect>> all;
  for (const auto& [name, box] : {std::pair{"header", l.header},
                                  {"digits", l.digits},
                                  {"lamps", l.lamps},
                                  {"knobs", l.knobs},
                                  {"buttons", l.buttons},
                                  {"registers", l.registers},
                                  {"program", l.program},
                                  {"tabs", l.tabs},
                                  {"bus", l.bus},
                                  {"wiring", l.wiring},
                                  {"nets", l.nets},
                                  {"fault", l.fault}}) {
    if (box.w != 0 || box.h != 0) all.emplace_back(name, box);
  }
  return all;
}

// Every combination of what a machine may have, in each view, window and scale.
TEST(Layout, PanelsLieInTheWindowAndBesideEachOther) {
  int looked_at = 0;
  for (const Size window :
       {Size{1024, 768}, Size{1280, 720}, Size{1920, 1080}, Size{1366, 768}, Size{1600, 1200}, Size{3840, 2160}}) {
    for (const double scale : {0.75, 1.0, 1.25}) {
      for (const Look look : {Look::full, Look::lecture, Look::wiring}) {
        for (int parts = 0; parts < 64; ++parts) {
          Needs needs;
          if ((parts & 1) != 0) needs.digits = {3, 4};
          if ((parts & 2) != 0) needs.leds = 8;
          if ((parts & 4) != 0) needs.switches = 8;
          if ((parts & 8) != 0) needs.knobs = 2;
          if ((parts & 16) != 0) needs.buttons = 24;
          needs.registers = (parts & 32) != 0 ? 9 : 5;
          needs.bus_lines = (parts & 32) != 0 ? 7 : 3;
          const Layout layout = lay_out(window, scale, look, needs);
          const auto all = panels(layout);
          for (std::size_t i = 0; i < all.size(); ++i) {
            const auto& [name, box] = all[i];
            SCOPED_TRACE(std::string(name) + " " + std::to_string(window.w) + " x" + std::to_string(scale) + " look " +
                         std::to_string(static_cast<int>(look)) + " parts " + std::to_string(parts));
            EXPECT_GT(box.w, 0);
            EXPECT_GT(box.h, 0);
            EXPECT_TRUE((Rect{0, 0, window.w, window.h}.contains(box)));
            for (std::size_t j = i + 1; j < all.size(); ++j) EXPECT_FALSE(box.meets(all[j].second)) << all[j].first;
            ++looked_at;
          }
          if (::testing::Test::HasFailure()) return;
          // What there is to touch and to read is shown, whatever the scale.
          if (look != Look::wiring) {
            EXPECT_GE(layout.room.program_rows, 4);
            EXPECT_GE(layout.room.bus_cells, 24);
            EXPECT_EQ(layout.buttons.empty(), needs.buttons == 0);
            EXPECT_EQ(layout.lamps.empty(), needs.leds + needs.switches == 0);
            EXPECT_EQ(layout.knobs.empty(), needs.knobs == 0);
            EXPECT_EQ(layout.digits.empty(), needs.digits.empty());
            // Lamps with names above switches with names.
            if (needs.leds > 0 && needs.switches > 0) {
              EXPECT_GE(layout.lamps.h, layout.px(112));
            }
            if (needs.knobs > 0) {
              EXPECT_GE(layout.knobs.h, layout.px(72));
            }
            if (needs.buttons > 0) {
              EXPECT_GE(layout.buttons.h, layout.px(56));
            }
          }
          if (look == Look::full) {
            EXPECT_GE(layout.room.memory_rows, 3);
          }
          EXPECT_LE(layout.px.unit, std::min(window.w / 1280.0, window.h / 720.0) * scale + 1e-9);
        }
      }
    }
  }
  EXPECT_GT(looked_at, 10'000);
}

TEST(Layout, AFaultHasTheWindowToItself) {
  Needs needs;
  needs.fault = true;
  const Layout layout = lay_out({1024, 768}, 1, Look::full, needs);
  EXPECT_EQ(panels(layout).size(), 2U);
}

TEST(Grid, CellsDoNotOverlapAndFillTheBox) {
  const Rect box{10, 20, 401, 99};
  for (int count = 1; count <= 40; ++count) {
    const Grid cells = grid(box, count, 1.5, 5);
    for (int i = 0; i < count; ++i) {
      EXPECT_TRUE(box.contains(cells.cell(i)));
      for (int j = 0; j < i; ++j) EXPECT_FALSE(cells.cell(i).meets(cells.cell(j)));
    }
  }
  EXPECT_EQ(grid(box, 8, 1.0, 4).columns, 8);
  EXPECT_EQ(grid({0, 0, 100, 100}, 4, 1.0, 4).columns, 2);
  EXPECT_EQ(grid({0, 0, 226, 84}, 8, 1.0, 4).columns, 4) << "not six and two";
}

}  // namespace
}  // namespace prewire::front::desk
