// How long a frame of the desk takes on SDL's software renderer. docs/performance.md tells what the figures mean.
#include <benchmark/benchmark.h>

#include "desk/desk.h"
#include "desk/paint/picture.h"
#include "desk/paint/sdl_painter.h"
#include "prewire/chips.h"

namespace prewire::front::desk {
namespace {

constexpr Size kSizes[] = {{1280, 720}, {1920, 1080}};

struct Scene {
  explicit Scene(const benchmark::State& state)
      : registry(standard_chips()),
        desk(registry),
        size(kSizes[state.range(1)]),
        picture(size),
        painter(picture.renderer()) {
    desk.open(PREWIRE_RAIN_BARREL);
    desk.session().set("FLOAT", "2.5 V");
    desk.choices().look = static_cast<Look>(state.range(0));
    desk.session().run_to(50'000);
    desk.draw(painter, size);
  }
  void draw() {
    desk.draw(painter, size);
    SDL_RenderFlush(picture.renderer());
  }
  Registry registry;
  Desk desk;
  Size size;
  Picture picture;
  SdlPainter painter;
};

/// The picture alone. Between two of them the machine stands elsewhere, so that all numbers and the bus are new.
void Draw(benchmark::State& state) {
  Scene scene(state);
  for (auto _ : state) {
    state.PauseTiming();
    scene.desk.session().run_to(scene.desk.session().machine()->now() + 16'667);
    state.ResumeTiming();
    scene.draw();
  }
}
BENCHMARK(Draw)->ArgNames({"view", "size"})->ArgsProduct({{0, 1, 2}, {0, 1}})->Unit(benchmark::kMillisecond);

/// A sixtieth of a second of the machine at 1 MHz, with its states and its bus kept, and the picture.
void Frame(benchmark::State& state) {
  Scene scene(state);
  scene.desk.session().run();
  const Cycle start = scene.desk.session().machine()->now();
  for (auto _ : state) {
    scene.desk.pass(1.0 / 60);
    scene.draw();
  }
  // 1 is real time: no frame had to leave cycles undone.
  state.counters["real_time"] = static_cast<double>(scene.desk.session().machine()->now() - start) /
                                (static_cast<double>(state.iterations()) * 1e6 / 60);
}
BENCHMARK(Frame)->ArgNames({"view", "size"})->ArgsProduct({{0, 1, 2}, {0, 1}})->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace prewire::front::desk

BENCHMARK_MAIN();
