#include "limits.h"

#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <charconv>

#include "prewire/chip.h"
#include "trouble.h"

// The address sanitizer reserves far more address space than any limit.
#if defined(__SANITIZE_ADDRESS__)
#define PREWIRE_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define PREWIRE_SANITIZED 1
#endif
#endif

namespace prewire::front {

namespace {

constexpr const char *kMemory = "--max-memory", *kWall = "--max-wall";

}  // namespace

std::uint64_t parse_size(const std::string& option, const std::string& text) {
  static constexpr struct {
    std::string_view name;
    std::uint64_t bytes;
  } kUnits[] = {{"B", 1},         {"kB", 1000},     {"MB", 1000 * 1000}, {"GB", 1000'000'000},
                {"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}};
  constexpr std::uint64_t kMost = std::uint64_t{1} << 46;
  std::uint64_t count = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), count);
  std::string_view unit(end, static_cast<std::size_t>(text.data() + text.size() - end));
  unit.remove_prefix(std::min(unit.find_first_not_of(' '), unit.size()));
  for (const auto& known : kUnits) {
    if (error != std::errc{} || known.name != unit || count == 0 || count > kMost / known.bytes) continue;
    return count * known.bytes;
  }
  throw Trouble(Exit::usage, fmt::format("{} cannot be set to that", option),
                "a size above 0, such as \"64 MiB\" or 1GB", text);
}

Cycle parse_cycles(const std::string& option, const std::string& text) {
  const auto count = parse_quantity(text, Unit::count);
  constexpr Cycle kMost = 1'000'000'000'000'000;
  if (count && *count >= 1 && *count <= kMost) return *count;
  throw Trouble(Exit::usage, fmt::format("{} cannot be set to that", option),
                "a number of cycles, 1 to 1000000000000000", text);
}

void add_limit_options(CLI::App& app) {
  const auto add = [&](const char* name, const char* value, const char* help) {
    app.add_option_function<std::string>(
           name, [](const std::string&) {}, help)
        ->type_name(value)
        ->group(kLimitGroup);
  };
  add(kMemory, "SIZE", "take no more address space; 2 GiB if not given");
  add(kWall, "TIME", "end after so much real time; 60 s if not given");
}

Limits limits_of(const CLI::App& app) {
  Limits limits;
  const auto given = [&](const char* name) -> std::string {
    const CLI::Option* option = app.get_option(name);
    return option->count() == 0 ? "" : option->results().front();
  };
  if (const std::string text = given(kMemory); !text.empty()) {
    limits.memory = parse_size(kMemory, text);
    limits.memory_given = true;
  }
  if (const std::string text = given(kWall); !text.empty()) {
    const auto span = parse_quantity(text, Unit::picoseconds);
    if (!span || *span < 1) {
      throw Trouble(Exit::usage, fmt::format("{} cannot be set to that", kWall), "a time above 0, such as 10s", text);
    }
    limits.wall = *span;
    limits.wall_given = true;
  }
  return limits;
}

void limit_memory(std::uint64_t bytes) {
#ifndef PREWIRE_SANITIZED
  rlimit limit{};
  if (getrlimit(RLIMIT_AS, &limit) != 0) return;
  limit.rlim_cur = std::min<rlim_t>(bytes, limit.rlim_max);
  setrlimit(RLIMIT_AS, &limit);
#else
  (void)bytes;
#endif
}

}  // namespace prewire::front
