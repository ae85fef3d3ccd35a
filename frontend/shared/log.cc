#include "log.h"

#include <fmt/format.h>
#include <spdlog/sinks/base_sink.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "output.h"
#include "prewire/text.h"
#include "trouble.h"

namespace prewire::front {

namespace {

/// As all messages go to standard error, from any thread.
class Messages final : public spdlog::sinks::base_sink<std::mutex> {
  void sink_it_(const spdlog::details::log_msg& entry) override {
    const auto level = spdlog::level::to_string_view(entry.level);
    message(fmt::format("prewire: {}: {}\n", std::string_view(level.data(), level.size()),
                        printable({entry.payload.data(), entry.payload.size()})));
  }
  void flush_() override {}
};

const std::vector<std::string> kLevels = {"debug", "info", "off"};

void set_level(const std::string& level) {
  if (std::find(kLevels.begin(), kLevels.end(), level) == kLevels.end()) {
    throw Trouble(Exit::usage, "--log cannot be set to that", "debug, info or off", level, meant(level, kLevels));
  }
  auto logger = std::make_shared<spdlog::logger>("prewire", std::make_shared<Messages>());
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
