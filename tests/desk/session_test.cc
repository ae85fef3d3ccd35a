#include <gtest/gtest.h>

#include <thread>

#include "desk_testing.h"

namespace prewire::front::desk {
namespace {

/// Runs at the given pace until it stands, or for a while.
void run_until_it_stands(Session& session, int frames = 4000) {
  for (int i = 0; i < frames && session.busy(); ++i) session.advance(1.0 / 60, 0.05);
}

std::uint16_t at(const Session& session, const char* label) { return session.machine()->address_of(label).value(); }

class OnTheGauge : public ::testing::Test {
 protected:
  OnTheGauge() : session(all_chips()) {
    session.open(gauge());
    EXPECT_NE(session.machine(), nullptr);
  }
  const Machine& machine() const { return *session.machine(); }
  Session session;
};

TEST_F(OnTheGauge, StandsAtTheStart) {
  EXPECT_EQ(machine().now(), 0);
  EXPECT_FALSE(session.busy());
  EXPECT_EQ(session.parts().digits.size(), 1U);
  EXPECT_EQ(session.parts().digits[0].chips.size(), 3U);
  EXPECT_EQ(session.parts().leds.size(), 1U);
  ASSERT_EQ(session.parts().knobs.size(), 1U);
  EXPECT_EQ(session.parts().knobs[0].net, "FLOAT.wiper");
}

TEST_F(OnTheGauge, RealTimeIsTheClockOfTheMachine) {
  session.run();
  for (int i = 0; i < 60; ++i) session.advance(1.0 / 60, 10);
  EXPECT_NEAR(static_cast<double>(machine().now()), 1e6, 2);
}

TEST_F(OnTheGauge, SlowPacesCountSingleCycles) {
  session.pace().choose(0);
  session.run();
  session.advance(0.05);
  EXPECT_EQ(machine().now(), 0);
  for (int i = 0; i < 60; ++i) session.advance(1.0 / 20);
  EXPECT_EQ(machine().now(), 3);
}

TEST_F(OnTheGauge, ARunawayNeverHoldsUpAFrame) {
  session.pace().choose(Pace::kUnlimited);
  session.run();
  const auto start = std::chrono::steady_clock::now();
  session.advance(1.0 / 60, 0.01);
  // Generous, for a busy computer.
  EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), 1.0);
  EXPECT_GT(machine().now(), 1000);
  EXPECT_TRUE(session.busy());
}

