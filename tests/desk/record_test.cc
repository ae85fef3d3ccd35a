// Sessions as lab checks: written down, run by the means of `prewire test`, and played again.
#include <gtest/gtest.h>

#include "desk_testing.h"

namespace prewire::front::desk {
namespace {

constexpr CheckLimits kNoLimits{std::int64_t{1} << 60, std::int64_t{1} << 60, std::uint64_t{1} << 60};

std::string written(const Session& session) {
  const auto recording = session.record();
  while (recording->go_on(1)) {
  }
  return recording->take_text().value_or("");
}

/// What is wrong with the first check of a file, as `prewire test` sees it; empty if it passes.
std::string verdict(const std::filesystem::path& file) {
  const LabCheck check = read_check_file(file).at(0);
  CheckRun run(check, Description::from_file(machine_file(check, file), all_chips()), kNoLimits);
  while (run.go_on()) {
  }
  const CheckResult result = run.take_result();
  std::string text = result.why;
  for (const ExpectationResult& each : result.expectations) {
    if (!each.met) text += "\n" + each.expected + ", found " + each.found;
  }
  return result.passed ? "" : text + " fails";
}

/// A copy of the rain barrel's files, to record beside them.
std::filesystem::path gauge_in(const Folder& folder) {
  std::filesystem::copy(gauge().parent_path(), folder.path(), std::filesystem::copy_options::recursive);
  return folder.path() / "gauge.json";
}

/// The same in all that can be asked.
void expect_same(const Machine& a, const Machine& b) {
  EXPECT_EQ(a.now(), b.now());
  EXPECT_EQ(to_string(a.cpu()), to_string(b.cpu()));
  for (std::uint32_t address = 0; address < 0x80; ++address) {
    const auto at = static_cast<std::uint16_t>(address);
    ASSERT_EQ(a.peek(at), b.peek(at)) << address;
  }
}

TEST(Record, ASessionIsACheckThatPassesAndPlaysTheSame) {
  const Folder folder;
  Session session(all_chips());
  session.open(gauge_in(folder));
  session.run_to(10'001);
  session.set("FLOAT", "2.5 V");
  session.run_to(60'003);
  session.press_reset();
  session.run_to(120'003);
  session.set("FLOAT", "10 %");
  session.run_to(200'000);
  const std::string text = written(session);
  EXPECT_NE(text.find("\"10001 cycles\""), std::string::npos) << text;
  EXPECT_NE(text.find("\"shows\": \"125\""), std::string::npos) << text;
  const auto file = folder.write("gauge-session-1.check.json", text);
  EXPECT_EQ(verdict(file), "");

  Session again(all_chips());
  again.open(file);
  ASSERT_NE(again.machine(), nullptr) << to_string(again.faults().at(0));
  EXPECT_EQ(again.machine()->now(), 0);
  again.run_to(30'000);
  EXPECT_NEAR(static_cast<double>(again.position(*again.parts().knob("FLOAT"))), 500'000, 1000);
  again.run_to(200'000);
  expect_same(*again.machine(), *session.machine());

  // What is played and what is done meanwhile make the next recording.
  again.set("FLOAT", "1 V");
  again.run_to(260'000);
  const auto longer = folder.write("gauge-session-2.check.json", written(again));
  EXPECT_EQ(verdict(longer), "");
  Session third(all_chips());
  third.open(longer);
  third.run_to(260'000);
  expect_same(*third.machine(), *again.machine());
}

// A recording says what is expected, so that a program that does otherwise fails.
TEST(Record, AnotherProgramFailsTheCheck) {
  const Folder folder;
  Session session(all_chips());
  session.open(greenhouse_in(folder));
  session.run_to(10'000);
  session.set("S3", "closed");
  session.run_to(60'000);
  const auto file = folder.write("panel-session-1.check.json", written(session));
  EXPECT_EQ(verdict(file), "");
  std::string program = kPanelProgram;
  program.replace(program.find("        coma"), 12, "        clra");
  folder.write("panel.asm", program);
  EXPECT_NE(verdict(file).find("L3"), std::string::npos) << verdict(file);
}

TEST(Record, SecondsAreNotTooLongForACheck) {
  const Folder folder;
  Session session(all_chips());
  session.open(gauge_in(folder));
  session.run_to(120'000'000);
  const auto file = folder.write("long.check.json", written(session));
  EXPECT_GT(read_check_file(file).at(0).limits().cycles, 120'000'000);
  EXPECT_EQ(verdict(file), "");
}

TEST(Record, WhatStopsTheMachineIsExpected) {
  const Folder folder;
  const auto file = greenhouse_in(folder);
  // $87 is no instruction of the MC6809 (its data sheet, opcode map).
  std::string program = kPanelProgram;
  program.replace(program.find("        bra     copy"), 20,
                  "        ldb     count\n        bpl     copy\n        fcb     $87");
  folder.write("panel.asm", program);
  Session session(all_chips());
  session.open(file);
  ASSERT_NE(session.machine(), nullptr) << to_string(session.faults().at(0));
  session.run_to(100'000);
  const Cycle stuck = session.machine()->now();
  EXPECT_LT(stuck, 100'000);
  const std::string text = written(session);
  EXPECT_NE(text.find("undefined opcode"), std::string::npos) << text;
  EXPECT_EQ(verdict(folder.write("stuck.check.json", text)), "");
}

TEST(Record, NothingIsWrittenThatCannotBeChecked) {
  const Folder folder;
  Session session(all_chips());
  session.open(greenhouse_in(folder));
  session.run_to(500);
  EXPECT_EQ(written(session), "") << "nothing has been lit for long enough";
  session.poke(0x0100, 1);
  EXPECT_THROW(session.record(), InputError);
  session.power_cycle();
  EXPECT_NO_THROW(session.record());
}

TEST(Play, AChecksOwnMachineIsOnTheDesk) {
  const Folder folder;
  greenhouse_in(folder);
  const auto file = folder.write("two.check.json", R"({"machine": "panel.json", "checks": [
    {"check": "first", "stimuli": [{"at": "1 ms", "set": "S1", "to": "closed"}], "expect": []},
    {"check": "second", "wiring": {"remove": ["S2.1"]}, "stimuli": [{"at": "1 ms", "set": "S2", "to": "closed"},
      {"at": "2 ms", "set": "S3", "to": "closed"},
      {"at": "3 ms", "press": "K4", "held": "2 ms"}], "expect": []},
    {"check": "off and on", "stimuli": [{"at": "1 ms", "power_cycle": true}], "expect": []}]})");
  Session session(all_chips());
  session.open(file);
  ASSERT_NE(session.machine(), nullptr) << to_string(session.faults().at(0));
  session.run_to(2000);
  EXPECT_TRUE(session.closed(*session.parts().contact("S1")));
  EXPECT_EQ(session.machine()->net("PIA.PA1")->level, Level::low);

  session.open(file, "second");
  session.run_to(2000);
  EXPECT_TRUE(session.closed(*session.parts().contact("S2")));
  EXPECT_EQ(session.machine()->net("PIA.PA2")->level, Level::high) << "its wire is off";
  session.run_to(4000);
  EXPECT_TRUE(session.closed(*session.parts().contact("K4")));
  session.run_to(60'000);
  EXPECT_FALSE(session.closed(*session.parts().contact("K4")));
  const std::string text = written(session);
  EXPECT_NE(text.find("\"remove\""), std::string::npos) << text;
  EXPECT_EQ(verdict(folder.write("again.check.json", text)), "");

  // What hands have set stays when a file is read again; the check is played from its start.
  session.set("S7", "closed");
  session.reload();
  EXPECT_EQ(session.machine()->now(), 0);
  EXPECT_TRUE(session.closed(*session.parts().contact("S7")));
  EXPECT_FALSE(session.closed(*session.parts().contact("S2")));

  for (const auto& [name, id] : {std::pair("third", "no-check"), std::pair("off and on", "check-power")}) {
    session.open(file, name);
    EXPECT_EQ(session.machine(), nullptr);
    ASSERT_FALSE(session.faults().empty());
    EXPECT_EQ(session.faults()[0].id, id);
  }
  session.open(folder.path() / "panel.json", "first");
  EXPECT_EQ(session.faults().at(0).id, "no-check");
}

}  // namespace
}  // namespace prewire::front::desk
