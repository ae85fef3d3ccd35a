// prewire-desk: the window on a machine.
#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <csignal>
#include <exception>
#include <regex>

#include "desk/paint/picture.h"
#include "desk/paint/sdl_painter.h"
#include "options.h"
#include "shared/ending.h"
#include "shared/known_chips.h"
#include "shared/nets.h"
#include "shared/new_file.h"
#include "shared/output.h"
#include "shared/standard_streams.h"
#include "shared/trouble.h"
#include "window.h"

namespace prewire::front::desk {

namespace {

void draw_shot(Desk& desk, const Options& options) {
  const Machine* machine = desk.session().machine();
  if (machine == nullptr) throw InputError(desk.session().faults());
  // Half a cycle has not begun.
  desk.session().run_to(options.at.stamp(machine->timebase()) / 4);
  Picture picture(options.size);
  SdlPainter painter(picture.renderer());
  desk.draw(painter, options.size);
  SDL_RenderFlush(picture.renderer());
  write_png(picture.surface(), options.shot);
}

/// "gauge" of gauge.json and of gauge-session-1.check.json.
std::string stem_of(const std::filesystem::path& opened) {
  const std::string name = opened.filename().string();
  std::smatch parts;
  return std::regex_match(name, parts, std::regex(R"((.*?)(-session-\d+)?(\.check)?(\.json)?)")) ? parts[1].str()
                                                                                                 : name;
}

/// Beside the file on the desk, since a check names its machine from there.
std::string save_recording(const std::filesystem::path& opened, const std::string& text) {
  const std::string name = free_name((opened.parent_path() / (stem_of(opened) + "-session")).string(), ".check.json");
  try {
    NewFile file(name, "{", {"it exists", "a new file", "the session cannot be written"});
    file.write(text);
    file.close();
    file.take_name();
    return "Saved " + std::filesystem::path(name).filename().string() + " beside the machine";
  } catch (const Trouble&) {
    return "The session cannot be saved in the folder of the machine";
  }
}

Exit run(int argc, char** argv) {
  Output out;
  const auto options = parse_options(argc, argv, out);
  out.flush();
  if (!options) return Exit::ok;
  const Registry& registry = known_chips();
  Desk desk(registry, options->load);
  if (!options->machine.empty()) desk.open(options->machine, options->check);
  std::vector<Stimulus> stimuli = options->sets;
  for (const std::string& file : options->stimulus_files) {
    for (Stimulus& stimulus : read_stimulus_file(file)) stimuli.push_back(std::move(stimulus));
  }
  if (!stimuli.empty()) desk.session().play(std::move(stimuli));
  Choices& choices = desk.choices();
  choices.look = options->look;
  choices.theme = options->theme;
  choices.scale = options->scale;
  choices.tab = options->tab;
  choices.help = options->help_shown;
  if (!options->net.empty() && desk.session().machine() != nullptr) {
    const Machine& machine = *desk.session().machine();
    const auto net = find_net(machine, options->net);
    if (!net) {
      throw Trouble(Exit::input, "--net names no net", "a net or a pin that is wired", options->net,
                    machine.net_trouble(options->net));
    }
    choices.net = net->name;
  }
  choices.net_held = !options->net.empty();
  if (!options->shot.empty()) {
    draw_shot(desk, *options);
    return Exit::ok;
  }
  desk.save_recording = [&](const std::string& text) { return save_recording(desk.session().file(), text); };
  if (options->run) desk.session().run();
  run_window(desk, options->size);
  return interrupted() ? Exit::interrupted : Exit::ok;
}

}  // namespace

}  // namespace prewire::front::desk

int main(int argc, char** argv) {
  using namespace prewire::front;
  open_standard_streams();
  std::signal(SIGPIPE, SIG_IGN);  // seen as an error of writing
  catch_signals();                // before SDL does
  try {
    return static_cast<int>(desk::run(argc, argv));
  } catch (const Trouble& trouble) {
    if (trouble.exit() != Exit::broken_pipe) message(trouble.what());
    return static_cast<int>(trouble.exit());
  } catch (const prewire::InputError& error) {
    message(error.what());
    return static_cast<int>(Exit::input);
  } catch (const std::exception& error) {
    message(std::string("prewire-desk: internal error: ") + error.what() + "\n");
  }
  return static_cast<int>(Exit::internal);
}
