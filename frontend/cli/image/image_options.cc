#include "image_options.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "image_files.h"
#include "prewire/assembler.h"
#include "prewire/chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kShellHint = "hex after 0x or $; a shell takes $ for its own unless it is in single quotes";
constexpr std::size_t kAny = 1000000;

struct ImageTask {
  std::string name;
  std::size_t least, most;  // files to read
  std::size_t outputs, most_outputs;
  const char* files;  // in words
};

const std::vector<ImageTask>& tasks() {
  static const std::vector<ImageTask> list{{"info", 1, kAny, 0, 0, "one file or more"},
                                           {"convert", 1, 1, 1, kAny, "one file"},
                                           {"join", 2, kAny, 1, kAny, "two files or more"},
                                           {"split", 1, 1, 2, 2, "one file"},
                                           {"compare", 2, 2, 0, 0, "two files"}};
  return list;
}

/// Throws unless an option that is given goes with the task.
void check_option(const ImageOptions& options, bool given, const char* option, std::vector<std::string> with) {
  if (!given || std::count(with.begin(), with.end(), options.task) > 0) return;
  throw Trouble(Exit::usage, fmt::format("{} does not go with `image {}`", option, options.task), list_of(with, "or"),
                "", "`prewire image --help` explains all");
}

AddressRange parse_range(const char* option, const std::string& text) {
  const std::size_t dash = text.find('-');
  const auto first = parse_hex(std::string_view(text).substr(0, dash));
  const auto last = dash == std::string::npos ? std::nullopt : parse_hex(std::string_view(text).substr(dash + 1));
  if (!first || !last) {
    throw Trouble(Exit::usage, fmt::format("{} is no range of addresses", option), "FIRST-LAST, such as 0xF800-0xFFFF",
                  text, kShellHint);
  }
  if (*first > *last) {
    throw Trouble(Exit::usage, fmt::format("{} ends before it begins", option), "the lower address first", text);
  }
  return {*first, *last};
}

std::int64_t parse_distance(const std::string& text) {
  const bool sign = text.starts_with('-') || text.starts_with('+');
  const auto value = parse_hex(std::string_view(text).substr(sign ? 1 : 0));
  if (!value) {
    throw Trouble(Exit::usage, "--move is no distance", "+0x1000 to go up, -0xF800 to go down", text, kShellHint);
  }
  return text.starts_with('-') ? -std::int64_t{*value} : std::int64_t{*value};
}

std::uint8_t parse_byte(const std::string& text) {
  const auto value = parse_hex(text);
  if (!value || *value > 0xFF) throw Trouble(Exit::usage, "--fill is no byte", "0x00 to 0xFF", text, kShellHint);
  return static_cast<std::uint8_t>(*value);
}

/// The ROM types of the registry, with their sizes.
std::vector<std::pair<std::string, std::uint32_t>> roms() {
  std::vector<std::pair<std::string, std::uint32_t>> list;
  const Registry registry = standard_chips();
  for (const auto& type : registry.types()) {
    if (type->bus && type->bus->kind == BusSpec::Kind::rom) list.emplace_back(type->name, type->bus->size);
  }
  return list;
}

std::uint32_t chip_size(const std::string& name) {
  for (const auto& [type, size] : roms()) {
    if (type == name) return size;
  }
  const std::vector<std::string> names = rom_types();
  throw Trouble(Exit::usage, "--chip knows no such ROM", list_of(names, "or"), name, meant(name, names));
}

}  // namespace

std::vector<std::string> rom_types() {
  std::vector<std::string> names;
  for (const auto& [type, size] : roms()) names.push_back(type);
  return names;
}

