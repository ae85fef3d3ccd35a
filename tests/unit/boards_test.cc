// Boards that a machine file takes in by name: names, connectors, places of faults, and what is out of reach.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "prewire/chips.h"
#include "prewire/machine.h"

namespace prewire::testing {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kTrainer = R"({
  "board": "trainer",
  "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": {
    "RAM": { "type": "6116", "at": "$0000-$07FF" },
    "ROM": { "type": "2716", "at": "$F800-$FFFF" },
    "PIA": { "type": "mc6821", "at": "$4000-$4003" },
    "R1": { "type": "resistor", "ohms": "3.3 kOhm" }
  },
  "wires": [
    ["LINE", "CPU.IRQ", "PIA.IRQA", "PIA.IRQB", "R1.1"], ["R1.2", "CPU.HALT", "CPU.NMI", "+5V"],
    ["PIA.CA1", "PIA.CB1", "GND"]
  ],
  "connectors": { "P0..P7": "PIA.PB0..PB7", "Q": "PIA.PA0", "IRQ": "LINE", "PLUS": "+5V", "GND": "GND" },
  "program": ["monitor.key"]
})";

class Boards : public ::testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::temp_directory_path() / fmt::format("prewire-boards-{}-{}", getpid(), ++count_);
    fs::create_directories(folder_ / "shelf");
    write("trainer.board.json", kTrainer);
    write("monitor.key", "F800: 20 FE\nFFFE: F8 00\n");
  }
  void TearDown() override { fs::remove_all(folder_); }

  void write(const fs::path& name, std::string_view text) {
    fs::create_directories((folder_ / name).parent_path());
    std::ofstream(folder_ / name) << text;
  }

  static std::string machine(std::string_view boards, std::string_view chips = "", std::string_view wires = "",
                             std::string_view more = "") {
    return fmt::format(R"({{ "machine": "lab", "boards": {{ {} }}, "chips": {{ {} }}, "wires": [ {} ]{} }})", boards,
                       chips, wires, more);
  }
  Machine build(std::string_view chips = "", std::string_view wires = "", std::string_view boards = kOne) {
    write("lab.json", machine(boards, chips, wires));
    return Machine::from_file(folder_ / "lab.json", registry_);
  }
  /// Each fault as "file:line pointer id: what", with the file's name alone.
  std::string faults(std::string_view text, const LoadOptions& options = {}) {
    std::string said;
    for (const Fault& fault : check_machine(text, "lab.json", folder_, registry_, options)) {
      said += fmt::format("{}:{} {} {}: {}\n", fs::path(fault.place.file).filename().string(), fault.place.line,
                          fault.place.pointer, fault.id, fault.what);
    }
    return said;
  }

  static constexpr std::string_view kOne = R"("TRAINER": "trainer")";
  const Registry registry_ = standard_chips();
  fs::path folder_;
  static inline int count_ = 0;
};

TEST_F(Boards, ChipsHaveTheNameOfTheBoardInFront) {
  const Machine lab = build(R"("SW": {"type": "switch"})", R"(["TRAINER.Q", "SW.1"], ["SW.2", "TRAINER.GND"])");
  std::string names;
  for (const ChipView& chip : lab.chips()) names += fmt::format("{} ", chip.name);
  EXPECT_EQ(names, "TRAINER.RAM TRAINER.ROM TRAINER.PIA TRAINER.R1 SW ");
  EXPECT_EQ(lab.processor().type->name, "mc6800");
  EXPECT_EQ(faults(machine(kOne)), "") << "complete as it is";
}

