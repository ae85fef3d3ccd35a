// Text from outside (files, names, paths, arguments) as whatever shows it may have it.
#pragma once

#include <string>
#include <string_view>

namespace prewire {

/// Text from outside for a terminal, a report or any other text for people: it can neither move a cursor nor change
/// colours, end a line, or make what stands around it read in another order. Written as numbers are
///
/// - control characters, U+0000 to U+001F and U+007F to U+009F, as `\x1B`, but for those in `kept`: a text in one line
///   keeps none, lines of source keep "\t", whole reports "\t\n";
/// - bytes that are no UTF-8 (RFC 3629), as `\xFF`;
/// - as `\u202E`: line and paragraph separators; marks, embeddings, overrides and isolates of writing direction
/// (Unicode
///   Standard Annex 9, table 4); U+206A to U+206F, U+FEFF, U+FFF9 to U+FFFB and U+E0000 to U+E0FFF, which nobody sees;
///   and the noncharacters at the end of each plane.
///
/// What has been made printable stays as it is when it is made so again.
std::string printable(std::string_view text, std::string_view kept = {});

/// Printable text as a cell of a table (RFC 4180). A cell that a spreadsheet would take for a formula, because it
/// begins with `=`, `+`, `-` or `@`, their full-width forms or a tab, begins with an apostrophe instead.
std::string csv_cell(std::string_view text);

/// A JSON document whose strings hold as escapes what `printable` writes as numbers: the same values, safe to look at.
/// It must be UTF-8, and the control characters must be escaped already, as in what a JSON library writes.
std::string printable_json(std::string_view json);

}  // namespace prewire
