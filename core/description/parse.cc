#include "description/parse.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "cpu/cpus.h"
#include "description/address_map.h"
#include "description/part_names.h"
#include "description/programs.h"
#include "description/select_logic.h"
#include "description/values.h"
#include "description/wires.h"
#include "prewire/text.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr std::size_t kMostChips = 1000;
// The bus tells apart 255 sets of chips that answer at an address; this many windows cannot make more.
constexpr std::ptrdiff_t kMostPlaced = 120;

constexpr const char* kCpuExample = "an object such as {\"type\": \"mc6800\", \"clock\": \"1 MHz\"}";

class MachineReader {
 public:
  MachineReader(const Registry& registry, std::vector<Fault>& faults) : registry_(registry), faults_(faults) {}

  void read(const JsonValue& top, const ProgramPlaces& images) {
    if (!check_kind(top, JsonKind::object, kMachineDescription, "an object with \"machine\" and \"cpu\"", faults_)) {
      return;
    }
    check_keys(top, kMachineDescription,
               {"machine", "about", "cpu", "bus", "seed", "chips", "wires", "program", "display", "$schema"}, faults_);
    if (const auto value = need(top, "machine", "the description", "a title", faults_)) {
      read_text(*value, spec.title);
      spec.title = printable(spec.title);  // in one line
    }
    if (const auto value = top.find("about")) read_text(*value, spec.about);
    std::string for_editors;
    if (const auto value = top.find("$schema")) read_text(*value, for_editors);
    if (const auto value = need(top, "cpu", "the description", kCpuExample, faults_)) read_cpu(*value);
    if (const auto value = top.find("bus")) read_bus(*value);
    if (const auto value = top.find("seed")) read_seed(*value);
    if (const auto value = top.find("chips")) read_chips(*value);
    if (const auto value = top.find("wires")) read_wires(*value, spec, faults_);
    find_wired();
    if (const auto value = top.find("program")) read_program(*value, images, spec, faults_);
    read_display(top.find("display"));
  }

  MachineSpec spec;

 private:
  void read_text(const JsonValue& value, std::string& text) {
    if (check_kind(value, JsonKind::string, in_quotes(value.key()), "a text", faults_))
      text = printable(value.text(), "\t\n");
  }

  static std::vector<PartName> processors() {
    std::vector<PartName> parts;
    for (const CpuType& type : cpu_types()) parts.push_back({type.chip.name, type.chip.title});
    return parts;
  }

  // Processor and bus -------------------------------------------------------------------------------------------------

  void read_cpu(const JsonValue& cpu) {
    if (!check_kind(cpu, JsonKind::object, "\"cpu\"", kCpuExample, faults_)) return;
    std::vector<std::string> names;
    for (const CpuType& type : cpu_types()) names.push_back(type.chip.name);
    if (const auto type = need(cpu, "type", "\"cpu\"", one_of(names), faults_)) {
      if (check_kind(*type, JsonKind::string, "\"type\" of \"cpu\"", one_of(names), faults_)) {
        spec.cpu = find_cpu(type->text());
        if (spec.cpu == nullptr) {
          faults_.add("unknown-cpu", type->place(), fmt::format("there is no processor {}", type->shown()),
                      one_of(names), type->shown(), part_hint(type->text(), processors(), ""));
        }
      }
    }
    std::vector<std::string> keys{"type", "clock", "crystal"};
    if (spec.cpu == nullptr || spec.cpu->internal_ram) keys.emplace_back("ram");
    const std::string subject = spec.cpu == nullptr ? "\"cpu\"" : fmt::format("\"cpu\" for {}", spec.cpu->chip.name);
    check_keys(cpu, subject, keys, faults_);
    if (spec.cpu == nullptr) return;
    read_clock(cpu);
    const auto ram = cpu.find("ram");
    if (!ram || !spec.cpu->internal_ram) return;
    spec.ram_enabled = read_setting(*ram, ram_setting(), "", faults_).value_or(1) != 0;
  }

  void read_clock(const JsonValue& cpu) {
    const int divisor = spec.cpu->crystal_divisor;
    const bool crystal = divisor != 1;
    const char* key = crystal ? "crystal" : "clock";
    const char* other = crystal ? "clock" : "crystal";
    const char* example = crystal ? "\"4 MHz\"" : "\"1 MHz\"";
    const auto value = cpu.find(key);
    if (const auto wrong = cpu.find(other)) {
      faults_.add(
          "wrong-clock", wrong->key_place(),
          fmt::format("{} takes {}, not {}", spec.cpu->chip.name, in_quotes(key), in_quotes(other)),
          fmt::format("{}: {}", in_quotes(key), example), fmt::format("{}: {}", in_quotes(other), wrong->shown()),
          crystal ? fmt::format("its oscillator is on the chip: name the crystal, {} times the bus frequency", divisor)
                  : "its clock comes from outside and runs at the bus frequency: name that");
      if (!value) return;
    }
    if (!need(cpu, key, "\"cpu\"", example, faults_)) return;
    spec.e_millihertz = read_setting(*value, clock_setting(*spec.cpu), "", faults_).value_or(0) / divisor;
  }

