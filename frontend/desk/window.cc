#include "window.h"

#include <SDL.h>

#include <algorithm>
#include <chrono>
#include <memory>
#include <string>
#include <string_view>

#include "desk/paint/picture.h"
#include "desk/paint/sdl_painter.h"
#include "events.h"
#include "shared/ending.h"
#include "shared/trouble.h"

namespace prewire::front::desk {

namespace {

struct Video {
  Video() {
    if (SDL_Init(SDL_INIT_VIDEO) != 0) fail(SDL_GetError());
    if (nobody_sees(SDL_GetCurrentVideoDriver())) fail("none that DISPLAY or WAYLAND_DISPLAY names");
  }
  ~Video() { SDL_Quit(); }
  [[noreturn]] static void fail(const std::string& found) {
    throw Trouble(Exit::input, "there is no window to open", "a screen", found, "--shot draws a picture without one");
  }

 private:
  /// Without a screen SDL takes a driver that shows nothing, where a window would run for ever. Who asks for one by
  /// SDL_VIDEODRIVER gets it.
  static bool nobody_sees(std::string_view driver) {
    const char* asked = SDL_GetHint(SDL_HINT_VIDEODRIVER);
    const bool wanted = asked != nullptr && *asked != '\0';
    return !wanted && (driver == "offscreen" || driver == "dummy" || driver == "evdev");
  }
};

struct WindowEnd {
  void operator()(SDL_Window* window) const { SDL_DestroyWindow(window); }
};

constexpr double kFrame = 1.0 / 60;
constexpr int kIdleMilliseconds = 100;

}  // namespace

void run_window(Desk& desk, Size size) {
  SDL_SetHint(SDL_HINT_VIDEO_ALLOW_SCREENSAVER, "1");
  const Video video;
  const std::unique_ptr<SDL_Window, WindowEnd> window(SDL_CreateWindow(
      "Prewire", SDL_WINDOWPOS_CENTERED, SDL_WINDOWPOS_CENTERED, size.w, size.h, SDL_WINDOW_RESIZABLE));
  if (!window) Video::fail(SDL_GetError());
  SDL_SetWindowMinimumSize(window.get(), 800, 600);
  std::unique_ptr<SDL_Renderer, RendererEnd> renderer(SDL_CreateRenderer(window.get(), -1, SDL_RENDERER_PRESENTVSYNC));
  if (!renderer) renderer.reset(SDL_CreateRenderer(window.get(), -1, SDL_RENDERER_SOFTWARE));
  if (!renderer) Video::fail(SDL_GetError());
  SdlPainter painter(renderer.get());
  Events events(desk);
  SDL_StartTextInput();
  SDL_EventState(SDL_DROPFILE, SDL_ENABLE);

  const auto output = [&] {
    Size now;
    SDL_GetRendererOutputSize(renderer.get(), &now.w, &now.h);
    return now;
  };
  const auto stem = [&] {
    const std::string name = desk.session().file().stem().string();
    return name.empty() ? std::string("desk") : name;
  };
  desk.save_picture = [&]() -> std::string {
    try {
      const std::string name = free_name(stem(), ".png");
      Picture picture(output());
      SdlPainter on_paper(picture.renderer());
      desk.draw(on_paper, output());
      SDL_RenderFlush(picture.renderer());
      write_png(picture.surface(), name);
      return "Saved " + name;
    } catch (const std::exception&) {
      return "The picture cannot be saved in this folder";
    }
  };

  using Clock = std::chrono::steady_clock;
  auto last = Clock::now();
  std::string title;
  const MindsEnding minds;
  while (!desk.over() && !ending()) {
    SDL_Event event;
    if (!desk.lively() && SDL_WaitEventTimeout(nullptr, kIdleMilliseconds) == 0) {
      // Nothing but the clock has moved.
    }
    while (SDL_PollEvent(&event) != 0) {
      if (event.type == SDL_RENDER_TARGETS_RESET || event.type == SDL_RENDER_DEVICE_RESET) painter.forget();
      events.handle(event);
    }
    const auto now = Clock::now();
    const double seconds = std::chrono::duration<double>(now - last).count();
    last = now;
    desk.pass(seconds);
    const std::string wanted = desk.view().title.empty() ? "Prewire" : desk.view().title + " - Prewire";
    if (wanted != title) SDL_SetWindowTitle(window.get(), (title = wanted).c_str());
    if (!desk.lively()) continue;
    desk.draw(painter, output());
    SDL_RenderPresent(renderer.get());
    const double spent = std::chrono::duration<double>(Clock::now() - now).count();
    if (spent < kFrame) SDL_Delay(static_cast<Uint32>((kFrame - spent) * 1000));
  }
}

}  // namespace prewire::front::desk
