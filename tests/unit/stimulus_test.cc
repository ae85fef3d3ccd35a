// What a person does and when: moments, stimulus files, and when a machine has nothing left to wait for.
#include "prewire/stimulus.h"

#include <gtest/gtest.h>

#include "machine_fixture.h"
#include "machine_testing.h"

namespace prewire::testing {
namespace {

std::string faults_of(std::string_view json) {
  try {
    read_stimulus(json, "evening.json");
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

TEST(Moment, ReadsTimesAndCycles) {
  const Timebase half(500'000'000);
  EXPECT_EQ(parse_moment("10 ms")->stamp(half), 20'000);
  EXPECT_EQ(parse_moment("10ms")->stamp(half), 20'000);
  EXPECT_EQ(parse_moment("0 s")->stamp(half), 0);
  EXPECT_EQ(parse_moment("1200 cycles")->stamp(half), 4'800);
  EXPECT_EQ(parse_moment("1200cycles")->stamp(half), 4'800);
  EXPECT_EQ(parse_moment("1 cycle")->stamp(half), 4);
}

TEST(Moment, RoundsToTheNearestQuarterCycle) {
  const Timebase one(1'000'000'000);
  EXPECT_EQ(parse_moment("124 ns")->stamp(one), 0);
  EXPECT_EQ(parse_moment("126 ns")->stamp(one), 1);
}

TEST(Moment, RefusesWhatIsNone) {
  for (const char* text : {"", "soon", "10", "-1 ms", "-1 cycles", "1.5 cycles", "cycles", "10 mcycles", "10 cycles ",
                           "10 Hz", "1000000000000001 cycles", "99999999999999999999 cycles", "1e30 s"}) {
    EXPECT_FALSE(parse_moment(text)) << text;
  }
}

TEST(StimulusFile, KeepsOrderAndPlaces) {
  const auto stimuli = read_stimulus(R"({"about": "fish tank", "stimulus": [
  {"at": "2 ms", "set": "FLOAT", "to": "closed"},
  {"at": "7 cycles", "set": "RESET", "to": "pressed", "about": "a slip of the hand"}]})",
                                     "evening.json");
  ASSERT_EQ(stimuli.size(), 2U);
  EXPECT_EQ(stimuli[0].at.count, 2'000'000'000);
  EXPECT_FALSE(stimuli[0].at.in_cycles);
  EXPECT_EQ(stimuli[0].part, "FLOAT");
  EXPECT_EQ(stimuli[0].value, "closed");
  EXPECT_TRUE(stimuli[1].at.in_cycles);
  EXPECT_EQ(stimuli[1].part_place.line, 3);
  EXPECT_EQ(stimuli[1].part_place.column, 29);
  EXPECT_EQ(stimuli[1].value_place.pointer, "/stimulus/1/to");
}

TEST(StimulusFile, SaysAllThatIsWrong) {
  EXPECT_EQ(faults_of(R"({"stimulus": [
  {"at": "soon", "set": "FLOAT", "to": "open"},
  {"at": "1 ms", "set": 5, "to": "open", "by": "hand"}]})"),
            "evening.json:2:10: stop: \"at\" is no moment (at /stimulus/0/at) [bad-moment]\n"
            "    expected: a time such as \"10 ms\", or a count of cycles such as \"1200 cycles\"\n"
            "    found:    \"soon\"\n"
            "    hint:     time counts from power-on\n"
            "evening.json:3:25: stop: \"set\" has the wrong type (at /stimulus/1/set) [wrong-type]\n"
            "    expected: the name of a part\n"
            "    found:    5\n"
            "evening.json:3:42: stop: \"by\" is no key of a stimulus (at /stimulus/1/by) [unknown-key]\n"
            "    expected: \"at\", \"set\", \"to\" or \"about\"\n"
            "    found:    \"by\"\n"
            "    hint:     remove the key; \"about\" takes free text\n");
}

TEST(StimulusFile, IsNotTakenForAMachineDescription) {
  EXPECT_EQ(faults_of(std::string((1 << 20) + 1, ' ')),
            "evening.json: stop: the text is too large for a stimulus file [json-too-large]\n"
            "    expected: at most 1048576 bytes\n"
            "    found:    1048577 bytes\n"
            "    hint:     check that this is the right file\n");
}

TEST(StimulusFile, RefusesFilesThatCannotBeRead) {
  const Folder folder("stimulus");
  EXPECT_THROW(read_stimulus_file(folder.path() / "missing.json"), InputError);
  EXPECT_THROW(read_stimulus_file(folder.path()), InputError);
  EXPECT_THROW(read_stimulus_file(folder.path() / std::string(5000, 'x')), InputError);
  folder.write("long.json", std::string((1 << 20) + 1, ' '));
  EXPECT_THROW(read_stimulus_file(folder.path() / "long.json"), InputError);
}

TEST(NothingDue, TellsChipsAndInputsThatWait) {
  Bench bench(R"("TOP": {"type": "button", "bounce": "1 ms"})", R"(["TOP.1", "+5V"], ["TOP.2", "GND"])");
  EXPECT_TRUE(bench.machine.nothing_due());
  bench.machine.schedule("TOP", "pressed", stamp_of(bench.machine.now() + 100));
  EXPECT_FALSE(bench.machine.nothing_due());
  bench.machine.run_for(500);
  EXPECT_FALSE(bench.machine.nothing_due()) << "the contact bounces";
  bench.machine.run_for(2000);
  EXPECT_TRUE(bench.machine.nothing_due());
}

TEST(ProcessorTypes, HaveTheSettingsOfTheDescription) {
  for (const ChipType& type : processor_types()) {
    ASSERT_FALSE(type.parameters.empty());
    EXPECT_EQ(type.parameters[0].name, type.name == "mc6800" || type.name == "mc6809e" ? "clock" : "crystal")
        << type.name;
    EXPECT_EQ(type.parameters.size(), type.name == "mc6802" ? 2U : 1U) << type.name;
  }
}

}  // namespace
}  // namespace prewire::testing
