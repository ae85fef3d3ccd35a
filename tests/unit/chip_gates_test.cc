// Gates, inverters and open-collector drivers: function tables and pin assignments of TI, The TTL Data Book; pin
// numbers also against the symbols of Debian's kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(Gates, FunctionTables) {
  const std::string two = "#A #B", out = "#Y";
  expect_table({"74ls00", two, out, {"L X H", "X L H", "H H L"}, "1234"});
  expect_table({"74ls02", two, out, {"H X L", "X H L", "L L H"}, "1234"});
  expect_table({"74ls04", "#A", out, {"L H", "H L"}, "123456"});
  expect_table({"74ls08", two, out, {"L X L", "X L L", "H H H"}, "1234"});
  expect_table({"74ls10", "#A #B #C", out, {"L X X H", "X L X H", "X X L H", "H H H L"}, "123"});
  expect_table({"74ls14", "#A", out, {"L H", "H L"}, "123456"});
  expect_table({"74ls20", "#A #B #C #D", out, {"L X X X H", "X L X X H", "X X L X H", "X X X L H", "H H H H L"}, "12"});
  expect_table({"74ls30",
                "A B C D E F G H",
                "Y",
                {"LXXXXXXX H", "XLXXXXXX H", "XXLXXXXX H", "XXXLXXXX H", "XXXXLXXX H", "XXXXXLXX H", "XXXXXXLX H",
                 "XXXXXXXL H", "HHHHHHHH L"}});
  expect_table({"74ls32", two, out, {"H X H", "X H H", "L L L"}, "1234"});
  expect_table({"74ls86", two, out, {"L L L", "L H H", "H L H", "H H L"}, "1234"});
  // Open collectors only sink.
  expect_table({"74ls06", "#A", out, {"L Z", "H L"}, "123456"});
  expect_table({"74ls07", "#A", out, {"L L", "H Z"}, "123456"});
}

TEST(Gates, Packages) {
  const std::string twos = "1 1A, 2 1B, 3 1Y, 4 2A, 5 2B, 6 2Y, 7 GND, 8 3Y, 9 3A, 10 3B, 11 4Y, 12 4A, 13 4B, 14 VCC";
  for (const char* type : {"74ls00", "74ls08", "74ls32", "74ls86"}) EXPECT_EQ(package_text(type), twos) << type;
  const std::string six = "1 1A, 2 1Y, 3 2A, 4 2Y, 5 3A, 6 3Y, 7 GND, 8 4Y, 9 4A, 10 5Y, 11 5A, 12 6Y, 13 6A, 14 VCC";
  for (const char* type : {"74ls04", "74ls06", "74ls07", "74ls14"}) EXPECT_EQ(package_text(type), six) << type;
  EXPECT_EQ(package_text("74ls02"),
            "1 1Y, 2 1A, 3 1B, 4 2Y, 5 2A, 6 2B, 7 GND, 8 3A, 9 3B, 10 3Y, 11 4A, 12 4B, 13 4Y, 14 VCC");
  EXPECT_EQ(package_text("74ls10"),
            "1 1A, 2 1B, 3 2A, 4 2B, 5 2C, 6 2Y, 7 GND, 8 3Y, 9 3A, 10 3B, 11 3C, 12 1Y, 13 1C, 14 VCC");
  EXPECT_EQ(package_text("74ls20"),
            "1 1A, 2 1B, 3 NC, 4 1C, 5 1D, 6 1Y, 7 GND, 8 2Y, 9 2A, 10 2B, 11 NC, 12 2C, 13 2D, 14 VCC");
  EXPECT_EQ(package_text("74ls30"), "1 A, 2 B, 3 C, 4 D, 5 E, 6 F, 7 GND, 8 Y, 9 NC, 10 NC, 11 G, 12 H, 13 NC, 14 VCC");
}

TEST(Gates, OpenInputsCountAsHigh) {
  // Common practice, and TI, Designing with TTL: a NAND with an open input inverts the other one.
  Bench bench(R"("U1": {"type": "74ls00"}, "U2": {"type": "74ls86"}, "HAND": {"type": "stimulus", "low": 1})",
              R"(["HAND.P0", "U1.1A", "U2.1A"], ["U1.1Y", "U1.2A"], ["OUT", "U1.2Y"], ["TURNED", "U2.1Y"])");
  EXPECT_EQ(bench.level("U1.1Y"), "high");
  EXPECT_EQ(bench.level("OUT"), "low");
  EXPECT_EQ(bench.level("TURNED"), "high");
  bench.machine.set("HAND", "P0 high");
  EXPECT_EQ(bench.level("U1.1Y"), "low");
  EXPECT_EQ(bench.level("OUT"), "high");
  EXPECT_EQ(bench.level("TURNED"), "low");
}

TEST(Gates, OpenCollectorsShareALine) {
  // TI, SN74LS07: outputs may be tied together; the line is low while one of them sinks. 5 V, 4.7 kOhm.
  Bench bench(R"("U1": {"type": "74ls07"}, "HAND": {"type": "stimulus", "high": 3},
                 "R": {"type": "resistor", "ohms": "4.7 kOhm"})",
              R"(["HAND.P0", "U1.1A"], ["HAND.P1", "U1.2A"], ["LINE", "U1.1Y", "U1.2Y", "R.1"], ["R.2", "+5V"])");
  EXPECT_EQ(bench.level("LINE"), "high");
  bench.machine.set("HAND", "P0 low");
  EXPECT_EQ(bench.level("LINE"), "low");
  bench.machine.set("HAND", "P1 low");
  bench.machine.set("HAND", "P0 high");
  EXPECT_EQ(bench.level("LINE"), "low");
  bench.machine.set("HAND", "P1 high");
  EXPECT_EQ(bench.level("LINE"), "high");
  EXPECT_EQ(bench.findings(), "");
}