TEST_F(Boards, PinsConnectorsAndShortNamesAreTheSameNets) {
  Machine lab = build(R"("R0..R7": {"type": "resistor", "ohms": "1 kOhm"}, "SW": {"type": "switch"})",
                      R"(["TRAINER.P0..P7", "R0..R7.1"], ["R0..R7.2", "TRAINER.PLUS"],
                         ["TRAINER.PIA.PA1", "SW.1"], ["SW.2", "GND"], ["PIA.PA2", "TAP", "TRAINER.IRQ"])");
  for (int i = 0; i < 8; ++i) EXPECT_EQ(lab.net(fmt::format("TRAINER.P{}", i))->level, Level::high);
  EXPECT_EQ(lab.net("TRAINER.PIA.PB3")->strength, Strength::pulled);
  EXPECT_EQ(lab.net("PIA.PB3")->strength, Strength::pulled);
  EXPECT_EQ(lab.net("R3.1")->strength, Strength::pulled);
  EXPECT_TRUE(lab.net("TRAINER.IRQ").has_value());
  EXPECT_TRUE(lab.net("TRAINER.GND").has_value());
  EXPECT_FALSE(lab.net("TRAINER.NOTHING").has_value());
  EXPECT_FALSE(lab.net("PA1").has_value()) << "that is no name of a net";
}

TEST_F(Boards, LabelsOfABoardAreItsOwn) {
  const Machine lab = build(R"("R": {"type": "resistor", "ohms": "1 kOhm"})", R"(["LINE", "R.1"], ["R.2", "GND"])");
  EXPECT_EQ(lab.net("LINE")->level, Level::low);
  EXPECT_EQ(lab.net("TRAINER.LINE")->level, Level::high);
}

TEST_F(Boards, TwoOfAKindAreToldApart) {
  write("lamp.board.json", R"({ "board": "lamp", "chips": { "L": { "type": "led" },
    "SW": { "type": "switch" }, "R": { "type": "resistor", "ohms": "1 kOhm" } },
    "wires": [ ["L.A", "R.1"], ["R.2", "SW.1"], ["SW.2", "+5V"] ], "connectors": { "IN": "L.K" } })");
  Machine lab = build("", R"(["LEFT.IN", "TRAINER.P0"], ["RIGHT.IN", "TRAINER.P1"])",
                      R"("TRAINER": "trainer", "LEFT": "lamp", "RIGHT": "lamp")");
  lab.set("LEFT.SW", "closed");
  EXPECT_THROW(lab.set("SW", "closed"), InputError) << "which?";
  EXPECT_TRUE(lab.net("LEFT.L.A").has_value());
  EXPECT_FALSE(lab.net("L.A").has_value());
  EXPECT_NE(faults(machine(R"("TRAINER": "trainer", "LEFT": "lamp", "RIGHT": "lamp")", "", R"(["L.K", "PIA.PB0"])"))
                .find("there is no chip \"L\""),
            std::string::npos);
  Machine one = build("", R"(["LEFT.IN", "PIA.PB0"])", R"("TRAINER": "trainer", "LEFT": "lamp")");
  one.set("SW", "closed");
}

TEST_F(Boards, ProgramsAreLoadedFromTheFolderOfTheBoard) {
  write("shelf/other.board.json", kTrainer);
  LoadOptions options;
  options.boards = {folder_ / "shelf"};
  EXPECT_NE(faults(machine(R"("TRAINER": "other")"), options).find("other.board.json:15 /program/0 "),
            std::string::npos)
      << "monitor.key is not on the shelf";
  write("shelf/monitor.key", "F800: 20 FE\nFFFE: F8 00\n");
  EXPECT_EQ(faults(machine(R"("TRAINER": "other")"), options), "");
  write("shelf/other.board.json", R"({ "board": "x", "program": ["../monitor.key"] })");
  EXPECT_NE(faults(machine(R"("TRAINER": "other")"), options).find("other.board.json:1 /program/0 image-place: "),
            std::string::npos);
}

TEST_F(Boards, TheFolderOfTheMachineComesFirst) {
  write("shelf/trainer.board.json", "{");
  LoadOptions options;
  options.boards = {folder_ / "shelf"};
  EXPECT_EQ(faults(machine(kOne), options), "");
  fs::remove(folder_ / "trainer.board.json");
  EXPECT_EQ(faults(machine(kOne), options).find("trainer.board.json:1  json-syntax: "), 0U);
}

