// prewire: the headless runner and its tools.
#include <csignal>
#include <cstdlib>
#include <exception>
#include <new>

#include "command_line.h"
#include "commands.h"
#include "debug/debug_command.h"
#include "prewire/error.h"
#include "shared/ending.h"
#include "shared/standard_streams.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

// In the order of the help.
constexpr AddCommand kCommands[] = {
    {"run", add_run},
    {"debug", debug::add_debug},
    {"check", add_check},
    {"test", add_test},
    {"grade", add_grade},
    {"assemble", add_assemble},
    {"disassemble", add_disassemble},
    {"image", add_image},
    {"handout", add_handout},
    {"list", add_list},
    {"rules", add_rules},
    {"schema", add_schema},
};

Exit guarded(int argc, char** argv) {
  try {
    Output out;
    const Exit exit = run_command_line(argc, argv, kCommands, out);
    out.flush();
    return exit;
  } catch (const Trouble& trouble) {
    if (trouble.exit() != Exit::broken_pipe) message(trouble.what());
    return trouble.exit();
  } catch (const InputError& error) {
    message(error.what());
    return Exit::input;
  } catch (const std::bad_alloc&) {
    message("prewire: the memory is used up\n    hint:     `--max-memory` sets how much a command may take\n");
    return Exit::limit;
  } catch (const std::exception& error) {
    message("prewire: internal error: ");
    message(error.what());
    message("\n");
  } catch (...) {
    message("prewire: internal error\n");
  }
  return Exit::internal;
}

}  // namespace

}  // namespace prewire::front::cli

int main(int argc, char** argv) {
  using namespace prewire::front;
  std::set_terminate([] {
    message("prewire: internal error: it cannot go on\n");
    std::_Exit(static_cast<int>(Exit::internal));
  });
  open_standard_streams();
  std::signal(SIGPIPE, SIG_IGN);  // seen as an error of writing
  catch_signals();
  return static_cast<int>(cli::guarded(argc, argv));
}
