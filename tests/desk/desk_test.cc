// Events as SDL hands them out, pushed into its queue and taken from there.
#include <SDL.h>
#include <gtest/gtest.h>

#include "desk/events.h"
#include "desk/keys.h"
#include "desk_testing.h"
#include "recording_painter.h"

namespace prewire::front::desk {
namespace {

class AtTheDesk : public ::testing::Test {
 protected:
  AtTheDesk() : desk(all_chips()) {
    EXPECT_EQ(SDL_Init(SDL_INIT_EVENTS), 0);
    SDL_FlushEvents(SDL_FIRSTEVENT, SDL_LASTEVENT);
  }
  ~AtTheDesk() override { SDL_Quit(); }

  void draw(Size window = {1280, 720}) {
    RecordingPainter fresh;
    desk.draw(fresh, window);
    painter = fresh;
  }
  void push(SDL_Event event) {
    SDL_PushEvent(&event);
    while (SDL_PollEvent(&event) != 0) events.handle(event);
    draw();
  }
  void key(SDL_Keycode code, Uint16 modifiers = 0, bool up = false) {
    SDL_Event event{};
    event.type = up ? SDL_KEYUP : SDL_KEYDOWN;
    event.key.keysym.sym = code;
    event.key.keysym.mod = modifiers;
    push(event);
  }
  void type(const std::string& text) {
    for (char c : text) {
      SDL_Event event{};
      event.type = SDL_TEXTINPUT;
      event.text.text[0] = c;
      push(event);
    }
  }
  void click(Point at, bool up = false) {
    SDL_Event event{};
    event.type = up ? SDL_MOUSEBUTTONUP : SDL_MOUSEBUTTONDOWN;
    event.button.button = SDL_BUTTON_LEFT;
    event.button.x = at.x;
    event.button.y = at.y;
    push(event);
  }
  void point(Point at) {
    SDL_Event event{};
    event.type = SDL_MOUSEMOTION;
    event.motion.x = at.x;
    event.motion.y = at.y;
    push(event);
  }
  void wheel(int y) {
    SDL_Event event{};
    event.type = SDL_MOUSEWHEEL;
    event.wheel.y = y;
    push(event);
  }
  void drop(const std::string& file) {
    SDL_Event event{};
    event.type = SDL_DROPFILE;
    event.drop.file = SDL_strdup(file.c_str());
    push(event);
  }
  Point centre(Action::Kind kind, const std::string& text) {
    for (const HitBox& hit : desk.hits().all()) {
      if ((hit.press.kind == kind && hit.press.text == text) || (hit.hover.kind == kind && hit.hover.text == text)) {
        return hit.box.centre();
      }
    }
    ADD_FAILURE() << "nothing to click for " << text;
    return {};
  }
  const Machine& machine() { return *desk.session().machine(); }