void check_task(const ImageOptions& options) {
  std::vector<std::string> names;
  for (const ImageTask& task : tasks()) names.push_back(task.name);
  if (options.task.empty()) {
    throw Trouble(Exit::usage, "`image` needs a task", list_of(names, "or"), "", "`prewire image --help` explains all");
  }
  const auto task =
      std::find_if(tasks().begin(), tasks().end(), [&](const ImageTask& each) { return each.name == options.task; });
  if (task == tasks().end()) {
    throw Trouble(Exit::usage, "`image` has no such task", list_of(names, "or"), options.task,
                  meant(options.task, names));
  }
  const bool writes = task->outputs > 0;
  const std::vector<std::string> writers{"convert", "join", "split"}, tellers{"info", "compare"};
  check_option(options, !options.outputs.empty(), "--output", writers);
  check_option(options, !options.format.empty(), "--format", writers);
  check_option(options, options.json, "--json", tellers);
  check_option(options, options.all, "--all", tellers);
  check_option(options, options.even_odd, "--even-odd", {"split"});
  check_option(options, options.nibbles, "--nibbles", {"split"});
  check_option(options, options.replace, "--replace", {"join"});
  check_option(options, !options.cpu.empty(), "--cpu", {"compare"});
  if (options.files.size() < task->least || options.files.size() > task->most) {
    throw Trouble(Exit::usage, fmt::format("`image {}` takes {}", task->name, task->files), "",
                  options.files.empty() ? "none" : fmt::format("{}", fmt::join(options.files, ", ")),
                  writes ? "what is written is named by -o" : "");
  }
  if (options.task == "split" && options.even_odd == options.nibbles) {
    throw Trouble(Exit::usage, "`image split` needs one way to split", "--even-odd or --nibbles",
                  options.nibbles ? "both" : "neither");
  }
  if (options.outputs.size() < task->outputs || options.outputs.size() > task->most_outputs) {
    throw Trouble(Exit::usage,
                  fmt::format("`image {}` writes {}", task->name, task->outputs == 2 ? "two files" : "a file"),
                  task->outputs == 2 ? (options.even_odd ? "-o EVEN -o ODD" : "-o LOW -o HIGH") : "-o FILE",
                  options.outputs.empty() ? "none" : fmt::format("{}", fmt::join(options.outputs, ", ")));
  }
  const std::vector<std::string> cpus = assembler_cpus();
  if (!options.cpu.empty() && std::count(cpus.begin(), cpus.end(), options.cpu) == 0) {
    throw Trouble(Exit::usage, "--cpu knows no such processor", list_of(cpus, "or"), options.cpu,
                  meant(options.cpu, cpus));
  }
}

ImageChanges parse_changes(const ImageOptions& options) {
  ImageChanges changes;
  if (!options.crop.empty()) changes.crop = parse_range("--crop", options.crop);
  if (!options.move.empty()) changes.move = parse_distance(options.move);
  if (!options.pad.empty()) changes.pad = parse_range("--pad", options.pad);
  if (!options.fill.empty()) changes.fill = parse_byte(options.fill);
  if (!options.chip.empty()) changes.chip = chip_size(options.chip);
  return changes;
}

NamedImage change(NamedImage named, const ImageChanges& changes) {
  auto& [name, image] = named;
  if (changes.crop) {
    const std::string had = describe(image);
    image = crop(std::move(image), *changes.crop);
    if (image.segments.empty()) {
      throw Trouble(Exit::input, fmt::format("--crop leaves nothing of {}", name),
                    fmt::format("a byte in {}", to_string(*changes.crop)), had);
    }
  }
  if (changes.move) image = move(std::move(image), *changes.move, name);
  if (changes.pad) image = pad(std::move(image), *changes.pad, changes.ground(), name);
  if (changes.fill) image = fill(std::move(image), *changes.fill, name);
  return named;
}

NamedImage put_in_chip(NamedImage named, const ImageChanges& changes) {
  auto& [name, image] = named;
  if (changes.chip) {
    const AddressRange block = block_of(image, *changes.chip, name);
    image = pad(std::move(image), block, changes.ground(), name);
  }
  return named;
}

}  // namespace prewire::front::cli
