#include "description/parse.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "cpu/cpus.h"
#include "description/address_map.h"
#include "description/boards.h"
#include "description/part_names.h"
#include "description/programs.h"
#include "description/ranges.h"
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

constexpr std::size_t kMostBoards = 16;

constexpr const char* kCpuExample = "an object such as {\"type\": \"mc6800\", \"clock\": \"1 MHz\"}";

class MachineReader {
 public:
  MachineReader(const Registry& registry, std::vector<Fault>& faults, std::vector<std::filesystem::path> board_folders)
      : registry_(registry), faults_(faults), board_folders_(std::move(board_folders)) {}

  void read(const JsonValue& top, const ProgramPlaces& images) {
    if (!check_kind(top, JsonKind::object, kMachineDescription, "an object with \"machine\" and \"cpu\"", faults_)) {
      return;
    }
    check_keys(top, kMachineDescription,
               {"machine", "about", "cpu", "bus", "seed", "boards", "chips", "wires", "program", "display", "$schema"},
               faults_);
    if (const auto value = need(top, "machine", "the description", "a title", faults_)) {
      read_text(*value, spec.title);
      spec.title = printable(spec.title);  // in one line
    }
    if (const auto value = top.find("about")) read_text(*value, spec.about);
    std::string for_editors;
    if (const auto value = top.find("$schema")) read_text(*value, for_editors);
    const auto cpu = top.find("cpu");
    if (cpu) read_cpu(*cpu);
    if (const auto value = top.find("boards")) read_boards(*value, images);
    if (!cpu && !cpu_seen_) need(top, "cpu", "the description", kCpuExample, faults_);
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
  // Boards ------------------------------------------------------------------------------------------------------------

  void read_boards(const JsonValue& boards, const ProgramPlaces& images) {
    const std::string expected = "an object such as {\"TRAINER\": \"trainer\"}";
    if (!check_kind(boards, JsonKind::object, "\"boards\"", expected, faults_)) return;
    for (const JsonValue& board : boards.children()) {
      if (faults_.full() || spec.boards.size() == kMostBoards) break;
      check_name(board, board.key());
      const auto file = find_board(board, board_folders_, faults_);
      if (!is_chip_name(board.key())) continue;
      if (file) {
        read_board(board.key(), *file, images);
      } else {
        spec.boards.push_back({board.key(), nullptr});
        cpu_seen_ = true;  // it may have been there
      }
    }
    if (boards.children().size() > kMostBoards) {
      faults_.add("too-many-chips", boards.key_place(), "there are too many boards",
                  fmt::format("at most {}", kMostBoards), std::to_string(boards.children().size()), "");
    }
  }

  /// What a machine file has, but for a title, and connectors; boards of its own it has none.
  void read_board(const std::string& name, const BoardFile& file, const ProgramPlaces& images) {
    const JsonValue top = *file.text->root();
    if (!check_kind(top, JsonKind::object, "a board", "an object with \"board\" and \"chips\"", faults_)) return;
    if (const auto nested = top.find("boards")) {
      faults_.add("nested-board", nested->key_place(), "a board takes in no other boards", "chips and wires",
                  nested->shown(), "take both in the machine file, and wire their connectors");
      return;
    }
    check_keys(top, "a board",
               {"board", "about", "cpu", "bus", "chips", "wires", "connectors", "program", "display", "$schema"},
               faults_);
    std::string text;
    if (const auto value = need(top, "board", "the board", "a title", faults_)) read_text(*value, text);
    if (const auto value = top.find("about")) read_text(*value, text);
    if (const auto value = top.find("$schema")) read_text(*value, text);
    if (const auto value = top.find("cpu")) {
      if (cpu_seen_) {
        faults_.add("two-processors", value->key_place(), fmt::format("{} brings a second processor", name),
                    "one processor in a machine", value->shown(),
                    "leave \"cpu\" out of the machine file, or take a board without one");
      } else {
        read_cpu(*value);
      }
    }
    if (const auto value = top.find("bus")) read_bus(*value);
    spec.boards.push_back({name, file.text});
    prefix_ = name + ".";
    pointer_prefix_ = name + ":";
    if (const auto value = top.find("chips")) read_chips(*value);
    if (const auto value = top.find("wires")) read_board_wires(*value, spec, faults_);
    if (const auto value = top.find("connectors")) read_connectors(*value, spec, faults_);
    const ProgramPlaces beside{{file.folder, file.folder}, {file.folder, file.folder}, {}, images.stop};
    if (const auto value = top.find("program")) read_program(*value, beside, spec, faults_);
    if (const auto value = top.find("display")) read_display(value);
    prefix_.clear();
    pointer_prefix_.clear();
  }

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
    cpu_seen_ = true;
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
    for (std::size_t i = 0; i < std::min(members.size(), kMostChips) && !faults_.full(); ++i) {
      if (!read_chips_of(members[i])) break;
    }
    const auto placed = [](const ChipSpec& chip) { return chip.at.has_value(); };
    const std::ptrdiff_t count = std::count_if(spec.chips.begin(), spec.chips.end(), placed);
    if (count > kMostPlaced) {
      faults_.add("too-many-chips", chips.key_place(), "there are too many chips on the bus",
                  fmt::format("at most {} with \"at\"", kMostPlaced), std::to_string(count), "");
    }
  }

