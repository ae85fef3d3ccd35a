// What a run can wait for, and what can be expected at its end.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "prewire/machine.h"
#include "prewire/onlooker.h"
#include "standstill.h"

namespace prewire::front {

struct Condition {
  enum class Kind : std::uint8_t { display, address, net, stop };
  Kind kind = Kind::stop;
  std::string option;  ///< that brought it, for messages
  std::string text;    ///< as written
  std::string name;    ///< group of digits, empty for any; or net
  std::string wanted;  ///< text on the digits
  std::uint16_t address = 0;
  Level level = Level::low;
};

inline constexpr const char* kConditionHelp =
    "Conditions:\n"
    "  display=TEXT         a group of digits shows the text, blanks at its ends aside\n"
    "  display:GROUP=TEXT   that group shows it\n"
    "  address=0xC012       the processor is about to execute the instruction there ($C012 in quotes)\n"
    "  net:PIA.CA2=high     the net at that pin or with that label is high, low, floating or unknown\n"
    "  stop                 an undefined opcode, or a program at rest for ever: it waits or jumps to itself,\n"
    "                       and nothing is due that could change that";

/// Throws `Trouble` for a text that is no condition.
Condition parse_condition(const std::string& option, const std::string& text);

/// Adds what of the condition this machine does not have.
void check_condition(const Condition& condition, const Machine& machine, std::vector<Fault>& faults);

/// What a run knows at the moment of a look.
struct Sighting {
  const Machine& machine;
  const Onlooker& onlooker;
  const Standstill& standstill;
  bool over = false;  ///< the run is: what is to be seen then counts, however short it was
};

/// Whether a group of digits, or any for an empty name, shows a text, blanks at its ends aside; `steadily`: for long
/// enough to be seen.
bool shows(const Machine& machine, const Onlooker& onlooker, const std::string& group, const std::string& text,
           bool steadily);

/// Whether it holds.
bool holds(const Condition& condition, const Sighting& sighting);

/// How it stands instead: `LEVEL shows "024"`.
std::string found_instead(const Condition& condition, const Sighting& sighting);

}  // namespace prewire::front
