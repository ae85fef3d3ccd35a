// Symbols and lines as JSON, one entry in a line so that two files can be compared by eye.
#include <fmt/format.h>

#include <cassert>
#include <iterator>
#include <nlohmann/json.hpp>

#include "prewire/assembler.h"
#include "prewire/text.h"

namespace prewire {

namespace {

std::string quoted(const std::string& text) {
  return printable_json(nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
}

}  // namespace

std::string symbol_file(const Image& image) {
  assert(image.source != nullptr);
  const SourceMap& map = *image.source;
  std::string text;
  const auto out = std::back_inserter(text);
  fmt::format_to(out, "{{\n  \"format\": \"prewire symbols 1\",\n  \"cpu\": {},\n  \"title\": {},\n  \"files\": [",
                 quoted(map.cpu), quoted(map.title));
  for (std::size_t i = 0; i < map.files.size(); ++i)
    fmt::format_to(out, "{}{}", i > 0 ? ", " : "", quoted(map.files[i]));
  text += "],\n";
  if (image.entry) fmt::format_to(out, "  \"entry\": {},\n", *image.entry);
  text += "  \"symbols\": [";
  const char* separator = "\n";
  for (const SourceMap::Symbol& symbol : map.symbols) {
    fmt::format_to(out, "{}    {{\"name\": {}, \"kind\": \"{}\"", separator, quoted(symbol.name),
                   to_string(symbol.kind));
    if (symbol.kind != SourceMap::SymbolKind::macro) fmt::format_to(out, ", \"value\": {}", symbol.value);
    fmt::format_to(out, ", \"file\": {}, \"line\": {}, \"uses\": [", symbol.file, symbol.line);
    for (std::size_t i = 0; i < symbol.uses.size(); ++i) {
      fmt::format_to(out, "{}[{}, {}]", i > 0 ? ", " : "", symbol.uses[i].file, symbol.uses[i].line);
    }
    text += "]}";
    separator = ",\n";
  }
  text += "\n  ],\n  \"lines\": [";
  separator = "\n";
  for (const SourceMap::Line& line : map.lines) {
    const bool code = line.kind == LineKind::instruction;
    if (!code && line.kind != LineKind::data && line.kind != LineKind::space) continue;
    fmt::format_to(out, "{}    {{\"address\": {}, \"size\": {}, \"kind\": \"{}\", \"file\": {}, \"line\": {}",
                   separator, line.address, line.size, to_string(line.kind), line.file, line.number);
    if (code) fmt::format_to(out, ", \"cycles\": {}, \"most_cycles\": {}", line.cycles, line.most_cycles);
    text += "}";
    separator = ",\n";
  }
  text += "\n  ]\n}\n";
  return text;
}

}  // namespace prewire
