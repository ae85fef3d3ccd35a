// What a person has chosen to see. It changes nothing in the machine.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "prewire/clock.h"

namespace prewire::front::desk {

enum class Look : std::uint8_t { full, lecture, wiring };
enum class ThemeName : std::uint8_t { dark, light };
enum class Tab : std::uint8_t { memory, findings, stops };

struct Choices {
  Look look = Look::full;
  ThemeName theme = ThemeName::dark;
  double scale = 1;
  Tab tab = Tab::memory;
  bool help = false;

  std::uint16_t memory = 0;  ///< first address that is shown
  std::uint16_t cursor = 0;  ///< byte in memory that is chosen
  int nibble = 0;            ///< hex digits typed into it
  std::uint8_t typed = 0;
  std::optional<std::uint16_t> line;  ///< address of the chosen line of the program; else it follows the processor
  std::uint16_t program_top = 0;      ///< address of the first line that is shown
  Cycle bus_back = 0;                 ///< how far the bus strip is scrolled into the past
  std::optional<Cycle> bus_cursor;
  int findings_from = 0;
  std::string net;        ///< traced net
  bool net_held = false;  ///< it stays while the pointer moves on
  std::string focus;      ///< what keys go to: "part FLOAT", "memory", "program", "bus"
  bool prompting = false;
  std::string prompt_for;  ///< what is asked for: "part FLOAT", "stop", "go"
  std::string prompt;      ///< what has been typed
  std::string note;        ///< a message that goes away by itself
};

}  // namespace prewire::front::desk