TEST(Gates, OpenCollectorsStand30Volts) {
  Bench bench(R"("U1": {"type": "74ls06"}, "HAND": {"type": "stimulus", "low": 1},
                 "R": {"type": "resistor", "ohms": "4.7 kOhm"})",
              R"(["HAND.P0", "U1.1A"], ["LINE", "U1.1Y", "R.1"], ["R.2", "+12V"])");
  EXPECT_EQ(bench.machine.net("LINE")->microvolts, 12'000'000);
  bench.machine.set("HAND", "P0 high");
  EXPECT_EQ(bench.level("LINE"), "low");
}

TEST(Gates, SchmittTriggerKeepsItsStateBetweenTheThresholds) {
  // TI, SN74LS14: 1.6 V up and 0.8 V down, typical.
  Bench bench(R"("U1": {"type": "74ls14"}, "U2": {"type": "74ls04"}, "HAND": {"type": "stimulus", "low": 1})",
              R"(["HAND.P0", "U1.1A", "U2.1A"], ["OUT", "U1.1Y"], ["PLAIN", "U2.1Y"])");
  const auto at = [&](const char* volts) {
    bench.machine.set("HAND", fmt::format("P0 {}", volts));
    return bench.level("OUT");
  };
  EXPECT_EQ(at("0 V"), "high");
  EXPECT_EQ(at("1 V"), "high");
  EXPECT_EQ(at("1.59 V"), "high");
  EXPECT_EQ(at("1.6 V"), "low");
  EXPECT_EQ(at("1 V"), "low");
  EXPECT_EQ(at("0.81 V"), "low");
  EXPECT_EQ(at("0.8 V"), "high");
  EXPECT_EQ(at("1.2 V"), "high");
  EXPECT_EQ(at("5 V"), "low");
  // An open one counts as high.
  at("0 V");
  EXPECT_EQ(at("open"), "low");
}

TEST(Gates, TheWholeHistoryOfAChange) {
  Bench bench(R"("U1": {"type": "74ls00"}, "HAND": {"type": "stimulus", "high": 1, "low": 2})",
              R"(["HAND.P0", "U1.1A"], ["HAND.P1", "U1.1B", "U1.2A"], ["U1.1Y", "U1.2B"], ["OUT", "U1.2Y"])");
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.set("HAND", "P1 high");
  // No delay: levels settle in rounds, and a hazard of less than a round is none.
  EXPECT_EQ(history.take(), "0.0 U1.1B high\n0.0 U1.1Y low\n0.0 OUT low\n0.0 OUT high\n");
}

TEST(Gates, AnInputThatFloatsForLongIsToldOfIfSomethingHangsOnIt) {
  Bench bench(R"("U1": {"type": "74ls00"}, "HAND": {"type": "stimulus", "low": 2})",
              R"(["HAND.P0", "U1.1A"], ["HAND.P1", "U1.1B"], ["OUT", "U1.1Y", "U1.2A"], ["HAND.P2", "U1.2B"])");
  bench.wait(20'000);
  EXPECT_EQ(bench.findings(), "") << "1B is low, so 1A does not matter; nothing hangs on 2Y";
  bench.machine.set("HAND", "P1 high");
  bench.wait(9'000);
  EXPECT_EQ(bench.findings(), "");
  bench.wait(2'000);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "U1.1A was read while nobody drives it; it read as 1");
}

TEST(Gates, ARingIsAFindingAndNoHang) {
  Bench bench(R"("U1": {"type": "74ls04"})", R"(["U1.1Y", "U1.1A"])");
  EXPECT_NE(bench.findings().find("unsettled"), std::string::npos) << bench.findings();
}

TEST(Gates, AreSavedWithTheMachine) {
  Bench bench(R"("U1": {"type": "74ls14"}, "HAND": {"type": "stimulus", "high": 1})",
              R"(["HAND.P0", "U1.1A"], ["OUT", "U1.1Y"])");
  bench.machine.set("HAND", "P0 1.2 V");
  const Snapshot saved = bench.machine.save();
  EXPECT_EQ(bench.level("OUT"), "low");
  bench.machine.set("HAND", "P0 low");
  EXPECT_EQ(bench.level("OUT"), "high");
  bench.machine.restore(saved);
  EXPECT_EQ(bench.level("OUT"), "low");
  EXPECT_EQ(bench.machine.save(), saved);
}

TEST(Gates, SayWhatTheyWaitFor) {
  Bench bench(R"("U1": {"type": "74ls00"}, "HAND": {"type": "stimulus", "high": 1, "low": 14})",
              R"(["HAND.P0", "U1.1A"], ["HAND.P1", "U1.1B"], ["OUT", "U1.1Y"],
                 ["HAND.P2", "U1.2A"], ["HAND.P3", "U1.2B"], ["OTHER", "U1.2Y"])");
  const ChipType& type = *bench_registry().find("74ls00");
  const auto waits = [&](const char* pin) {
    std::string text;
    std::size_t chip = 0;
    while (bench.machine.chips()[chip].name != "U1") ++chip;
    for (const int input : bench.machine.why_not(static_cast<int>(chip), type.pin(pin)).waits_for) {
      text += fmt::format("{} ", type.pins[static_cast<std::size_t>(input)].name);
    }
    return text;
  };
  EXPECT_EQ(waits("1Y"), "1B ");
  EXPECT_EQ(waits("2Y"), "2A 2B ") << "only both together";
}

TEST(Gates, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("gates.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