// Back and forth through a hundred instructions gives the same states.
TEST_F(OnTheGauge, StepsBackAreTheInverseOfSteps) {
  session.run_to(20'000);
  session.step(Step::instruction);
  const auto seen = [&] { return std::to_string(machine().now()) + " " + to_string(machine().cpu()); };
  std::vector<std::string> states;
  while (machine().cpu().state() == CpuState::running) {
    states.push_back(seen());
    session.step(Step::instruction);
  }
  ASSERT_GE(states.size(), 10U);
  const Cycle here = machine().now();
  session.run_to(here + 5000);
  const Snapshot later = machine().save();
  session.go_to(here);
  for (auto state = states.rbegin(); state != states.rend(); ++state) {
    session.step(Step::instruction_back);
    ASSERT_EQ(seen(), *state);
  }
  // It is the same machine in all that it does from there on.
  session.run_to(here + 5000);
  EXPECT_EQ(machine().save(), later);
}

TEST_F(OnTheGauge, CyclesBackAreTheInverseOfCycles) {
  session.run_to(20'000);
  std::vector<Snapshot> states;
  for (int i = 0; i < 30; ++i) {
    states.push_back(machine().save());
    session.step(Step::cycle);
  }
  for (int i = 29; i >= 0; --i) {
    session.step(Step::cycle_back);
    ASSERT_EQ(machine().save(), states[static_cast<std::size_t>(i)]) << i;
  }
}

TEST_F(OnTheGauge, TheBeginningHasNothingBeforeIt) {
  session.step(Step::cycle_back);
  session.step(Step::instruction_back);
  EXPECT_EQ(machine().now(), 0);
}

// What was done comes again on the way forward, and another deed makes another future.
TEST_F(OnTheGauge, DeedsAreDoneAgain) {
  session.run_to(50'000);
  ASSERT_TRUE(session.set("FLOAT", "2.5 V"));
  session.run_to(100'000);
  EXPECT_EQ(machine().display("LEVEL"), "125");
  session.go_to(50'000);
  EXPECT_EQ(machine().display("LEVEL"), "  0");
  session.run_to(100'000);
  EXPECT_EQ(machine().display("LEVEL"), "125");
  session.go_to(40'000);
  ASSERT_TRUE(session.set("FLOAT", "0.84 V"));
  session.run_to(100'000);
  EXPECT_EQ(machine().display("LEVEL"), " 42");
}

TEST_F(OnTheGauge, StopsAtAnAddressAndGoesOnFromThere) {
  session.toggle_stop_point(at(session, "show"));
  for (int i = 0; i < 3; ++i) {
    session.run();
    run_until_it_stands(session);
    EXPECT_EQ(machine().cpu().pc(), at(session, "show"));
    EXPECT_NE(session.why().find("$F836"), std::string::npos) << session.why();
  }
  session.toggle_stop_point(at(session, "show"));
  EXPECT_TRUE(session.stop_points().empty());
  session.run();
  session.advance(0.1, 1);
  EXPECT_TRUE(session.busy());
}

TEST_F(OnTheGauge, StopsAtAccesses) {
  session.add_stop_point(parse_stop_point(machine(), "read PORTA"));
  session.run();
  run_until_it_stands(session);
  ASSERT_FALSE(session.busy());
  EXPECT_EQ(session.bus().entries().back().bus.address, 0x4000);
  EXPECT_TRUE(session.bus().entries().back().bus.rw);
  session.remove_stop_point(0);
  session.add_stop_point(parse_stop_point(machine(), "write $0000-$0001"));
  session.run();
  run_until_it_stands(session);
  EXPECT_LE(session.bus().entries().back().bus.address, 1);
  EXPECT_FALSE(session.bus().entries().back().bus.rw);
}

TEST_F(OnTheGauge, StopsAtEdges) {
  session.add_stop_point(parse_stop_point(machine(), "fall CPU.IRQ"));
  EXPECT_EQ(session.stop_points()[0].net, "IRQ");
  session.run();
  run_until_it_stands(session);
  EXPECT_EQ(machine().net("IRQ")->level, Level::low);
  session.remove_stop_point(0);
  session.add_stop_point(parse_stop_point(machine(), "rise IRQ"));
  session.run();
  run_until_it_stands(session);
  EXPECT_EQ(machine().net("IRQ")->level, Level::high);
}

TEST_F(OnTheGauge, RunsBackToTheStopBefore) {
  session.toggle_stop_point(at(session, "converted"));
  std::vector<Cycle> stops;
  for (int i = 0; i < 5; ++i) {
    session.run();
    run_until_it_stands(session);
    stops.push_back(machine().now());
  }
  for (int i = 3; i >= 0; --i) {
    session.step(Step::run_back);
    run_until_it_stands(session);
    EXPECT_EQ(machine().now(), stops[static_cast<std::size_t>(i)]) << i;
    EXPECT_EQ(machine().cpu().pc(), at(session, "converted"));
  }
  session.step(Step::run_back);
  run_until_it_stands(session);
  EXPECT_EQ(machine().now(), 0);
}

TEST_F(OnTheGauge, RunsBackToAnEdge) {
  session.add_stop_point(parse_stop_point(machine(), "fall IRQ"));
  std::vector<Cycle> stops;
  for (int i = 0; i < 4; ++i) {
    session.run();
    run_until_it_stands(session);
    stops.push_back(machine().now());
  }
  for (int i = 2; i >= 0; --i) {
    session.step(Step::run_back);
    run_until_it_stands(session);
    EXPECT_EQ(machine().now(), stops[static_cast<std::size_t>(i)]) << i;
  }
}

TEST_F(OnTheGauge, GoesOverACallAndOutOfIt) {
  // Two instructions of two bytes, then `bsr digit`, which is two bytes long, too.
  const auto call = static_cast<std::uint16_t>(at(session, "below") + 4);
  session.toggle_stop_point(call);
  session.run();
  run_until_it_stands(session);
  ASSERT_EQ(machine().cpu().pc(), call);
  session.step(Step::over);
  run_until_it_stands(session);
  EXPECT_EQ(machine().cpu().pc(), call + 2);
  session.step(Step::run_back);
  run_until_it_stands(session);
  session.step(Step::instruction);
  EXPECT_EQ(machine().cpu().pc(), at(session, "digit"));
  session.step(Step::out);
  run_until_it_stands(session);
  EXPECT_EQ(machine().cpu().pc(), call + 2);
}

// PULS may pull the program counter (MC6809 programming manual, "PUL"); without it, it ends no routine.
TEST(OnAPanel, GoesOutOfARoutineThatPullsItsReturnAddress) {
  const Folder folder;
  const auto file = greenhouse_in(folder);
  std::string program = kPanelProgram;
  program.replace(program.find("        rts"), 11, "        pshs    x\ninside: puls    x\n        puls    pc");
  folder.write("panel.asm", program);
  Session session(all_chips());
  session.open(file);
  ASSERT_NE(session.machine(), nullptr);
  session.toggle_stop_point(at(session, "inside"));
  session.run();
  run_until_it_stands(session);
  ASSERT_EQ(session.machine()->cpu().pc(), at(session, "inside"));
  session.step(Step::out);
  run_until_it_stands(session);
  EXPECT_EQ(session.machine()->cpu().pc(), at(session, "copy") + 2);
}

TEST_F(OnTheGauge, KnowsTheLastCyclesWhereverItStops) {
  session.toggle_stop_point(at(session, "converted"));
  session.pace().choose(Pace::kUnlimited);
  for (int i = 0; i < 20; ++i) {
    session.run();
    run_until_it_stands(session);
  }
  const auto& entries = session.bus().entries();
  ASSERT_GE(entries.size(), 500U);
  EXPECT_EQ(entries.back().bus.cycle + 1, machine().now());
  for (std::size_t i = 1; i < entries.size(); ++i) EXPECT_EQ(entries[i].bus.cycle, entries[i - 1].bus.cycle + 1);
}

TEST_F(OnTheGauge, AWrongInputSaysWhatWasExpected) {
  EXPECT_FALSE(session.set("FLOAT", "wet"));
  EXPECT_NE(session.why().find("2.5 V"), std::string::npos) << session.why();
  EXPECT_THROW(session.play(read_stimulus(R"({"stimulus": [{"at": "1 ms", "set": "FLOTE", "to": "1 V"}]})", "x")),
               InputError);
  EXPECT_THROW(parse_stop_point(machine(), "read"), InputError);
  EXPECT_THROW(parse_stop_point(machine(), "fall IRG"), InputError);
  EXPECT_THROW(parse_stop_point(machine(), "write $10-$08"), InputError);
}

TEST_F(OnTheGauge, PowerAndResetKeepWhatHandsHaveSet) {
  session.run_to(1000);
  session.set("FLOAT", "2.5 V");
  session.power_cycle();
  EXPECT_EQ(machine().now(), 0);
  session.run_to(50'000);
  EXPECT_EQ(machine().display("LEVEL"), "125");
  session.press_reset();
  session.run_to(50'004);
  EXPECT_EQ(machine().cpu().state(), CpuState::reset);
  session.run_to(100'000);
  EXPECT_EQ(machine().cpu().state(), CpuState::running);
}

TEST(Reload, FollowsTheFilesAndKeepsTheInputs) {
  const Folder folder;
  const auto file = greenhouse_in(folder);
  Session session(all_chips());
  session.open(file);
  ASSERT_NE(session.machine(), nullptr);
  EXPECT_FALSE(session.reload_if_changed());
  session.set("S3", "closed");
  session.set("DAMP", "75 %");
  session.toggle_stop_point(at(session, "read"));
  session.run();

  // A program that cannot be assembled: the fault is shown, and nothing is lost.
  folder.write("panel.asm", "        cpu mc6809\n        org $F800\nstart:  ldq #1\n");
  EXPECT_TRUE(session.reload_if_changed());
  EXPECT_EQ(session.machine(), nullptr);
  ASSERT_FALSE(session.faults().empty());
  EXPECT_NE(session.faults()[0].place.file.find("panel.asm"), std::string::npos);
  EXPECT_EQ(session.faults()[0].place.line, 3);

  folder.write("panel.asm", std::string(kPanelProgram) + "; mended\n");
  EXPECT_TRUE(session.reload_if_changed());
  ASSERT_NE(session.machine(), nullptr);
  EXPECT_TRUE(session.closed(*session.parts().contact("S3")));
  EXPECT_FALSE(session.closed(*session.parts().contact("S2")));
  EXPECT_EQ(session.position(*session.parts().knob("DAMP")), 750'000);
  ASSERT_EQ(session.stop_points().size(), 1U);
  run_until_it_stands(session);
  EXPECT_EQ(session.machine()->cpu().pc(), at(session, "read"));
}

TEST(Reload, AMissingFileIsAFaultUntilItComes) {
  const Folder folder;
  Session session(all_chips());
  session.open(folder.path() / "panel.json");
  EXPECT_EQ(session.machine(), nullptr);
  EXPECT_FALSE(session.faults().empty());
  greenhouse_in(folder);
  EXPECT_TRUE(session.reload_if_changed());
  EXPECT_NE(session.machine(), nullptr);
}

// What is gone through again is not counted again, whatever took the machine there.
TEST(Session, FindingsAreThoseOfTheMomentHoweverItWasReached) {
  const Folder folder;
  const auto file = greenhouse_in(folder);
  std::string program = kPanelProgram;
  program.replace(program.find("        inc     count"), 21, "        lda     $9000");  // where nothing answers
  folder.write("panel.asm", program);
  const auto counts = [](const Session& session) {
    std::string text;
    for (const Finding& finding : session.machine()->findings()) {
      text += finding.id + " " + std::to_string(finding.count) + "\n";
    }
    return text;
  };
  const auto straight = [&](Cycle cycle) {
    Session session(all_chips());
    session.open(file);
    session.run_to(cycle);
    return counts(session);
  };
  Session session(all_chips());
  session.open(file);
  session.run_to(40'000);
  const std::string there = counts(session);
  EXPECT_NE(there.find("undriven-read"), std::string::npos) << there;
  EXPECT_NE(there, straight(20'000));
  for (int i = 0; i < 30; ++i) session.step(i % 2 == 0 ? Step::instruction_back : Step::cycle_back);
  EXPECT_EQ(counts(session), straight(session.machine()->now()));
  session.run_to(40'000);
  EXPECT_EQ(counts(session), there);
  session.toggle_stop_point(at(session, "read"));
  for (int i = 0; i < 5; ++i) {
    session.step(Step::run_back);
    run_until_it_stands(session);
    EXPECT_EQ(counts(session), straight(session.machine()->now()));
  }
  session.toggle_stop_point(at(session, "read"));
  session.step(Step::run_back);  // to the beginning
  run_until_it_stands(session);
  session.choose_probes({"KEYS"});
  session.run();
  while (session.machine()->now() < 40'000) session.advance(0.01, 1);
  session.stop();
  EXPECT_EQ(counts(session), straight(session.machine()->now()));
}

// Given up, a search leaves the machine where it was.
TEST_F(OnTheGauge, ASearchThatIsGivenUpChangesNothing) {
  session.run_to(3'000'000);
  const Snapshot before = machine().save();
  session.add_stop_point(parse_stop_point(machine(), "write $9000"));
  session.step(Step::run_back);
  for (int i = 0; i < 3; ++i) session.advance(0.01, 0);
  ASSERT_TRUE(session.busy());
  EXPECT_LT(machine().now(), 3'000'000);
  session.stop();
  EXPECT_EQ(machine().save(), before);
  session.step(Step::run_back);
  for (int i = 0; i < 3; ++i) session.advance(0.01, 0);
  EXPECT_TRUE(session.set("FLOAT", "1 V"));  // a hand that moves something gives it up, too
  EXPECT_EQ(machine().now(), 3'000'000);
  EXPECT_FALSE(session.busy());
}

TEST(Session, MemoryAndRegistersChangeAndComeBack) {
  const Folder folder;
  Session session(all_chips());
  session.open(greenhouse_in(folder));
  session.run_to(1000);
  while (session.machine()->cpu().cycles_into_instruction() != 0) session.step(Step::cycle);
  const Cycle here = session.machine()->now();
  EXPECT_TRUE(session.poke(0x0100, 0x5A));
  EXPECT_FALSE(session.poke(0xA500, 1));
  EXPECT_TRUE(session.change_register(0, 0x42));
  session.step(Step::cycle);
  session.go_to(here - 10);
  EXPECT_NE(session.machine()->peek(0x0100), 0x5A);
  session.go_to(here + 1);
  EXPECT_EQ(session.machine()->peek(0x0100), 0x5A);
}

}  // namespace
}  // namespace prewire::front::desk
