// What one frame shows, as plain data: made from the session once, drawn by the panels.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "choices.h"
#include "prewire/machine.h"

namespace prewire::front::desk {

class Session;

enum class RunState : std::uint8_t { none, stopped, running, searching };

struct DigitView {
  std::array<double, 8> light{};  ///< 0 to 1: segments a to g, point
};

struct DigitGroupView {
  std::string name;
  std::vector<DigitView> digits;
};

struct LedView {
  std::string name;
  int colour = 0;
  double light = 0;
};

struct ContactView {
  std::string name;
  bool closed = false;
};

struct KnobView {
  std::string name;
  int percent = 0;      ///< of its way
  std::string setting;  ///< "50 %"; empty for a voltage source, which shows `volts` alone
  std::string volts;    ///< "2.50 V"; empty while unknown
};

struct RegisterView {
  std::string name, value;
};

struct FlagView {
  char letter = ' ';
  bool set = false;
};

struct ProgramRow {
  std::uint16_t address = 0;
  std::string place;  ///< "F829"; empty for a line without bytes
  std::string bytes;
  std::string label, mnemonic, operand, comment;
  std::string cycles;
  bool next = false;    ///< the processor is here
  bool chosen = false;  ///< the person is
  bool stop = false;
};

struct MemoryCell {
  std::uint8_t value = 0;
  bool known = true;          ///< something has been put there
  std::uint8_t lines = 0xFF;  ///< data lines, a bit each, on which somebody answers
  bool executed = false;
  bool next = false;  ///< the program counter points here
  bool chosen = false;
};

struct MemoryRow {
  std::uint16_t address = 0;
  std::vector<MemoryCell> cells;
  std::string text;  ///< printable ASCII, dots for the rest
};

struct BusCell {
  Cycle cycle = 0;
  std::uint16_t address = 0;
  std::uint8_t data = 0;
  bool valid = false, read = true, fetch = false, driven = true;
};

struct BusLine {
  std::string name;
  std::vector<Level> levels;  ///< one for each cell
  bool mark_low = false;      ///< low cycles get a letter of their own
};

struct BusView {
  std::vector<BusCell> cells;
  std::vector<BusLine> lines;
  std::optional<std::size_t> chosen;  ///< index of a cell
  std::string about;                  ///< of the chosen or last cell
};

struct FindingView {
  Weight weight = Weight::hint;
  std::string when, message, hint;
};

struct StopView {
  std::string text, place;
};

struct PinView {
  std::string name;  ///< "CA2"
  int net = -1;      ///< index into `WiringView::nets`
};

struct ChipBox {
  std::string name, type, place;
  std::vector<PinView> pins;  ///< those that are wired
};

struct NetShown {
  std::string name;
  Level level = Level::floating;
  Strength strength = Strength::none;
  std::string volts;
  bool traced = false;
  bool probed = false;
};

struct WiringView {
  std::vector<ChipBox> chips;
  std::vector<NetShown> nets;
  std::optional<std::size_t> traced;
};

struct KeyView {
  std::string keys, does;
};

struct View {
  std::string title;
  std::string processor;  ///< "mc6800, 1 MHz"
  RunState state = RunState::none;
  std::string state_word;  ///< "RUN", "STOP", "WAIT"
  std::string speed;       ///< chosen pace, and how fast it is
  std::string time;        ///< "cycle 1048  1.048 ms"
  std::string why;         ///< why it stands, or what was noted

  std::vector<DigitGroupView> digits;
  std::vector<LedView> leds;
  std::vector<ContactView> switches, buttons;
  std::vector<KnobView> knobs;

  std::vector<RegisterView> registers;
  std::string flags_name, flags_value;
  std::vector<FlagView> flags;

  std::vector<ProgramRow> program;
  std::string program_name;
  std::vector<MemoryRow> memory;
  std::string memory_place;  ///< who answers at the chosen address
  BusView bus;
  std::vector<FindingView> findings;
  std::vector<StopView> stops;
  WiringView wiring;
  std::vector<KeyView> keys;  ///< for the help; whoever knows the keys puts them in

  std::string file;
  std::vector<Fault> faults;
  std::size_t faults_omitted = 0;
};

/// How much of everything there is room for.
struct Room {
  int program_rows = 10;
  int memory_rows = 8, memory_columns = 16;
  int bus_cells = 64;
};

/// Moves the window on the program so that the chosen line, or the next instruction, is in it.
void follow_program(const Session& session, Choices& choices, int rows);
/// The address of the line that is `lines` below the one at `from`.
std::uint16_t program_line(const Session& session, std::uint16_t from, int lines);

/// Without `inside` registers, bytes of memory and the bus are left out, which take most of the time.
View look_at(const Session& session, const Choices& choices, const Room& room, bool inside = true);

}  // namespace prewire::front::desk
