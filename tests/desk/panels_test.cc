#include <gtest/gtest.h>

#include "desk/keys.h"
#include "desk_testing.h"
#include "recording_painter.h"

namespace prewire::front::desk {
namespace {

struct Case {
  Size window;
  Look look;
  ThemeName theme;
};

/// Draws in all windows, views and themes at one scale, and calls `check` for each.
template <class Check>
void draw_all(Desk& desk, const Check& check, double scale = 1) {
  desk.choices().scale = scale;
  for (const Size window : {Size{1024, 768}, Size{1280, 720}, Size{1920, 1080}}) {
    for (const Look look : {Look::full, Look::lecture, Look::wiring}) {
      for (const ThemeName name : {ThemeName::dark, ThemeName::light}) {
        desk.choices().look = look;
        desk.choices().theme = name;
        RecordingPainter painter;
        desk.draw(painter, window);
        SCOPED_TRACE("width " + std::to_string(window.w) + " look " + std::to_string(static_cast<int>(look)) +
                     " theme " + std::to_string(static_cast<int>(name)) + " scale " + std::to_string(scale));
        check(painter, window);
      }
    }
  }
}

void reads_well(const RecordingPainter& painter, Size window) {
  ASSERT_GT(painter.texts().size(), 20U);
  for (const auto& text : painter.texts()) {
    // WCAG 2.1, success criterion 1.4.6.
    EXPECT_GE(contrast(text.colour, text.ground), 7) << text.text;
    EXPECT_TRUE((Rect{0, 0, window.w, window.h}.contains(text.box))) << text.text;
    // From memory: below some eight pixels of an x-height letters run together.
    EXPECT_GE(text.type.px, 7) << text.text;
    EXPECT_NE(text.text, "\u2026") << "no room for anything";
  }
  EXPECT_TRUE(painter.cut().empty()) << painter.cut().front();
  // No two texts on top of each other.
  for (std::size_t i = 0; i < painter.texts().size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      EXPECT_FALSE(painter.texts()[i].box.meets(painter.texts()[j].box))
          << painter.texts()[i].text << " on " << painter.texts()[j].text;
    }
  }
}

TEST(Panels, TheGaugeReadsWellEverywhere) {
  Desk desk(all_chips());
  desk.open(gauge());
  desk.session().set("FLOAT", "2.5 V");
  desk.session().run_to(50'000);
  for (const Tab tab : {Tab::memory, Tab::findings, Tab::stops}) {
    desk.choices().tab = tab;
    for (const double scale : {1.0, 1.1, 1.25}) draw_all(desk, reads_well, scale);
  }
}

TEST(Panels, AFullBoardReadsWellEverywhere) {
  const Folder folder;
  Desk desk(all_chips());
  desk.open(greenhouse_in(folder));
  ASSERT_NE(desk.session().machine(), nullptr)
      << (desk.session().faults().empty() ? "" : to_string(desk.session().faults()[0]));
  desk.session().run_to(5'000);
  for (const double scale : {1.0, 1.25}) {
    const auto check = [&](const RecordingPainter& painter, Size window) {
      reads_well(painter, window);
      if (desk.choices().look == Look::wiring) return;
      for (const char* part : {"S0", "K0", "KF", "L7", "DAMP"}) EXPECT_TRUE(painter.says(part)) << part;
      // Nothing is cut short.
      for (const auto& text : painter.texts()) EXPECT_EQ(text.text.find("\u2026"), std::string::npos) << text.text;
    };
    draw_all(desk, check, scale);
  }
}

TEST(Panels, AFaultShowsPlaceAndHint) {
  const Folder folder;
  Desk desk(all_chips());
  desk.open(
      folder.write("barrel.json", R"({"machine": "x", "cpu": {"type": "mc6801", "clock": "1 MHz"}, "chips": {}})"));
  RecordingPainter painter;
  desk.draw(painter, {1024, 768});
  EXPECT_TRUE(painter.says("barrel.json:1:"));
  EXPECT_TRUE(painter.says("hint"));
  for (const auto& text : painter.texts()) EXPECT_GE(contrast(text.colour, text.ground), 7) << text.text;
}

TEST(Panels, AFaultInAProgramPointsAtTheWord) {
  const Folder folder;
  Desk desk(all_chips());
  const auto file = greenhouse_in(folder);
  folder.write("panel.asm", "        cpu     mc6809\n        org     $F800\nstart:  komma\n");
  desk.open(file);
  RecordingPainter painter;
  desk.draw(painter, {1280, 720});
  const RecordingPainter::Text* line = nullptr;
  const RecordingPainter::Text* caret = nullptr;
  for (const auto& text : painter.texts()) {
    EXPECT_EQ(text.text.find('\n'), std::string::npos) << text.text;
    if (text.text == "start:  komma") line = &text;
    if (text.text == "        ^") caret = &text;
  }
  ASSERT_TRUE(line != nullptr && caret != nullptr);
  EXPECT_EQ(line->type.face, Face::mono);
  EXPECT_EQ(caret->type.face, Face::mono);
  EXPECT_EQ(line->box.x, caret->box.x);
}

TEST(Panels, EveryKeyIsInTheHelp) {
  Desk desk(all_chips());
  desk.open(gauge());
  desk.choices().help = true;
  RecordingPainter painter;
  desk.draw(painter, {1280, 720});
  for (const KeyBinding& binding : key_bindings()) {
    EXPECT_TRUE(painter.says(binding.keys)) << binding.keys;
    EXPECT_TRUE(painter.says(binding.does)) << binding.does;
  }
}

TEST(Panels, DrawTheSameTwice) {
  Desk desk(all_chips());
  desk.open(gauge());
  RecordingPainter first, second;
  desk.draw(first, {1280, 720});
  desk.draw(second, {1280, 720});
  EXPECT_EQ(first.calls(), second.calls());
}

TEST(Write, PutsAnEllipsisWhereTextIsCut) {
  RecordingPainter painter;
  write(painter, {0, 0, 60, 20}, "a barrel of rain", {Face::mono, 10}, {});
  ASSERT_EQ(painter.texts().size(), 1U);
  EXPECT_EQ(painter.texts()[0].text, "a barrel\u2026");
}

}  // namespace
}  // namespace prewire::front::desk
