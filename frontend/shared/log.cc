#include "log.h"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <memory>
#include <string>
#include <vector>

#include "trouble.h"

namespace prewire::front {

namespace {

const std::vector<std::string> kLevels = {"debug", "info", "off"};

void set_level(const std::string& level) {
  if (std::find(kLevels.begin(), kLevels.end(), level) == kLevels.end()) {
    throw Trouble(Exit::usage, "--log cannot be set to that", "debug, info or off", level, meant(level, kLevels));
  }
  auto logger = std::make_shared<spdlog::logger>("prewire", std::make_shared<spdlog::sinks::stderr_sink_st>());
  logger->set_pattern("prewire: %l: %v");
  logger->set_level(spdlog::level::from_str(level));
  spdlog::set_default_logger(std::move(logger));
}

}  // namespace

void add_log_option(CLI::App& app) {
  spdlog::set_level(spdlog::level::off);
  app.add_option_function<std::string>("--log", set_level, "what the program says about itself: debug, info or off")
      ->type_name("LEVEL")
      ->group(kGeneral);
}

}  // namespace prewire::front
