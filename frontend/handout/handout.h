// What the owner of a board takes to the bench, and its two forms. docs/handout.md describes it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "board.h"
#include "expected.h"
#include "key_sheet.h"

namespace prewire::handout {

/// Parts of a handout, as bits.
enum Section : unsigned {
  kParts = 1,     ///< parts and their pins
  kSelects = 2,   ///< what the address decoder has to do
  kWires = 4,     ///< the wiring list
  kNotes = 8,     ///< cautions and reminders
  kDiagram = 16,  ///< the wiring diagram; not in the text
  kKeys = 32,     ///< the key-in sheet
  kShows = 64,    ///< what the board should show
};
inline constexpr unsigned kEverything = 127;

struct SectionName {
  std::string_view name;  ///< as on the command line
  Section section;
};
/// In the order in which they stand.
const std::vector<SectionName>& section_names();

struct Handout {
  unsigned sections = kEverything;
  std::string title, about;
  std::string processor;             ///< "MC6800 microprocessor, E at 1 MHz"
  std::vector<std::string> remarks;  ///< what the check of the machine file has to say
  Board board;
  KeySheet keys;
  Expected expected;  ///< only for the section that needs it
};

/// Runs the machine for what it should show, if that is one of the sections; `positions` empty: those of
/// `usual_positions`. Throws `InputError`.
Handout make_handout(Machine& machine, unsigned sections = kEverything, const std::vector<Positions>& positions = {});

/// The key-in sheet alone has the format `key-in` of docs/images.md.
std::string to_text(const Handout& handout);
/// One file that needs no other, well-formed as XML too.
std::string to_html(const Handout& handout);

/// How the two forms begin.
inline constexpr std::string_view kTextMark = "Handout: ", kKeysMark = "; Handout: ";
inline constexpr std::string_view kHtmlMark = "<!DOCTYPE html>\n<!-- Handout of a Prewire machine -->\n";

}  // namespace prewire::handout