  Desk desk;
  Events events{desk};
  RecordingPainter painter;
  Folder folder;
};

TEST_F(AtTheDesk, ADroppedFileOpens) {
  draw();
  EXPECT_TRUE(painter.says("Drop a machine file"));
  drop(gauge().string());
  ASSERT_NE(desk.session().machine(), nullptr);
  EXPECT_TRUE(painter.says("Rain barrel gauge"));
}

TEST_F(AtTheDesk, KeysRunStopAndStep) {
  drop(gauge().string());
  key(SDLK_F9);
  EXPECT_EQ(machine().now(), 1);
  key(SDLK_F9, KMOD_LSHIFT);
  EXPECT_EQ(machine().now(), 0);
  key(SDLK_F11);
  const Cycle after = machine().now();
  EXPECT_GT(after, 0);
  key(SDLK_F5);
  EXPECT_TRUE(desk.session().busy());
  desk.pass(0.05, 1);
  draw();
  EXPECT_TRUE(painter.says("RUN"));
  key(SDLK_F5);
  EXPECT_FALSE(desk.session().busy());
  EXPECT_GT(machine().now(), 40'000);
  key(SDLK_F7, KMOD_RSHIFT);
  EXPECT_EQ(machine().now(), 0);
}

// F10 over, F11 into: common practice of debuggers with function keys.
TEST_F(AtTheDesk, F10GoesOverACallAndF11IntoIt) {
  drop(greenhouse_in(folder).string());
  const auto pc = [&] { return machine().cpu().pc(); };
  const std::uint16_t copy = *machine().address_of("copy"), read = *machine().address_of("read");
  const auto go_to_the_call = [&] {
    for (int i = 0; i < 20 && pc() != copy; ++i) key(SDLK_F11);
    ASSERT_EQ(pc(), copy);
  };
  // What takes several instructions goes on from picture to picture.
  const auto key_and_wait = [&](SDL_Keycode code) {
    key(code);
    for (int i = 0; i < 100 && desk.session().busy(); ++i) desk.pass(0.05, 1);
  };
  go_to_the_call();
  key(SDLK_F11);
  EXPECT_EQ(pc(), read);
  key(SDLK_F11, KMOD_LSHIFT);
  EXPECT_EQ(pc(), copy);
  key_and_wait(SDLK_F10);
  EXPECT_EQ(pc(), copy + 2);  // behind the BSR
  go_to_the_call();
  key(SDLK_F11);
  key_and_wait(SDLK_F12);
  EXPECT_EQ(pc(), copy + 2);
}

TEST_F(AtTheDesk, EveryKeyOfTheHelpDoesSomethingAndNothingBreaks) {
  drop(greenhouse_in(folder).string());
  desk.save_picture = [] { return std::string("Saved picture"); };
  desk.save_recording = [](const std::string& text) {
    EXPECT_NE(text.find("stimuli"), std::string::npos);
    return std::string("Saved session");
  };
  for (const KeyBinding& binding : key_bindings()) {
    EXPECT_EQ(action_for(binding.key, binding.modifiers), binding.action) << binding.keys;
    if (binding.action == Action::Kind::quit) continue;
    key(binding.key, binding.modifiers);
    key(SDLK_ESCAPE);
    desk.pass(0.02, 0.01);
  }
  key(SDLK_q, KMOD_LCTRL);
  EXPECT_TRUE(desk.over());
}

TEST_F(AtTheDesk, AKeySavesTheSessionWhileTheMachineRunsOn) {
  drop(greenhouse_in(folder).string());
  std::string saved;
  desk.save_recording = [&](const std::string& text) {
    saved = text;
    return std::string("Saved session");
  };
  key(SDLK_F5);
  desk.pass(0.05, 1);
  desk.act({Action::Kind::flip, 0, "S3"});
  desk.pass(0.1, 1);
  key(SDLK_s, KMOD_LCTRL);
  const Cycle then = machine().now();
  EXPECT_TRUE(painter.says("Writing the session down"));
  for (int i = 0; i < 1000 && saved.empty(); ++i) desk.pass(1.0 / 60, 0.01);
  draw();
  EXPECT_TRUE(painter.says("Saved session"));
  EXPECT_GT(machine().now(), then);
  const auto file = folder.write("panel-session-1.check.json", saved);
  drop(file.string());
  ASSERT_NE(desk.session().machine(), nullptr);
  desk.session().run_to(then);
  EXPECT_TRUE(desk.session().closed(*desk.session().parts().contact("S3")));
  // What cannot be saved is said.
  desk.session().poke(0x0100, 1);
  key(SDLK_s, KMOD_LCTRL);
  EXPECT_TRUE(painter.says("A check cannot change bytes by hand, as in cycle " + std::to_string(machine().now()) +
                           ": step back before it"));
}

TEST_F(AtTheDesk, EveryPartCanBeMovedByKeysAlone) {
  drop(greenhouse_in(folder).string());
  desk.session().run_to(2000);
  draw();
  std::set<std::string> visited;
  for (int i = 0; i < 60; ++i) {
    key(SDLK_TAB);
    if (!visited.insert(desk.choices().focus).second) break;
    if (desk.choices().focus == "part S5") {
      key(SDLK_SPACE);
      EXPECT_TRUE(desk.session().closed(*desk.session().parts().contact("S5")));
    } else if (desk.choices().focus == "part KA") {
      key(SDLK_SPACE);
      EXPECT_TRUE(desk.session().closed(*desk.session().parts().contact("KA")));
      EXPECT_EQ(machine().net("KEYS")->level, Level::low);
      key(SDLK_SPACE, 0, true);
      EXPECT_FALSE(desk.session().closed(*desk.session().parts().contact("KA")));
    } else if (desk.choices().focus == "part DAMP") {
      key(SDLK_UP);
      EXPECT_EQ(desk.session().position(*desk.session().parts().knob("DAMP")), 510'000);
      key(SDLK_RETURN);
      type("1.5 V");
      key(SDLK_RETURN);
      EXPECT_FALSE(desk.choices().prompting);
      EXPECT_NEAR(machine().net("DAMP.wiper")->microvolts, 1'500'000, 1000);
    }
  }
  for (const char* name : {"part S0", "part KA", "part DAMP", "part WARM", "program", "memory", "bus"}) {
    EXPECT_TRUE(visited.contains(name)) << name;
  }
}

TEST_F(AtTheDesk, ThePointerPressesTurnsAndFlips) {
  drop(greenhouse_in(folder).string());
  desk.session().run_to(2000);
  draw();
  click(centre(Action::Kind::flip, "S2"));
  EXPECT_TRUE(desk.session().closed(*desk.session().parts().contact("S2")));
  click(centre(Action::Kind::press, "K4"));
  EXPECT_TRUE(desk.session().closed(*desk.session().parts().contact("K4")));
  click({5, 5}, true);  // wherever it comes up
  EXPECT_FALSE(desk.session().closed(*desk.session().parts().contact("K4")));
  const std::int64_t before = desk.session().position(*desk.session().parts().knob("DAMP"));
  point(centre(Action::Kind::turn, "DAMP"));
  wheel(1);
  EXPECT_NE(desk.session().position(*desk.session().parts().knob("DAMP")), before);
}

TEST_F(AtTheDesk, MemoryIsEditedWhileItStands) {
  drop(greenhouse_in(folder).string());
  key(SDLK_g, KMOD_LCTRL);
  type("$0123");
  key(SDLK_RETURN);
  EXPECT_EQ(desk.choices().focus, "memory");
  type("A");
  EXPECT_NE(machine().peek(0x0123), 0xA5);
  type("5c3");
  EXPECT_EQ(machine().peek(0x0123), 0xA5);
  EXPECT_EQ(machine().peek(0x0124), 0xC3);
  EXPECT_EQ(desk.choices().cursor, 0x0125);
  key(SDLK_UP);
  EXPECT_EQ(desk.choices().cursor, 0x0125 - desk.layout().room.memory_columns);
  for (int i = 0; i < 40; ++i) {
    key(SDLK_DOWN);
    const int offset = static_cast<std::uint16_t>(desk.choices().cursor - desk.choices().memory);
    EXPECT_LT(offset, desk.layout().room.memory_columns * desk.layout().room.memory_rows);
  }
}

TEST_F(AtTheDesk, StopPointsAreTypedAndClicked) {
  drop(gauge().string());
  key(SDLK_F6, KMOD_LSHIFT);
  type("fall IRQ");
  key(SDLK_RETURN);
  ASSERT_EQ(desk.session().stop_points().size(), 1U);
  key(SDLK_F6, KMOD_LSHIFT);
  type("fall IRG");
  key(SDLK_RETURN);
  EXPECT_TRUE(desk.choices().prompting);
  EXPECT_TRUE(painter.says("IRQ")) << "the hint";
  key(SDLK_ESCAPE);
  EXPECT_FALSE(desk.choices().prompting);
  desk.choices().tab = Tab::stops;
  draw();
  EXPECT_TRUE(painter.says("fall IRQ"));
  click(centre(Action::Kind::remove_stop, ""));
  EXPECT_TRUE(desk.session().stop_points().empty());
}

TEST_F(AtTheDesk, ANetIsTracedHeldAndProbed) {
  drop(gauge().string());
  desk.choices().look = Look::wiring;
  draw();
  point(centre(Action::Kind::trace_net, "PIA.CA2"));
  EXPECT_EQ(desk.choices().net, "PIA.CA2");
  ASSERT_TRUE(desk.view().wiring.traced);
  point({2, 2});
  EXPECT_EQ(desk.choices().net, "");
  click(centre(Action::Kind::hold_net, "PIA.CA2"));
  point({2, 2});
  EXPECT_EQ(desk.choices().net, "PIA.CA2");
  click(centre(Action::Kind::toggle_probe, "PIA.CA2"));
  EXPECT_EQ(desk.session().bus().probes(), (std::vector<std::string>{"IRQ", "PIA.CA2"}));
}

// WCAG 2.1, success criterion 2.3.1: what flashes more than three times a second can hurt.
TEST_F(AtTheDesk, ARunningMachineDoesNotFlicker) {
  drop(gauge().string());
  desk.act({Action::Kind::run});
  int changes = 0;
  std::vector<Cycle> shown;
  for (int frame = 0; frame < 60; ++frame) {
    desk.pass(1.0 / 60, 1);
    draw();
    const Cycle last = desk.view().bus.cells.empty() ? -1 : desk.view().bus.cells.back().cycle;
    if (shown.empty() || last != shown.back()) ++changes;
    shown.push_back(last);
    // What stays from the frame before is whole.
    EXPECT_EQ(desk.view().registers.size(), 5U);
    EXPECT_EQ(desk.view().flags_name, "CC");
    EXPECT_EQ(desk.view().flags.size(), 6U);
    EXPECT_FALSE(desk.view().memory.empty());
  }
  EXPECT_LE(changes, 3);
}

TEST_F(AtTheDesk, AFaultyFileIsShownAndMended) {
  const auto file = folder.write("panel.json", "{\"machine\": \"x\",}");
  drop(file.string());
  EXPECT_TRUE(painter.says("cannot be used yet"));
  greenhouse_in(folder);
  desk.pass(1);
  draw();
  EXPECT_TRUE(painter.says("Greenhouse panel"));
}

}  // namespace
}  // namespace prewire::front::desk
