// The board as a person wires it: parts with their pins, nets, wires in the order of work, select conditions. Pure
// data.
#pragma once

#include <compare>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/machine.h"

namespace prewire::handout {

/// One pin of a part.
struct Terminal {
  std::string name{};  ///< as in the data sheet, active-low pins without a bar
  int number = 0;      ///< on the package; 0 where the part has none
  PinKind kind = PinKind::passive;
  std::int32_t microvolts = 0;  ///< of a supply pin
  int model = -1;               ///< index in `ChipType::pins`; -1 for a pin that the model has no use for
};

struct Part {
  enum class Kind : std::uint8_t {
    chip,   ///< in a package with numbered pins
    loose,  ///< resistor, display and the like: terminals have names
    block,  ///< a circuit that the machine file takes for granted: clock, reset, address decoder, reference
    rail,   ///< a supply rail of the breadboard
  };
  static constexpr int kNoChip = -2;

  Kind kind = Kind::loose;
  std::string ref{};             ///< "U3", "R1", "DEC", "+5V"
  std::string name{};            ///< in the machine file; empty for what is not there
  std::string type{};            ///< "mc6821"; empty likewise
  std::string what{};            ///< "MC6821 peripheral interface adapter"
  std::string value{};           ///< "4.7 kOhm"; may be empty
  std::vector<Terminal> pins{};  ///< in order of their numbers
  std::string package{};         ///< "BAR", of a part that shares its package with others
  int chip = kNoChip;            ///< counts in `Machine::chips()`; -1: the processor

  bool packaged() const { return kind == Kind::chip; }
  /// Index of the first terminal of that name, or -1.
  int pin(std::string_view terminal) const;
};

/// A pin of a part, by indices into `Board::parts` and `Part::pins`.
struct End {
  int part = 0;
  int pin = 0;
  friend auto operator<=>(const End&, const End&) = default;
};

/// What a wire is for; each purpose has a letter and a suggested colour.
enum class Purpose : std::uint8_t {
  plus,
  minus,
  ground,
  data,
  address,
  control,
  select,
  interrupt,
  port,
  analog,
  display
};
inline constexpr int kPurposes = 11;

struct PurposeStyle {
  std::string_view name;    ///< "data"
  char letter;              ///< 'D'
  std::string_view colour;  ///< "blue"
};
const PurposeStyle& style_of(Purpose purpose);

struct Net {
  std::string name;
  Purpose purpose = Purpose::port;
  std::vector<End> ends{};  ///< in the order of the chain; of a rail the rail comes first and every wire starts at it
  bool rail = false;
};

struct Wire {
  End from, to;
  int net = 0;
};

/// Wires that belong together, in the order in which they are made.
struct Step {
  std::string title;
  std::string about;  ///< may be empty
  std::vector<Wire> wires;
  std::vector<std::string> also;  ///< other things to do and tick off
};

/// Addresses that agree with `value` in the lines of `mask`.
struct AddressBlock {
  std::uint16_t mask = 0, value = 0;
  friend bool operator==(const AddressBlock&, const AddressBlock&) = default;
};

/// When a chip on the bus has to be selected: what the address decoder must be built for.
struct Select {
  int part = 0;
  std::string output;                ///< terminal of the decoder
  bool high = false;                 ///< its active level
  std::vector<AddressBlock> blocks;  ///< one of them applies
  bool vma = false;                  ///< VMA is part of the condition
  bool e = false;                    ///< E is
  int rw = -1;                       ///< level of R/W in the condition; -1: not part of it
  bool reads = true, writes = true;  ///< whether the chip takes part in them
  std::uint8_t data_mask = 0xFF;
  std::string where;  ///< "$4000-$5FFF; its own 4 addresses, 2048 times"

  bool covers(std::uint16_t address) const;
};

/// A pin that gets no wire, and why.
struct OpenPin {
  End end;
  std::string why;
};

struct Notes {
  std::string title;
  std::vector<std::string> lines;
};

struct Board {
  std::vector<Part> parts;
  std::vector<Net> nets;
  std::vector<Step> steps;
  std::vector<Select> selects;
  std::vector<OpenPin> open;
  std::vector<Notes> notes;

  const Part& part(End end) const { return parts[static_cast<std::size_t>(end.part)]; }
  const Terminal& terminal(End end) const { return part(end).pins[static_cast<std::size_t>(end.pin)]; }
  /// The net at a pin, or null.
  const Net* net_at(End end) const;
  /// Resistors from the net of `end` to a supply above 2 V.
  std::vector<int> pull_ups(End end) const;
};

Board make_board(const Machine& machine);

/// "U3 pin 21 (PIA R/W)", "R1 end 2", "+5V rail", "DEC output SEL PIA".
std::string to_string(const Board& board, End end);
/// "A, K", or "in: A15, VMA; out: SEL PIA".
std::string terminals_of(const Part& part);
/// "A15 A14 A13 = 0 1 0 and VMA = 1".
std::string condition(const Select& select);
/// What else the builder of the decoder has to know, the strobes for example.
std::vector<std::string> decoder_notes(const Board& board);
/// Pairs of selects whose chips take part in one and the same bus cycle, on the same data lines.
std::vector<std::pair<int, int>> clashes(const std::vector<Select>& selects);

}  // namespace prewire::handout
