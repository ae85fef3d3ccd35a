#include <gtest/gtest.h>

#include "desk/view/see.h"
#include "desk_testing.h"

namespace prewire::front::desk {
namespace {

View seen(Session& session, Choices& choices, int rows = 10) {
  Room room;
  room.program_rows = rows;
  follow_program(session, choices, rows);
  return look_at(session, choices, room);
}

TEST(View, ShowsTheGaugeAsItStands) {
  Session session(all_chips());
  session.open(gauge());
  session.set("FLOAT", "2.5 V");
  session.run_to(50'000);
  Choices choices;
  choices.look = Look::wiring;
  const View view = seen(session, choices);
  EXPECT_EQ(view.title, "Rain barrel gauge");
  EXPECT_EQ(view.processor, "mc6800, 1 MHz");
  EXPECT_EQ(view.time, "cycle 50 000  50.000 ms");
  ASSERT_EQ(view.digits.size(), 1U);
  // "1": segments b and c; "2": a b d e g; "5": a c d f g (National 74LS48 data sheet).
  const std::string shapes[] = {"bc", "abdeg", "acdfg"};
  for (std::size_t i = 0; i < 3; ++i) {
    std::string lit;
    for (std::size_t s = 0; s < 7; ++s) {
      if (view.digits[0].digits[i].light[s] > 0.5) lit += static_cast<char>('a' + s);
    }
    EXPECT_EQ(lit, shapes[i]);
  }
  ASSERT_EQ(view.knobs.size(), 1U);
  EXPECT_EQ(view.knobs[0].volts, "2.50 V");
  EXPECT_EQ(view.knobs[0].percent, 50);
  // 2.5 V at 20 mV a step is 125: what the program has kept at $0000.
  EXPECT_EQ(view.memory[0].cells[0].value, 125);
  EXPECT_TRUE(view.memory[0].cells[0].known);
  EXPECT_FALSE(view.memory[0].cells[5].known);
  EXPECT_EQ(view.memory_place, "$0000  RAM  level");
  ASSERT_EQ(view.flags.size(), 6U);
  EXPECT_EQ(view.flags[0].letter, 'H');
  EXPECT_EQ(view.bus.cells.size(), 64U);
  EXPECT_EQ(view.bus.cells.back().cycle, 49'999);
  EXPECT_EQ(view.bus.lines[0].name, "R/W");
  EXPECT_EQ(view.bus.lines[1].name, "VMA");
  EXPECT_EQ(view.bus.lines[2].name, "IRQ");
  ASSERT_FALSE(view.wiring.nets.empty());
  const auto next =
      std::find_if(view.program.begin(), view.program.end(), [](const ProgramRow& row) { return row.next; });
  ASSERT_NE(next, view.program.end());
  EXPECT_EQ(next->mnemonic, "staa");
  EXPECT_EQ(next->operand, "CRA");
  EXPECT_EQ(next->cycles, "5");  // MC6800 data sheet, STAA extended
}

TEST(View, LeavesTheInsideOutWhenAskedTo) {
  Session session(all_chips());
  session.open(gauge());
  session.run_to(50'000);
  const Choices choices;
  const View view = look_at(session, choices, Room{}, false), whole = look_at(session, choices, Room{});
  EXPECT_TRUE(view.registers.empty() && view.flags.empty() && view.memory.empty() && view.bus.cells.empty());
  EXPECT_FALSE(whole.registers.empty() || whole.flags.empty() || whole.memory.empty() || whole.bus.cells.empty());
  EXPECT_EQ(view.memory_place, whole.memory_place);
  EXPECT_EQ(view.time, whole.time);
  EXPECT_EQ(view.program.size(), whole.program.size());
}

TEST(View, AnMc6809HasBaAndBsInstead) {
  Session session(all_chips());
  session.open(gauge("gauge-6809.json"));
  session.run_to(1000);
  Choices choices;
  const View view = seen(session, choices);
  EXPECT_EQ(view.bus.lines[1].name, "BA");
  EXPECT_EQ(view.bus.lines[2].name, "BS");
  EXPECT_EQ(view.flags.size(), 8U);
}

// A digit that is lit a quarter of the time looks a quarter as bright; by hand it is lit or it is not.
TEST(View, MultiplexedLightIsAveraged) {
  const Folder folder;
  folder.write(
      "blink.asm",
      "        cpu mc6809\n        org $F800\nstart: clr $A001\n lda #$FF\n sta $A000\n lda #4\n sta $A001\n"
      "loop: lda #1\n sta $A000\n ldb #9\non: decb\n bne on\n clr $A000\n ldb #30\noff: decb\n bne off\n bra loop\n"
      " org $FFFE\n fdb start\n");
  const auto file =
      folder.write("blink.json", R"({"machine": "Lamp", "cpu": {"type": "mc6809", "crystal": "4 MHz"}, "chips": {
    "PIA": {"type": "mc6821", "at": "$A000-$A003"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"}, "LAMP": {"type": "led"},
    "R": {"type": "resistor", "ohms": "330 Ohm"}}, "wires": [["PIA.PA0", "R.1"], ["R.2", "LAMP.A"], ["LAMP.K", "GND"],
    ["PIA.CA1", "PIA.CA2", "PIA.CB1", "PIA.CB2", "GND"],
    ["CPU.HALT", "CPU.NMI", "CPU.IRQ", "CPU.FIRQ", "CPU.MRDY", "+5V"]], "program": ["blink.asm"]})");
  Session session(all_chips());
  session.open(file);
  ASSERT_NE(session.machine(), nullptr) << to_string(session.faults().at(0));
  session.run_to(100'000);
  Choices choices;
  // Lit from the end of STA to that of CLR: LDB 2, 9 x (DECB 2 + BNE 3), CLR 7 = 54 of 2+5+2+45+7+2+150+3 = 216 cycles
  // (MC6809 data sheet, instruction tables).
  EXPECT_NEAR(seen(session, choices).leds.at(0).light, 54.0 / 216, 0.02);
  session.step(Step::cycle);
  const double by_hand = seen(session, choices).leds[0].light;
  EXPECT_TRUE(by_hand == 0 || by_hand == 1);
}

TEST(View, TakesSourceLinesApart) {
  const SourceText all = take_apart("read:   lda     $A000,x  ; the switches");
  EXPECT_EQ(all.label, "read");
  EXPECT_EQ(all.mnemonic, "lda");
  EXPECT_EQ(all.operand, "$A000,x");
  EXPECT_EQ(all.comment, "; the switches");
  const SourceText quoted = take_apart("\tfcc \"a;b\"");
  EXPECT_EQ(quoted.operand, "\"a;b\"");
  EXPECT_EQ(take_apart("        ldaa    #';    ").operand, "#'");
  EXPECT_EQ(take_apart("* a remark").comment, "* a remark");
  EXPECT_EQ(take_apart("").mnemonic, "");
}

// Whatever the processor does, the line that is next is among those that are shown.
TEST(View, TheProgramFollowsTheProcessor) {
  Session session(all_chips());
  session.open(gauge());
  Choices choices;
  session.run_to(20);
  for (int i = 0; i < 300; ++i) {
    session.step(Step::instruction);
    const View view = seen(session, choices, 6);
    EXPECT_EQ(std::count_if(view.program.begin(), view.program.end(), [](const ProgramRow& row) { return row.next; }),
              1);
    EXPECT_EQ(view.program.size(), 6U);
  }
}

TEST(View, AnImageWithoutSourceIsDisassembled) {
  const Folder folder;
  // LDAA #$12; STAA $10; BRA *-4 and the reset vector, as S-records (addresses and checksums by hand).
  folder.write("p.key", "F800: 86 12 97 10 20 FA\nFFFE: F8 00\n");
  const auto file =
      folder.write("m.json", R"({"machine": "Bare", "cpu": {"type": "mc6800", "clock": "1 MHz"}, "chips": {
    "RAM": {"type": "mcm6810", "at": "$0000-$007F"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"}},
    "wires": [["CPU.HALT", "CPU.NMI", "CPU.IRQ", "+5V"]], "program": ["p.key"]})");
  Session session(all_chips());
  session.open(file);
  ASSERT_NE(session.machine(), nullptr) << to_string(session.faults().at(0));
  session.run_to(40);
  Choices choices;
  const View view = seen(session, choices, 4);
  ASSERT_EQ(view.program.size(), 4U);
  EXPECT_TRUE(std::any_of(view.program.begin(), view.program.end(),
                          [](const ProgramRow& row) { return row.mnemonic == "STAA"; }));
  EXPECT_EQ(view.program_name, "");
}

}  // namespace
}  // namespace prewire::front::desk