TEST_F(Boards, FaultsHaveTheirPlacesInTheFileOfTheBoard) {
  write("bad.board.json", R"({
  "board": "bad",
  "chips": {
    "R1": { "type": "resistor", "ohms": "1k" },
    "U1": { "type": "74ls99" }
  },
  "wires": [ ["R1.1", "R1.3"], ["R9.1", "GND"] ],
  "connectors": { "A.B": "R1.1", "C0..C3": "R1.1", "D": "NOWHERE.1" }
})");
  EXPECT_EQ(faults(machine(R"("TRAINER": "trainer", "BAD": "bad")")),
            "bad.board.json:4 /chips/R1/ohms bad-quantity: \"ohms\" of BAD.R1 cannot be read\n"
            "bad.board.json:5 /chips/U1/type unknown-chip-type: there is no chip type \"74ls99\"\n"
            "bad.board.json:7 /wires/0/1 unknown-pin: R1 has no pin \"3\"\n"
            "bad.board.json:7 /wires/1/0 unknown-chip: there is no chip \"R9\"\n"
            "bad.board.json:8 /connectors/A.B bad-connector: \"A.B\" is no name of a connector\n"
            "bad.board.json:8 /connectors/C0..C3 range-width: \"R1.1\" does not fit \"C0..C3\"\n"
            "bad.board.json:8 /connectors/D unknown-chip: there is no chip \"NOWHERE\"\n");
  // And those of the wiring.
  write("bad.board.json", R"({
  "board": "bad",
  "chips": {
    "U1": { "type": "74ls04" }
  },
  "wires": [
    ["U1.1Y", "U1.2Y"], ["U1.1A", "U1.2A", "U1.3A", "U1.4A", "U1.5A", "U1.6A", "GND"] ]
})");
  EXPECT_EQ(faults(machine(R"("TRAINER": "trainer", "BAD": "bad")")),
            "bad.board.json:7 /wires/0 two-outputs: the outputs BAD.U1.1Y and BAD.U1.2Y drive one net\n");
}

TEST_F(Boards, NothingElseOnTheDiskIsReachable) {
  write("secret/hidden.board.json", kTrainer);
  for (const char* name : {"../secret/hidden", "secret/hidden", "/etc/passwd", "..", ".", "", "trainer.board.json",
                           "a b", "trainer\\u0000", "~", "tr\\u00e4iner"}) {
    EXPECT_EQ(faults(machine(fmt::format(R"("TRAINER": "{}")", name))).find("lab.json:1 /boards/TRAINER bad-board: "),
              0U)
        << name;
  }
  fs::create_symlink(folder_ / "secret" / "hidden.board.json", folder_ / "inside.board.json");
  EXPECT_EQ(faults(machine(R"("TRAINER": "inside")")), "") << "a link within the folder";
  const fs::path outside = fs::temp_directory_path() / fmt::format("prewire-outside-{}.json", getpid());
  std::ofstream(outside) << kTrainer;
  fs::create_symlink(outside, folder_ / "link.board.json");
  EXPECT_EQ(faults(machine(R"("TRAINER": "link")")).find("lab.json:1 /boards/TRAINER bad-board: "), 0U);
  fs::remove(outside);
  fs::create_symlink("loop.board.json", folder_ / "loop.board.json");
  EXPECT_EQ(faults(machine(R"("TRAINER": "loop")")).find("lab.json:1 /boards/TRAINER bad-board: "), 0U);
  fs::create_directory(folder_ / "folder.board.json");
  EXPECT_EQ(faults(machine(R"("TRAINER": "folder")")).find("lab.json:1 /boards/TRAINER bad-board: "), 0U);
}

TEST_F(Boards, TheOnlyFaultOfAMissingBoardIsThatItIsMissing) {
  EXPECT_EQ(faults(machine(R"("TRAINER": "trainr")", R"("SW": {"type": "switch"})",
                           R"(["TRAINER.P0..P7", "GND"], ["PIA.CA1", "SW.1"], ["SW.2", "GND"])")),
            "lab.json:1 /boards/TRAINER unknown-board: there is no board \"trainr\"\n");
  const std::vector<Fault> said = check_machine(machine(R"("TRAINER": "trainr")"), "lab.json", folder_, registry_);
  EXPECT_EQ(said.at(0).hint, "did you mean \"trainer\"?");
}

