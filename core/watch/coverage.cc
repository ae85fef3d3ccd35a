#include "prewire/coverage.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <string_view>
#include <utility>

#include "prewire/machine.h"
#include "prewire/text.h"
#include "watch/add.h"

namespace prewire {

namespace {

/// A line of source that is to be executed, or was.
struct Spot {
  const SourceMap* map;
  const SourceMap::Line* line;
  Coverage::Count count;  // of the most executed byte
  bool branch;            // by a condition
};

bool is_branch(const Coverage& coverage, const SourceMap::Line& line) {
  const Coverage::Count& count = coverage.at(line.address);
  const Flow flow = count.opcode >= 0 ? count.flow : outline(coverage.machine(), line.address).flow;
  return line.kind == LineKind::instruction && flow == Flow::branch;
}

/// What a line means for coverage; empty for one that is no instruction and was not executed.
std::optional<Spot> spot_of(const Coverage& coverage, const SourceMap& map, const SourceMap::Line& line) {
  if (line.kind == LineKind::nothing || line.kind == LineKind::value || line.kind == LineKind::place) {
    return std::nullopt;
  }
  Spot spot{&map, &line, {}, is_branch(coverage, line)};
  for (std::uint32_t i = 0; i < line.size; ++i) {
    const Coverage::Count& count = coverage.at(static_cast<std::uint16_t>(line.address + i));
    if (count.executed > spot.count.executed) spot.count = count;
  }
  if (line.kind != LineKind::instruction && spot.count.executed == 0) return std::nullopt;
  return spot;
}

/// The source maps of the machine's programs.
std::vector<const SourceMap*> maps_of(const Machine& machine) {
  std::vector<const SourceMap*> maps;
  for (const Image* image : machine.programs()) {
    if (image->source != nullptr) maps.push_back(image->source.get());
  }
  return maps;
}

/// Executed addresses that no line of source stands for.
std::vector<std::uint16_t> without_source(const Coverage& coverage) {
  std::vector<std::uint16_t> addresses;
  for (unsigned address = 0; address < 65536; ++address) {
    const auto at = static_cast<std::uint16_t>(address);
    if (coverage.at(at).executed > 0 && !coverage.machine().source_at(at)) addresses.push_back(at);
  }
  return addresses;
}

struct Function {
  std::string name;
  std::uint64_t entered = 0;
};

struct Branch {
  std::uint64_t executed = 0, taken = 0, passed = 0;
};

/// What is known of one file of source. A line of a macro counts for all places where it stands.
struct FileRecord {
  std::map<int, std::uint64_t> lines;
  std::map<int, std::vector<Branch>> branches;
  std::map<int, std::vector<Function>> functions;
};

std::set<std::uint16_t> called(const Coverage& coverage, const std::vector<const SourceMap*>& maps) {
  std::set<std::uint16_t> targets;
  for (const SourceMap* map : maps) {
    for (const SourceMap::Line& line : map->lines) {
      if (line.kind != LineKind::instruction) continue;
      const Outline brief = outline(coverage.machine(), line.address);
      if (brief.flow == Flow::call && brief.target) targets.insert(*brief.target);
    }
  }
  for (unsigned address = 0; address < 65536; ++address) {
    if (coverage.at(static_cast<std::uint16_t>(address)).entered > 0) {
      targets.insert(static_cast<std::uint16_t>(address));
    }
  }
  return targets;
}

std::map<std::string, FileRecord> records_of(const Coverage& coverage) {
  const std::vector<const SourceMap*> maps = maps_of(coverage.machine());
  std::map<std::string, FileRecord> records;
  for (const SourceMap* map : maps) {
    for (const SourceMap::Line& line : map->lines) {
      const auto spot = spot_of(coverage, *map, line);
      if (!spot) continue;
      FileRecord& record = records[map->files[static_cast<std::size_t>(line.file)]];
      record.lines[line.number] += spot->count.executed;
      if (spot->branch) {
        record.branches[line.number].push_back({spot->count.executed, spot->count.taken, spot->count.passed});
      }
    }
  }
  for (const std::uint16_t target : called(coverage, maps)) {
    const std::string_view label = coverage.machine().label_at(target);
    for (const SourceMap* map : maps) {
      const SourceMap::Symbol* symbol = label.empty() ? nullptr : map->find(label);
      if (symbol == nullptr || symbol->value != target) continue;
      FileRecord& record = records[map->files[static_cast<std::size_t>(symbol->file)]];
      record.functions[symbol->line].push_back({symbol->name, coverage.at(target).entered});
      break;
    }
  }
  return records;
}

void add_functions(std::string& text, const FileRecord& record) {
  int found = 0, hit = 0;
  for (const auto& [line, functions] : record.functions) {
    for (const Function& function : functions) add(text, "FN:{},{}\n", line, function.name);
  }
  for (const auto& [line, functions] : record.functions) {
    for (const Function& function : functions) {
      add(text, "FNDA:{},{}\n", function.entered, function.name);
      ++found;
      hit += function.entered > 0;
    }
  }
  add(text, "FNF:{}\nFNH:{}\n", found, hit);
}

void add_branches(std::string& text, const FileRecord& record) {
  int found = 0, hit = 0;
  for (const auto& [line, branches] : record.branches) {
    for (std::size_t block = 0; block < branches.size(); ++block) {
      const Branch& branch = branches[block];
      int way = 0;
      for (const std::uint64_t count : {branch.taken, branch.passed}) {
        // A dash: the branch itself was not reached.
        add(text, "BRDA:{},{},{},{}\n", line, block, way++, branch.executed == 0 ? "-" : std::to_string(count));
        ++found;
        hit += count > 0;
      }
    }
  }
  add(text, "BRF:{}\nBRH:{}\n", found, hit);
}

void add_lines(std::string& text, const std::map<int, std::uint64_t>& lines) {
  int hit = 0;
  for (const auto& [line, count] : lines) {
    add(text, "DA:{},{}\n", line, count);
    hit += count > 0;
  }
  add(text, "LF:{}\nLH:{}\n", lines.size(), hit);
}

/// "12 of 20, 60 %".
std::string part(std::uint64_t some, std::uint64_t all) {
  if (all == 0) return "none";
  return fmt::format("{} of {}, {} %", some, all, some * 100 / all);
}

std::string counts_of(const Coverage::Count& count, bool branch) {
  const std::string executed = count.executed == 0 ? "never" : std::to_string(count.executed);
  if (!branch || count.executed == 0) return fmt::format("{:>12} {:>12} {:>12}", executed, "", "");
  return fmt::format("{:>12} {:>12} {:>12}", executed, count.taken, count.passed);
}

void add_source(std::string& text, const Coverage& coverage, const SourceMap& map) {
  std::uint64_t instructions = 0, executed = 0, ways = 0, gone = 0;
  std::string body;
  int file = -1;
  for (const SourceMap::Line& line : map.lines) {
    if (line.file != file) {
      file = line.file;
      add(body, "\n{}\n", printable(map.files[static_cast<std::size_t>(file)]));
    }
    const auto spot = spot_of(coverage, map, line);
    if (spot) {
      ++instructions;
      executed += spot->count.executed > 0;
      ways += spot->branch ? 2 : 0;
      gone += spot->branch ? (spot->count.taken > 0) + (spot->count.passed > 0) : 0;
    }
    const std::string counts = spot ? counts_of(spot->count, spot->branch) : std::string(38, ' ');
    std::string whole = fmt::format("{} {:>6}{} {}", counts, line.number, line.expanded ? '+' : ' ', line.text);
    whole.erase(whole.find_last_not_of(" \t\r") + 1);
    body += whole + "\n";
  }
  add(text, "\n{}: instructions {}; ways of branches {}\n", printable(map.files.at(0)), part(executed, instructions),
      part(gone, ways));
  add(text, "{:>12} {:>12} {:>12} {:>6}  source\n", "executed", "taken", "not taken", "line");
  text += body;
}

/// Instructions of all sources, and what else of them was executed, by address: each place of a macro by itself.
void add_addresses(std::string& text, const Coverage& coverage, const std::vector<const SourceMap*>& maps) {
  std::map<std::uint16_t, std::string> places;
  for (const SourceMap* map : maps) {
    for (const SourceMap::Line& line : map->lines) {
      if (!spot_of(coverage, *map, line)) continue;
      const std::string place =
          fmt::format("{}:{}", printable(map->files[static_cast<std::size_t>(line.file)]), line.number);
      if (line.kind == LineKind::instruction) places.emplace(line.address, place);
      for (std::uint32_t i = 0; i < line.size; ++i) {
        const auto at = static_cast<std::uint16_t>(line.address + i);
        if (coverage.at(at).executed > 0) places.emplace(at, place);
      }
    }
  }
  if (places.empty()) return;
  add(text, "\nBy address\n{:>12} {:>12} {:>12}  address  {:<20} source\n", "executed", "taken", "not taken",
      "instruction");
  for (const auto& [address, place] : places) {
    const Coverage::Count& count = coverage.at(address);
    add(text, "{}  ${:04X}    {:<20} {}\n", counts_of(count, count.flow == Flow::branch), address,
        disassemble(coverage.machine(), address).text, place);
  }
}

void add_record(std::string& text, std::string_view file, const FileRecord& record) {
  add(text, "{}{}\n", kTracefileMark, printable(file));
  add_functions(text, record);
  add_branches(text, record);
  add_lines(text, record.lines);
  text += "end_of_record\n";
}

}  // namespace

// ---------------------------------------------------------------------------------------------------------------------
// Counting

void Coverage::add(const Coverage& other) {
  ++merged_;
  for (std::size_t i = 0; i < counts_.size(); ++i) {
    Count& count = counts_[i];
    const Count& more = other.counts_[i];
    const bool other_code = more.opcode >= 0 && (count.opcode < 0 || more.opcode < count.opcode);
    if (other_code) {
      count.opcode = more.opcode;
      count.flow = more.flow;
      count.next = more.next;
    }
    count.executed += more.executed;
    count.taken += more.taken;
    count.passed += more.passed;
    count.entered += more.entered;
  }
}

/// The instruction before `pc` was no plain one.
void Coverage::follow(std::uint16_t pc, int opcode) {
  Count& before = *std::exchange(before_, nullptr);
  if (opcode == static_cast<int>(Entry::reset)) return;  // which may have cut it short
  if (before.flow == Flow::branch) ++(pc == before.next ? before.passed : before.taken);
  if (before.flow == Flow::call || before.flow == Flow::software_interrupt) ++counts_[pc].entered;
}

void Coverage::enter(int opcode) {
  if (opcode != static_cast<int>(Entry::reset)) before_ = &entry_;
}

void Coverage::learn(Count& count, std::uint16_t pc, int opcode) const {
  const Outline brief = outline(machine_, pc);
  count.opcode = opcode;
  count.flow = brief.flow;
  count.next = static_cast<std::uint16_t>(pc + brief.bytes);
}

// ---------------------------------------------------------------------------------------------------------------------
// Reports

std::string lcov_tracefile(const Coverage& coverage) {
  std::string text;
  for (const auto& [file, record] : records_of(coverage)) add_record(text, file, record);
  FileRecord unknown;
  for (const std::uint16_t address : without_source(coverage)) {
    const Coverage::Count& count = coverage.at(address);
    unknown.lines[address] = count.executed;
    if (count.flow == Flow::branch) unknown.branches[address] = {{count.executed, count.taken, count.passed}};
  }
  if (!unknown.lines.empty() || text.empty()) add_record(text, kNoSource, unknown);
  return text;
}

std::string annotated_listing(const Coverage& coverage) {
  const Machine& machine = coverage.machine();
  const bool merged = coverage.merged() > 0;
  std::string text = fmt::format("{}{} {} {}\n", kListingMark, machine.title(), merged ? "in" : "after",
                                 merged ? counted(coverage.merged(), "run") : counted(machine.now(), "cycle"));
  const std::vector<const SourceMap*> maps = maps_of(machine);
  for (const SourceMap* map : maps) add_source(text, coverage, *map);
  add_addresses(text, coverage, maps);
  const std::vector<std::uint16_t> rest = without_source(coverage);
  if (rest.empty()) return text;
  add(text, "\nWithout source\n{:>12} {:>12} {:>12}  address  instruction\n", "executed", "taken", "not taken");
  for (const std::uint16_t address : rest) {
    const Coverage::Count& count = coverage.at(address);
    const std::string line = disassemble(machine, address).text;
    add(text, "{}  ${:04X}    {}\n", counts_of(count, count.flow == Flow::branch), address, line);
  }
  return text;
}

}  // namespace prewire
