// Machines on a desk, for tests.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>

#include "desk/desk.h"
#include "paths.h"
#include "prewire/chips.h"

namespace prewire::front::desk {

inline const Registry& all_chips() {
  static const Registry registry = standard_chips();
  return registry;
}

inline std::filesystem::path gauge(const char* name = "gauge.json") {
  return testing::source_folder() / "scenarios/rain_barrel" / name;
}

/// A folder of its own that goes away.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "prewire-desk-XXXXXX").string();
    path_ = mkdtemp(name.data());
  }
  ~Folder() {
    std::error_code none;
    std::filesystem::remove_all(path_, none);
  }
  std::filesystem::path write(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name) << text;
    return path_ / name;
  }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// A greenhouse board: eight switches and lamps on one port, sixteen buttons, two knobs. `lamp` is wired to each line.
inline std::string greenhouse() {
  std::string chips, wires;
  for (int i = 7; i >= 0; --i) {
    const std::string n = std::to_string(i);
    chips += R"(, "L)" + n + R"(": {"type": "led", "color": "yellow"}, "R)" + n +
             R"(": {"type": "resistor", "ohms": "330 Ohm"})";
    chips += R"(, "S)" + n + R"(": {"type": "switch"}, "P)" + n + R"(": {"type": "resistor", "ohms": "10 kOhm"})";
    wires += R"(, ["PIA.PB)" + n + R"(", "R)" + n + R"(.1"], ["R)" + n + R"(.2", "L)" + n + R"(.A"], ["L)" + n +
             R"(.K", "GND"])";
    wires += R"(, ["PIA.PA)" + n + R"(", "S)" + n + R"(.1", "P)" + n + R"(.1"], ["P)" + n + R"(.2", "+5V"], ["S)" + n +
             R"(.2", "GND"])";
  }
  for (int i = 0; i < 16; ++i) {
    const std::string n = std::string(1, "0123456789ABCDEF"[i]);
    chips += R"(, "K)" + n + R"(": {"type": "button"})";
    wires += R"(, ["K)" + n + R"(.1", "KEYS"], ["K)" + n + R"(.2", "GND"])";
  }
  return R"({"machine": "Greenhouse panel", "cpu": {"type": "mc6809", "crystal": "4 MHz"},
    "chips": {"RAM": {"type": "6116", "at": "$0000-$07FF"}, "PIA": {"type": "mc6821", "at": "$A000-$A003"},
      "ROM": {"type": "2716", "at": "$F800-$FFFF"}, "RK": {"type": "resistor", "ohms": "10 kOhm"},
      "DAMP": {"type": "potentiometer"}, "WARM": {"type": "voltage_source", "volts": "2.5 V"})" +
         chips + R"(}, "wires": [["KEYS", "PIA.CA1", "RK.1"], ["RK.2", "+5V"], ["PIA.CB1", "PIA.CA2", "PIA.CB2", "GND"],
      ["CPU.HALT", "CPU.NMI", "CPU.IRQ", "CPU.FIRQ", "CPU.MRDY", "+5V"], ["DAMP.1", "GND"], ["DAMP.3", "+5V"])" +
         wires + R"(], "program": ["panel.asm"]})";
}

inline constexpr const char* kPanelProgram =
    "        cpu     mc6809\n"
    "        org     $F800\n"
    "start:  lds     #$0700\n"
    "        clr     $A001\n"
    "        clr     $A000\n"
    "        clr     $A003\n"
    "        lda     #$FF\n"
    "        sta     $A002\n"
    "        lda     #4\n"
    "        sta     $A001\n"
    "        sta     $A003\n"
    "copy:   bsr     read            ; switches to lamps\n"
    "        coma\n"
    "        sta     $A002\n"
    "        inc     count\n"
    "        bra     copy\n"
    "read:   lda     $A000\n"
    "        rts\n"
    "        org     $0010\n"
    "count:  rmb     1\n"
    "        org     $FFFE\n"
    "        fdb     start\n";

inline std::filesystem::path greenhouse_in(const Folder& folder) {
  folder.write("panel.asm", kPanelProgram);
  return folder.write("panel.json", greenhouse());
}

}  // namespace prewire::front::desk