  /// One entry: a chip, a range of chips, or a package of several. Whether there is room for it.
  bool read_chips_of(const JsonValue& value) {
    std::vector<std::string> names{value.key()};
    if (const auto ends = range_ends(value.key())) {
      names = expand_range(ends->first, ends->second);
      if (names.empty()) {
        faults_.add("bad-chip-name", value.key_place(), fmt::format("{} is no range of chips", in_quotes(value.key())),
                    "a range such as \"R0..R7\" or \"R0..7\"", in_quotes(value.key()),
                    "both names differ in their number, without a 0 in front, or in their last letter");
        return true;
      }
    }
    const std::size_t wrong = faults_.count();
    for (const std::string& name : names) check_name(value, name);
    for (std::string& name : names) name.insert(0, prefix_);
    if (faults_.count() > wrong && names.size() > 1) return true;
    ChipSpec chip;
    chip.name = prefix_ + value.key();
    chip.pointer = pointer_prefix_ + value.pointer();
    nowhere_ = false;
    read_chip(value, chip);
    if (names.size() > 1 && chip.at) {
      faults_.add("bad-address", value.find("at")->place(),
                  fmt::format("all chips of {} would answer at one address", in_quotes(value.key())),
                  "a place for each chip on the bus", value.find("at")->shown(),
                  "write them one by one, each with an \"at\" of its own");
      return true;
    }
    const std::size_t parts = chip.type == nullptr ? 1 : std::max<std::size_t>(1, chip.type->units.size());
    if (spec.chips.size() + names.size() * parts > kMostChips) {
      faults_.add("too-many-chips", value.key_place(), "there are too many chips",
                  fmt::format("at most {}", kMostChips), fmt::format("{} and more", spec.chips.size()), "");
      return false;
    }
    for (std::string& name : names) {
      chip.name = std::move(name);
      if (chip.type == nullptr || chip.type->units.empty()) {
        if (nowhere_) unplaced_.emplace_back(spec.chips.size(), value.key_place());
        spec.chips.push_back(chip);
      } else {
        add_package(chip, value);
      }
    }
    return true;
  }

  void check_name(const JsonValue& value, const std::string& name) {
    const bool reserved = name == "CPU" || name == "RESET";
    if (reserved || !is_chip_name(name)) {
      faults_.add("bad-chip-name", value.key_place(), fmt::format("{} cannot be the name of a chip", in_quotes(name)),
                  "a letter, then letters, digits, '_' and '-'", in_quotes(name),
                  reserved ? "CPU means the processor and RESET the reset line: choose another name"
                           : "choose a name as on a schematic: PIA, U3, R1");
    }
    take_name(value, name);
  }

  /// Each name means one thing. Keys that stand twice are the business of JSON.
  void take_name(const JsonValue& value, const std::string& name) {
    const auto [known, fresh] = names_.emplace(prefix_ + name, value.pointer());
    if (fresh || known->second == value.pointer()) return;
    faults_.add("duplicate-chip", value.key_place(),
                fmt::format("{} is there already, at {}", in_quotes(name), known->second), "each name once",
                in_quotes(value.key()), "rename or remove one of them");
  }

  /// A part for each unit, and a wire for each pin that units have in common.
  void add_package(const ChipSpec& whole, const JsonValue& value) {
    const ChipType& type = *whole.type;
    const auto first = static_cast<int>(spec.chips.size());
    std::vector<WireSpec> shared(type.pins.size());
    for (std::size_t unit = 0; unit < type.units.size(); ++unit) {
      ChipSpec part;
      part.name = fmt::format("{}-{}", whole.name, unit + 1);
      part.type = registry_.find(type.units[unit].type);
      part.pointer = whole.pointer;
      part.package = static_cast<int>(spec.packages.size());
      take_name(value, part.name.substr(prefix_.size()));
      if (part.type == nullptr) {
        faults_.add(
            "unknown-chip-type", value.key_place(),
            fmt::format("there is no chip type {}, which {} is made of", in_quotes(type.units[unit].type), type.name),
            "a registry with both", "", "");
        return;
      }
      for (const ParameterSpec& parameter : part.type->parameters) {
        const bool has = type.has_parameter(parameter.name);
        part.parameters.set(parameter.name, has ? whole.parameters[parameter.name] : parameter.fallback,
                            has && whole.parameters.given(parameter.name));
      }
      if (type.share) type.share(whole.parameters, static_cast<int>(unit), part.parameters);
      for (std::size_t pin = 0; pin < type.units[unit].pins.size(); ++pin) {
        WireSpec& wire = shared[static_cast<std::size_t>(type.units[unit].pins[pin])];
        wire.pins.push_back({first + static_cast<int>(unit), static_cast<int>(pin)});
        wire.pointer = whole.pointer;
      }
      spec.chips.push_back(std::move(part));
    }
    for (WireSpec& wire : shared) {
      if (wire.pins.size() > 1) spec.wires.push_back(std::move(wire));
    }
    spec.packages.push_back({whole.name, whole.type, first, whole.pointer});
  }