  void read_bus(const JsonValue& bus) {
    if (!check_kind(bus, JsonKind::object, "\"bus\"", "an object such as {\"keeper\": \"ones\"}", faults_)) return;
    check_keys(bus, "\"bus\"", {"keeper"}, faults_);
    const auto keeper = bus.find("keeper");
    if (!keeper) return;
    spec.keeper = static_cast<KeeperPolicy>(read_setting(*keeper, keeper_setting(), "", faults_).value_or(0));
  }

  void read_seed(const JsonValue& seed) {
    spec.seed = static_cast<std::uint64_t>(read_setting(seed, seed_setting(), "", faults_).value_or(1));
  }

  // Chips -------------------------------------------------------------------------------------------------------------

  void read_chips(const JsonValue& chips) {
    const std::string expected = "an object: the name of each chip, and what it is";
    if (!check_kind(chips, JsonKind::object, "\"chips\"", expected, faults_)) return;
    const std::vector<JsonValue> members = chips.children();
    if (members.size() > kMostChips) {
      faults_.add("too-many-chips", chips.key_place(), "there are too many chips",
                  fmt::format("at most {}", kMostChips), std::to_string(members.size()), "");
    }
    for (std::size_t i = 0; i < std::min(members.size(), kMostChips) && !faults_.full(); ++i) read_chip(members[i]);
    const auto placed = [](const ChipSpec& chip) { return chip.at.has_value(); };
    const std::ptrdiff_t count = std::count_if(spec.chips.begin(), spec.chips.end(), placed);
    if (count > kMostPlaced) {
      faults_.add("too-many-chips", chips.key_place(), "there are too many chips on the bus",
                  fmt::format("at most {} with \"at\"", kMostPlaced), std::to_string(count), "");
    }
  }

  void read_chip(const JsonValue& value) {
    ChipSpec& chip = spec.chips.emplace_back();
    chip.name = value.key();
    chip.pointer = value.pointer();
    const bool reserved = chip.name == "CPU" || chip.name == "RESET";
    if (reserved || !is_chip_name(chip.name)) {
      faults_.add("bad-chip-name", value.key_place(),
                  fmt::format("{} cannot be the name of a chip", in_quotes(chip.name)),
                  "a letter, then letters, digits, '_' and '-'", in_quotes(chip.name),
                  reserved ? "CPU means the processor and RESET the reset line: choose another name"
                           : "choose a name as on a schematic: PIA, U3, R1");
    }
    const std::string subject = fmt::format("chip {}", in_quotes(chip.name));
    const std::string expected = "an object such as {\"type\": \"resistor\", \"ohms\": \"4.7 kOhm\"}";
    if (!check_kind(value, JsonKind::object, subject, expected, faults_)) return;
    const std::string word = "a part number or trade word";
    const auto type = need(value, "type", subject, word, faults_);
    if (!type || !check_kind(*type, JsonKind::string, "\"type\" of " + chip.name, word, faults_)) return;
    chip.type = registry_.find(type->text());
    if (chip.type == nullptr) {
      std::vector<PartName> parts;
      for (const auto& known : registry_.types()) parts.push_back({known->name, known->title});
      const std::vector<std::string> processor = parts_meant(type->text(), processors());
      faults_.add("unknown-chip-type", type->place(), fmt::format("there is no chip type {}", type->shown()), word,
                  type->shown(),
                  processor.size() == 1 ? fmt::format("{} is a processor, and stands in \"cpu\"", processor[0])
                                        : part_hint(type->text(), parts, "`prewire list` shows every chip type"));
      return;
    }
    read_parameters(value, chip);
    if (!chip.type->bus) return;
    chip.bus = *chip.type->bus;
    if (chip.type->adapt) chip.type->adapt(chip.parameters, chip.bus);
    if (chip.type->has_parameter("power_up")) chip.power_up = static_cast<PowerUp>(chip.parameters["power_up"]);
    read_window(value, chip);
  }

