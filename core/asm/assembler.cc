// From a source to an image and the map that explains it.
#include "prewire/assembler.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "asm/expander.h"
#include "asm/faults.h"
#include "asm/layout.h"
#include "asm/timing.h"
#include "asm/warnings.h"
#include "prewire/text.h"

namespace prewire {

namespace {

using namespace assembler;

Fault whole(const std::string& name, const char* id, Words words) {
  return {.id = id,
          .weight = Weight::stop,
          .place = {.file = name},
          .what = std::move(words.what),
          .expected = std::move(words.expected),
          .found = std::move(words.found),
          .hint = std::move(words.hint)};
}

void choose_target(Program& program, const std::string& name, const std::string& part) {
  if (part.empty()) return;
  program.part = part_of(part);
  program.target = Target::find(program.part);
  if (program.target != nullptr) return;
  const std::vector<std::string> parts = part_names();
  throw InputError(whole(name, "asm-cpu",
                         {.what = "there is no such processor to assemble for",
                          .expected = fmt::format("{}", fmt::join(parts, ", ")),
                          .found = part,
                          .hint = meant(did_you_mean(program.part, parts))}));
}

LineKind kind_of(Statement::Op op) {
  using Op = Statement::Op;
  switch (op) {
    case Op::instruction: return LineKind::instruction;
    case Op::equ:
    case Op::set: return LineKind::value;
    case Op::fcb:
    case Op::fdb:
    case Op::fcc:
    case Op::fill: return LineKind::data;
    case Op::rmb: return LineKind::space;
    case Op::label:
    case Op::org: return LineKind::place;
    default: return LineKind::nothing;
  }
}

/// Adds what a statement says about its line.
void describe(const Layout& layout, const Statement& statement, SourceMap::Line& line) {
  line.kind = kind_of(statement.op);
  const bool result = line.kind == LineKind::value || statement.op == Statement::Op::org;
  line.address = static_cast<std::uint16_t>(result ? statement.result : statement.address);
  if (line.kind == LineKind::value) return;
  line.size = statement.size;
  line.block = statement.label >= 0 || statement.op == Statement::Op::org;
  if (statement.op != Statement::Op::instruction) return;
  std::array<std::uint8_t, 6> bytes{};
  // Behind a fault nobody gets here, so the bytes are there.
  for (std::uint32_t i = 0; i < statement.size; ++i) bytes[i] = layout.byte(statement.address + i);
  const Timing timing = timing_of(*statement.row, std::span(bytes).first(statement.size));
  line.cycles = timing.cycles;
  line.most_cycles = timing.most;
}

std::shared_ptr<const SourceMap> map_of(const Program& program, const Layout& layout, bool lines) {
  auto map = std::make_shared<SourceMap>();
  map->cpu = program.part;
  map->title = printable(program.title);
  for (int i = 0; i < program.source.file_count(); ++i) map->files.push_back(program.source.file(i).name);
  if (!lines) return map;
  map->lines.reserve(static_cast<std::size_t>(program.source.line_count()));
  auto statement = program.statements.begin();
  for (int i = 0; i < program.source.line_count(); ++i) {
    const SourceLine& line = program.source.line(i);
    SourceMap::Line& shown = map->lines.emplace_back();
    shown.file = line.file;
    shown.number = line.number;
    shown.expanded = line.caller >= 0;
    shown.text = printable(line.text, "\t");
    for (; statement != program.statements.end() && statement->line == i; ++statement) {
      describe(layout, *statement, shown);
    }
  }
  const auto use_of = [&](int line) {
    return SourceMap::Use{program.source.line(line).file, program.source.line(line).number};
  };
  const auto add = [&](std::string name, SourceMap::SymbolKind kind, std::int64_t value, int line,
                       const std::vector<int>& uses) {
    SourceMap::Symbol& symbol = map->symbols.emplace_back();
    symbol.name = std::move(name);
    symbol.kind = kind;
    symbol.value = static_cast<std::int32_t>(value);
    symbol.file = use_of(line).file;
    symbol.line = use_of(line).line;
    for (const int use : uses) symbol.uses.push_back(use_of(use));
    // The lines of a macro come again with every call.
    std::sort(symbol.uses.begin(), symbol.uses.end());
    symbol.uses.erase(std::unique(symbol.uses.begin(), symbol.uses.end()), symbol.uses.end());
  };
  for (int i = 0; i < program.symbols.count(); ++i) {
    const Symbol& symbol = program.symbols[i];
    using Kind = SourceMap::SymbolKind;
    const Kind kind = symbol.kind == Symbol::Kind::label ? Kind::label
                      : symbol.kind == Symbol::Kind::equ ? Kind::constant
                                                         : Kind::variable;
    add(symbol.name, kind, symbol.value, symbol.defined.line, symbol.uses);
  }
  for (const Macro& macro : program.macros) add(macro.name, SourceMap::SymbolKind::macro, 0, macro.line, macro.uses);
  std::sort(map->symbols.begin(), map->symbols.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
  return map;
}

std::vector<Segment> segments_of(const Layout& layout) {
  std::vector<Segment> segments;
  for (std::uint32_t at = 0; at <= 0xFFFF; ++at) {
    if (!layout.used(at)) {
      at += Layout::kPage - 1;  // at the start of a page
      continue;
    }
    if (layout.owner(at) < 0) continue;
    const std::uint32_t first = at;
    while (at <= 0xFFFF && layout.owner(at) >= 0) ++at;
    segments.push_back({first, layout.bytes(first, at)});
    --at;
  }
  return segments;
}

}  // namespace

std::string_view to_string(LineKind kind) {
  switch (kind) {
    case LineKind::nothing: return "nothing";
    case LineKind::value: return "value";
    case LineKind::place: return "place";
    case LineKind::instruction: return "instruction";
    case LineKind::data: return "data";
    case LineKind::space: return "space";
  }
  return "";
}

std::string_view to_string(SourceMap::SymbolKind kind) {
  switch (kind) {
    case SourceMap::SymbolKind::label: return "label";
    case SourceMap::SymbolKind::constant: return "constant";
    case SourceMap::SymbolKind::variable: return "variable";
    case SourceMap::SymbolKind::macro: return "macro";
  }
  return "";
}

const SourceMap::Line* SourceMap::at(std::uint16_t address) const {
  for (const Line& line : lines) {
    const bool bytes = line.kind == LineKind::instruction || line.kind == LineKind::data;
    if (bytes && address >= line.address && address - line.address < static_cast<std::int64_t>(line.size)) return &line;
  }
  return nullptr;
}

const SourceMap::Symbol* SourceMap::find(std::string_view name) const {
  const auto found =
      std::lower_bound(symbols.begin(), symbols.end(), name,
                       [](const Symbol& symbol, std::string_view wanted) { return symbol.name < wanted; });
  return found != symbols.end() && found->name == name ? &*found : nullptr;
}

std::vector<std::string> assembler_cpus() { return part_names(); }

namespace {

Image assemble_text(std::string source, const std::string& name, const AssemblyOptions& options) {
  if (source.size() > kMostSourceBytes) {
    throw InputError(whole(name, "asm-too-long",
                           {.what = "the source is too large",
                            .expected = "at most 4 MiB",
                            .found = fmt::format("{} bytes", source.size())}));
  }
  Program program(options.stop);
  choose_target(program, name, options.cpu);
  // Room for the lines of most programs: growing means touching memory twice.
  constexpr std::size_t kUsual = 20'000;
  const auto lines = static_cast<std::size_t>(std::count(source.begin(), source.end(), '\n')) + 1;
  program.make_room(std::min(lines, kUsual));
  program.source.add_file(name, options.folder, std::move(source));
  Expander(program, options.root.empty() ? options.folder : options.root).run();
  if (program.faults.full()) throw InputError(std::move(program.faults.list()));
  look_behind_blanks(program);
  const auto layout = std::make_unique<Layout>(program);
  layout->run();
  look_at_program(program, *layout);

  Image image;
  image.segments = segments_of(*layout);
  std::vector<Fault>& faults = program.faults.list();
  if (image.segments.empty() && !program.faults.any()) {
    faults.push_back(whole(name, "asm-empty",
                           {.what = "the source makes no bytes",
                            .expected = "instructions or data",
                            .hint = "what stands in the first column is a label; instructions stand in the second"}));
    throw InputError(std::move(faults));
  }
  program.faults.group_remarks();
  if (program.faults.any()) throw InputError(std::move(faults));
  image.header = program.title.empty() ? std::filesystem::path(name).stem().string() : program.title;
  for (char& c : image.header) c = c >= ' ' && c <= '~' ? c : '.';
  if (program.entry >= 0) {
    const Value entry = program.evaluate(program.entry, 0, 0, program.entry_line, nullptr);
    image.entry = static_cast<std::uint32_t>(entry.number & 0xFFFF);
  }
  image.source = map_of(program, *layout, options.lines);
  image.remarks = std::move(faults);
  return image;
}

}  // namespace

Image assemble(std::string_view source, const std::string& name, const AssemblyOptions& options) {
  return assemble_text(std::string(source), name, options);
}

Image assemble_file(const std::filesystem::path& path, AssemblyOptions options) {
  std::string error;
  std::string text = read_source(path, error);
  if (!error.empty()) {
    throw InputError(whole(path.string(), "asm-unreadable",
                           {.what = "the source cannot be read",
                            .expected = "a file of at most 4 MiB",
                            .found = error,
                            .hint = "check the path"}));
  }
  if (options.folder.empty()) {
    options.folder = path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
  }
  return assemble_text(std::move(text), path.string(), options);
}

}  // namespace prewire