  void read_chip(const JsonValue& value, ChipSpec& chip) {
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
      nowhere_ = true;
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
      if (!digits.empty() && spec.displays.empty()) spec.displays.push_back(std::move(all));
      return;
    }
    const std::string expected = "an object such as {\"LEVEL\": [\"D10\", \"D1\"]}";
    if (!check_kind(*display, JsonKind::object, "\"display\"", expected, faults_)) return;
    for (const JsonValue& group : display->children()) {
      if (faults_.full()) return;
      const std::string subject = fmt::format("display {}", in_quotes(group.key()));
      if (!check_kind(group, JsonKind::array, subject, "a list of digits, left to right", faults_)) continue;
      const auto taken = [&](const DisplaySpec& other) { return other.name == group.key(); };
      const bool known = std::any_of(spec.displays.begin(), spec.displays.end(), taken);
      DisplaySpec& shown = spec.displays.emplace_back(DisplaySpec{(known ? prefix_ : "") + group.key(), {}});
      const std::vector<JsonValue> names = group.children();
      for (const JsonValue& name : names) read_digits(name, subject, digits, shown);
      if (!names.empty()) continue;
      faults_.add("empty-display", group.place(), fmt::format("{} has no digits", subject),
                  "a list of digits, left to right", "an empty list", "name the digits, or remove the group");
    }
  }

  void read_digits(const JsonValue& value, const std::string& subject, const std::vector<std::string>& digits,
                   DisplaySpec& shown) {
    if (faults_.full() ||
        !check_kind(value, JsonKind::string, "a digit of " + subject, "the name of a chip", faults_)) {
      return;
    }
    const auto ends = range_ends(value.text());
    const std::vector<std::string> names = ends ? expand_range(ends->first, ends->second) : std::vector<std::string>{};
    if (names.empty()) return read_digit(value, value.text(), subject, digits, shown);
    for (const std::string& name : names) read_digit(value, name, subject, digits, shown);
  }

  void read_digit(const JsonValue& value, const std::string& name, const std::string& subject,
                  const std::vector<std::string>& digits, DisplaySpec& shown) {
    const int number = spec.chip_named(prefix_ + name);
    const auto chip = number < 0 ? spec.chips.end() : spec.chips.begin() + number;
    const auto expected = [&] {
      return digits.empty() ? "a digit, such as a seven-segment display" : list_of(digits, "or");
    };
    if (chip == spec.chips.end()) {
      faults_.add("unknown-chip", value.place(), fmt::format("there is no chip {}", in_quotes(name)), expected(),
                  value.shown(), meant(name, digits, "add the chip, or correct the name"));
      return;
    }
    if (chip->type == nullptr) return;
    if (chip->type->looks != Looks::digit) {
      faults_.add("not-a-digit", value.place(), fmt::format("{} is no digit but a {}", chip->name, chip->type->name),
                  expected(), value.shown(), meant(name, digits, ""));
      return;
    }
    const auto index = static_cast<int>(chip - spec.chips.begin());
    if (std::find(shown.chips.begin(), shown.chips.end(), index) == shown.chips.end()) {
      shown.chips.push_back(index);
    } else {
      faults_.add("repeated-digit", value.place(), fmt::format("{} stands twice in {}", chip->name, subject),
                  "each digit once", value.shown(), "name the digits from left to right");
    }
  }

  const Registry& registry_;
  FaultList faults_;
  const std::vector<std::filesystem::path> board_folders_;
  std::map<std::string, std::string> names_;  // of chips and boards, and where each comes from
  std::string prefix_, pointer_prefix_;       // while a board is read
  bool cpu_seen_ = false;
  bool nowhere_ = false;  // the chip that is read has no `at`, which it needs if no wires select it
  std::vector<std::pair<std::size_t, Place>> unplaced_;  // chips without an `at` that they need
};

}  // namespace

MachineSpec parse_machine(const JsonText& json, const std::string& name, const std::filesystem::path& folder,
                          const Registry& registry, const LoadOptions& options, std::vector<Fault>& faults) {
  FaultList list(faults);
  for (const Fault& fault : json.faults()) list.add(fault);
  std::vector<std::filesystem::path> board_folders = options.boards;
  if (!folder.empty()) board_folders.insert(board_folders.begin(), folder);
  MachineReader reader(registry, faults, std::move(board_folders));
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