  void read_parameters(const JsonValue& value, ChipSpec& chip) {
    std::vector<std::string> keys{"type"};
    if (chip.type->bus) keys.insert(keys.end(), {"at", "mirror"});
    for (const ParameterSpec& parameter : chip.type->parameters) {
      keys.emplace_back(parameter.name);
      std::optional<std::int64_t> number;
      if (const auto given = value.find(parameter.name)) {
        number = read_setting(*given, parameter, " of " + chip.name, faults_);
      } else if (parameter.required) {
        const std::vector<std::string> words(parameter.choices.begin(), parameter.choices.end());
        const std::string example = words.empty() ? std::string(quantity_example(parameter.unit)) : one_of(words);
        need(value, parameter.name, chip.name, fmt::format("{} ({})", example, parameter.help), faults_);
      }
      chip.parameters.set(parameter.name, number.value_or(parameter.fallback), number.has_value());
    }
    for (const JsonValue& member : value.children()) {
      const std::string& key = member.key();
      if (faults_.full() || std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
      if (key == "at" || key == "mirror") {
        faults_.add("not-on-bus", member.key_place(),
                    fmt::format("{} cannot have an address: it has no bus pins", chip.name), one_of(keys),
                    in_quotes(key), "remove the key, and wire the chip");
      } else {
        faults_.add("unknown-parameter", member.key_place(),
                    fmt::format("{} is no parameter of {}", in_quotes(key), chip.type->name), one_of(keys),
                    in_quotes(key), meant(key, keys, "remove the key"));
      }
    }
  }

  void read_window(const JsonValue& value, ChipSpec& chip) {
    const std::uint32_t size = chip.bus.size;
    const std::string addresses = size == 1 ? "1 address" : fmt::format("{} addresses", size);
    const auto at = value.find("at");
    const auto mirror = value.find("mirror");
    if (!at && mirror) {
      faults_.add("bad-mirror", mirror->key_place(), fmt::format("{} has a mirror but no place of its own", chip.name),
                  "\"at\" beside \"mirror\"", "\"mirror\" alone",
                  fmt::format("name the {} of the chip in \"at\"", addresses));
    } else if (!at && chip.bus.required) {
      unplaced_.emplace_back(spec.chips.size() - 1, value.key_place());
    }
    if (!at) return;
    const auto home = read_range(*at, "\"at\" of " + chip.name, faults_);
    if (!home) return;
    const std::uint32_t wide = std::uint32_t{home->last} - home->first + 1;
    const std::uint32_t last = home->first + size - 1;
    std::string fitting = "a range of " + addresses;
    if (last <= 0xFFFF) fitting = in_quotes(format_range({home->first, static_cast<std::uint16_t>(last)}));
    if (wide > size) {
      faults_.add("window-too-large", at->place(), fmt::format("the window of {} is larger than the chip", chip.name),
                  fmt::format("{}: {}", fitting, addresses), fmt::format("{}: {} addresses", at->shown(), wide),
                  "name the addresses of the chip in \"at\", and all at which it answers in \"mirror\"");
      return;
    }
    if (size > 1 && at->text().find('-') == std::string::npos) {
      faults_.add("bad-address", at->place(),
                  fmt::format("\"at\" of {} names one address, and the chip has {}", chip.name, size), fitting,
                  at->shown(), "name the first and the last address");
      return;
    }
    chip.at = home;
    if (mirror) read_mirror(*mirror, chip, wide == size);
  }

  void read_mirror(const JsonValue& value, ChipSpec& chip, bool whole) {
    const auto mirror = read_range(value, "\"mirror\" of " + chip.name, faults_);
    if (!mirror) return;
    if (mirror->first > chip.at->first || mirror->last < chip.at->last) {
      faults_.add("bad-mirror", value.place(),
                  fmt::format("the mirror of {} does not contain its own addresses", chip.name),
                  fmt::format("a range around {}", format_range(*chip.at)), value.shown(),
                  "name all addresses at which the chip answers, its own included");
    } else if (!whole) {
      faults_.add("bad-mirror", value.place(),
                  fmt::format("{} shows only a part of itself, so it cannot have a mirror", chip.name),
                  fmt::format("\"at\" with all {} addresses of the chip", chip.bus.size), format_range(*chip.at),
                  "widen \"at\", or remove \"mirror\"");
    } else {
      chip.mirror = mirror;
    }
  }

  /// What has no `at` may be on the bus by its wires.
  void find_wired() {
    const Nets nets(spec);
    for (std::size_t i = 0; i < spec.chips.size(); ++i) {
      spec.chips[i].wired = wired_to_bus(spec, nets, static_cast<int>(i));
    }
    for (const auto& [index, place] : unplaced_) {
      const ChipSpec& chip = spec.chips[index];
      if (chip.wired) continue;
      const std::uint32_t size = chip.bus.size;
      faults_.add("missing-at", place, fmt::format("{} has no place in the address map", chip.name),
                  fmt::format("\"at\": {}", size == 1 ? "an address such as \"$4000\""
                                                      : fmt::format("a range of {} addresses", size)),
                  "", "take it from the address decoder of the board, or wire all bus pins of the chip");
    }
  }

  // Display -----------------------------------------------------------------------------------------------------------

  void read_display(const std::optional<JsonValue>& display) {
    DisplaySpec all{"display", {}};
    std::vector<std::string> digits;
    for (std::size_t i = 0; i < spec.chips.size(); ++i) {
      if (spec.chips[i].type == nullptr || spec.chips[i].type->looks != Looks::digit) continue;
      all.chips.push_back(static_cast<int>(i));
      digits.push_back(spec.chips[i].name);
    }
    if (!display) {
      if (!digits.empty()) spec.displays.push_back(std::move(all));
      return;
    }
    const std::string expected = "an object such as {\"LEVEL\": [\"D10\", \"D1\"]}";
    if (!check_kind(*display, JsonKind::object, "\"display\"", expected, faults_)) return;
    for (const JsonValue& group : display->children()) {
      if (faults_.full()) return;
      const std::string subject = fmt::format("display {}", in_quotes(group.key()));
      if (!check_kind(group, JsonKind::array, subject, "a list of digits, left to right", faults_)) continue;
      DisplaySpec& shown = spec.displays.emplace_back(DisplaySpec{group.key(), {}});
      const std::vector<JsonValue> names = group.children();
      for (const JsonValue& name : names) read_digit(name, subject, digits, shown);
      if (!names.empty()) continue;
      faults_.add("empty-display", group.place(), fmt::format("{} has no digits", subject),
                  "a list of digits, left to right", "an empty list", "name the digits, or remove the group");
    }
  }

  void read_digit(const JsonValue& name, const std::string& subject, const std::vector<std::string>& digits,
                  DisplaySpec& shown) {
    if (faults_.full() || !check_kind(name, JsonKind::string, "a digit of " + subject, "the name of a chip", faults_)) {
      return;
    }
    const auto same = [&](const ChipSpec& chip) { return chip.name == name.text(); };
    const auto chip = std::find_if(spec.chips.begin(), spec.chips.end(), same);
    const auto expected = [&] {
      return digits.empty() ? "a digit, such as a seven-segment display" : list_of(digits, "or");
    };
    if (chip == spec.chips.end()) {
      faults_.add("unknown-chip", name.place(), fmt::format("there is no chip {}", name.shown()), expected(),
                  name.shown(), meant(name.text(), digits, "add the chip, or correct the name"));
      return;
    }
    if (chip->type == nullptr) return;
    if (chip->type->looks != Looks::digit) {
      faults_.add("not-a-digit", name.place(), fmt::format("{} is no digit but a {}", chip->name, chip->type->name),
                  expected(), name.shown(), meant(name.text(), digits, ""));
      return;
    }
    const auto index = static_cast<int>(chip - spec.chips.begin());
    if (std::find(shown.chips.begin(), shown.chips.end(), index) == shown.chips.end()) {
      shown.chips.push_back(index);
    } else {
      faults_.add("repeated-digit", name.place(), fmt::format("{} stands twice in {}", chip->name, subject),
                  "each digit once", name.shown(), "name the digits from left to right");
    }
  }

  const Registry& registry_;
  FaultList faults_;
  std::vector<std::pair<std::size_t, Place>> unplaced_;  // chips without an `at` that they need
};

}  // namespace

MachineSpec parse_machine(const JsonText& json, const std::string& name, const std::filesystem::path& folder,
                          const Registry& registry, const LoadOptions& options, std::vector<Fault>& faults) {
  FaultList list(faults);
  for (const Fault& fault : json.faults()) list.add(fault);
  MachineReader reader(registry, faults);
  const ProgramPlaces::Folder beside{folder.empty() ? options.root : folder,
                                     options.root.empty() ? folder : options.root};
  const bool elsewhere = !options.programs.empty();
  const ProgramPlaces images{elsewhere ? ProgramPlaces::Folder{options.programs, options.programs} : beside, beside,
                             options.given, options.stop};
  if (const auto top = json.root()) reader.read(*top, images);
  reader.spec.file = name;
  reader.spec.types = registry.types();
  reader.spec.chip_rules = registry.rules();
  return std::move(reader.spec);
}

MachineSpec parse_machine(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                          const Registry& registry, const LoadOptions& options, std::vector<Fault>& faults) {
  return parse_machine(JsonText(json, name, kMachineDescription), name, folder, registry, options, faults);
}

}  // namespace prewire