TEST_F(Boards, OneLevelIsEnough) {
  write("self.board.json", R"({ "board": "self", "boards": { "SELF": "self" } })");
  EXPECT_EQ(faults(machine(R"("TRAINER": "trainer", "S": "self")")),
            "self.board.json:1 /boards nested-board: a board takes in no other boards\n");
}

TEST_F(Boards, FilesThatAreNone) {
  write("list.board.json", "[]");
  write("broken.board.json", "{ \"board\": ");
  write("large.board.json", std::string(2'000'000, ' '));
  write("title.board.json", "{}");
  write("key.board.json", R"({ "board": "x", "machine": "x" })");
  const auto of = [&](const char* name) {
    return faults(machine(fmt::format(R"("TRAINER": "trainer", "X": "{}")", name)));
  };
  EXPECT_EQ(of("list").find("list.board.json:1  wrong-type: "), 0U);
  EXPECT_EQ(of("broken").find("broken.board.json:1"), 0U);
  EXPECT_NE(of("large").find("json-too-large"), std::string::npos);
  EXPECT_EQ(of("title").find("title.board.json:1  missing-key: "), 0U);
  EXPECT_EQ(of("key").find("key.board.json:1 /machine unknown-key: "), 0U);
}

TEST_F(Boards, NamesMeanOneThing) {
  EXPECT_NE(faults(machine(R"("X": "trainer")", R"("X": {"type": "led"})"))
                .find("lab.json:1 /chips/X duplicate-chip: \"X\" is there already, at /boards/X\n"),
            std::string::npos);
  EXPECT_EQ(faults(machine(R"("CPU": "trainer")")).find("lab.json:1 /boards/CPU bad-chip-name: "), 0U);
  EXPECT_NE(faults(machine(R"("A.B": "trainer")")).find("lab.json:1 /boards/A.B bad-chip-name: "), std::string::npos);
  EXPECT_EQ(faults(machine(R"("A": "trainer", "B": "trainer")")).find("trainer.board.json:3 /cpu two-processors: "),
            0U);
  EXPECT_EQ(faults(machine(kOne, "", "", R"(, "cpu": {"type": "mc6800", "clock": "1 MHz"})"))
                .find("trainer.board.json:3 /cpu two-processors: "),
            0U);
  write("bare.board.json", R"({ "board": "bare" })");
  EXPECT_EQ(faults(machine(R"("B": "bare")")), "lab.json:1  missing-key: the description has no \"cpu\"\n");
}

TEST_F(Boards, ConnectorsThatAreNotThere) {
  EXPECT_EQ(faults(machine(kOne, "", R"(["TRAINER.P8", "GND"], ["TRAINER.PIA", "GND"], ["TRAINER.P0..P9", "GND"],
                                        ["TRAINER.Q..R", "GND"], ["TRAINER.P0..", "GND"])")),
            "lab.json:1 /wires/0/0 unknown-connector: TRAINER has no connector \"P8\"\n"
            "lab.json:1 /wires/1/0 unknown-connector: TRAINER has no connector \"PIA\"\n"
            "lab.json:1 /wires/2/0 unknown-connector: TRAINER has no connector \"P8\"\n"
            "lab.json:2 /wires/3/0 unknown-connector: TRAINER has no connector \"R\"\n"
            "lab.json:2 /wires/4/0 bad-pin-range: \"TRAINER.P0..\" is no range of pins\n");
}

TEST_F(Boards, ManyAreRefused) {
  std::string boards;
  for (int i = 0; i < 1'000; ++i) boards += fmt::format(R"({}"B{}": "bare")", i == 0 ? "" : ", ", i);
  write("bare.board.json", R"({ "board": "bare", "cpu": { "type": "mc6800", "clock": "1 MHz" } })");
  EXPECT_NE(faults(machine(boards)).find("lab.json:1 /boards too-many-chips: there are too many boards\n"),
            std::string::npos);
}

}  // namespace
}  // namespace prewire::testing
