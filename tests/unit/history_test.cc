// Time travel on the rain barrel lab: what it finds, what it keeps, what becomes of the future.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <string>

#include "paths.h"
#include "prewire/chips.h"
#include "prewire/history.h"

namespace prewire::testing {
namespace {

Machine lab() {
  return Machine::from_file(source_folder() / "scenarios" / "rain_barrel" / "gauge.json", standard_chips());
}

std::string told(const std::optional<Happening>& happening) {
  if (!happening) return "never";
  std::string text = fmt::format("{}{} ${:04X} {}", happening->by_hand ? "by hand " : "", happening->cycle,
                                 happening->pc, happening->instruction);
  if (happening->kind != Wanted::Kind::net) {
    return text + fmt::format(": ${:04X} {:02X} {:02X}>{:02X}", happening->address, happening->data, happening->before,
                              happening->after);
  }
  for (const NetStep& step : happening->steps) {
    text += fmt::format("\n{} {}>{} by {} ({} {})", step.net, to_string(step.before.level), to_string(step.after.level),
                        step.pin, step.chip, to_string(step.why));
  }
  return text;
}

Wanted writes(std::uint16_t address) { return {Wanted::Kind::write, address, address}; }
Wanted net(std::string name) { return {Wanted::Kind::net, 0, 0, std::move(name)}; }

TEST(TimeTravel, TellsTheLastWrite) {
  Machine machine = lab();
  History history(machine);
  machine.set("FLOAT", "0.5 V");
  machine.run_until(20'000);
  machine.set("FLOAT", "2.5 V");
  machine.run_until(40'000);
  const auto found = history.last(writes(0));  // level
  ASSERT_TRUE(found);
  EXPECT_EQ(found->instruction, "STAA $00");
  EXPECT_EQ(found->data, 125);
  EXPECT_EQ(found->before, 125);
  EXPECT_EQ(found->after, 125);
  EXPECT_EQ(found->pc, *machine.address_of("converted") + 3);
  // Back until the reading changed.
  auto change = history.back_to(writes(0));
  for (int tries = 0; tries < 500 && change && change->before == change->after; ++tries) {
    EXPECT_EQ(machine.now(), change->cycle);
    change = history.back_to(writes(0));
  }
  ASSERT_TRUE(change);
  EXPECT_EQ(change->before, 25);
  EXPECT_EQ(change->after, 125);
  EXPECT_GE(change->cycle, 20'000);
  EXPECT_EQ(machine.peek(0), 25);
  machine.step_cycle();
  EXPECT_EQ(machine.peek(0), 125);
}

TEST(TimeTravel, TellsWhyANetChanged) {
  Machine machine = lab();
  History history(machine);
  machine.set("FLOAT", "2.5 V");
  machine.run_until(30'000);
  EXPECT_EQ(told(history.last(net("FLOAT.wiper"))).substr(0, 7), "by hand");
  // The processor's access moves CA2, and with it the converter's WR.
  const auto wr = history.last(net("ADC.WR"));
  ASSERT_TRUE(wr && wr->steps.size() == 1);
  EXPECT_EQ(wr->steps[0].pin, "PIA.CA2");
  EXPECT_EQ(wr->steps[0].why, NetStep::Why::access);
  EXPECT_EQ(wr->steps[0].address, 0x4001);
  EXPECT_EQ(wr->steps[0].data, 0x3D);
  EXPECT_TRUE(wr->steps[0].write);
  EXPECT_EQ(wr->instruction, "STAA $4001");
  // The request falls because the converter is done, in its own time.
  history.back_to(net("IRQ"));  // its rise, when the port is read
  const auto irq = history.last(net("IRQ"));
  ASSERT_TRUE(irq && irq->steps.size() == 2);
  EXPECT_EQ(irq->steps[0].pin, "PIA.IRQA");
  EXPECT_EQ(irq->steps[0].why, NetStep::Why::net);
  EXPECT_EQ(irq->steps[1].pin, "ADC.INTR");
  EXPECT_EQ(irq->steps[1].why, NetStep::Why::time);
}

TEST(TimeTravel, KnowsWhatWasDoneByHand) {
  Machine machine = lab();
  History history(machine);
  machine.run_until(5'000);
  machine.poke(0x0070, 0xAB);
  machine.run_until(6'000);
  const auto found = history.last(writes(0x0070));
  ASSERT_TRUE(found);
  EXPECT_TRUE(found->by_hand);
  EXPECT_EQ(found->cycle, 4'999);
  EXPECT_EQ(found->after, 0xAB);
  EXPECT_FALSE(history.last(writes(0x0071)));
  ASSERT_TRUE(history.back_to(writes(0x0070)));
  EXPECT_EQ(machine.now(), 4'999);
  EXPECT_NE(machine.peek(0x0070), 0xAB);
  machine.step_cycle();
  EXPECT_EQ(machine.peek(0x0070), 0xAB);
}

TEST(TimeTravel, FindsWhereARoutineWasEntered) {
  Machine machine = lab();
  History history(machine);
  machine.run_until(30'000);
  const std::uint16_t show = *machine.address_of("show");
  const auto found = history.back_to({Wanted::Kind::execute, show, show});
  ASSERT_TRUE(found);
  EXPECT_EQ(machine.cpu().pc(), show);
  EXPECT_EQ(machine.cpu().cycles_into_instruction(), 0);
  EXPECT_EQ(found->pc, show);
  EXPECT_EQ(found->registers, to_string(machine.cpu()));
}

TEST(TimeTravel, KeepsItsBudget) {
  Machine machine = lab();
  const std::size_t one = machine.save().bytes().size();
  History history(machine, 20 * one);
  for (int i = 0; i < 100; ++i) {
    machine.run_for(1'000'000);
    EXPECT_LE(history.bytes(), 20 * one);
  }
  EXPECT_EQ(history.begin(), 0);
  EXPECT_GT(history.states(), 5U);
  // Inputs take room, too: the far past is given up for them.
  for (int i = 0; i < 5'000; ++i) {
    machine.set("FLOAT", i % 2 == 0 ? "1 V" : "2 V");
    machine.run_for(1'000);
  }
  EXPECT_LE(history.bytes(), 20 * one + 5'000 * 64);
  EXPECT_GE(history.states(), 2U);
  const Snapshot here = machine.save();
  const Cycle now = machine.now();
  ASSERT_TRUE(history.go_to(now - 900'000));
  machine.run_until(now);
  EXPECT_TRUE(machine.save() == here);
}

TEST(TimeTravel, KeepsItsBudgetWhileTheMachineStands) {
  Machine machine = lab();
  machine.run_until(5'000);
  const std::size_t budget = 20 * machine.save().bytes().size();
  History history(machine, budget);
  machine.run_until(10'000);
  const auto meddle = [&](int i) {
    switch (i % 5) {
      case 0: machine.set("FLOAT", i % 2 == 0 ? "1 V" : "2 V"); break;
      case 1: machine.poke(0x0070, static_cast<std::uint8_t>(i)); break;
      case 2: machine.cpu().set(0, static_cast<std::uint16_t>(i)); break;
      case 3: machine.reset(); break;
      default: machine.set("RESET", i % 2 == 0 ? "pressed" : "released");
    }
  };
  for (int i = 0; i < 50'000; ++i) {
    meddle(i);
    ASSERT_LE(history.bytes(), budget) << i;
  }
  EXPECT_EQ(history.begin(), 10'000);  // no longer further back
  EXPECT_EQ(machine.now(), 10'000);
  // The past goes on from there.
  machine.set("RESET", "released");
  machine.run_until(30'000);
  const Snapshot later = machine.save();
  ASSERT_TRUE(history.go_to(20'000));
  ASSERT_TRUE(history.go_to(30'000));
  EXPECT_TRUE(machine.save() == later);
  EXPECT_FALSE(history.go_to(9'999));
}

TEST(TimeTravel, KeepsItsBudgetWhileTheProcessorWaits) {
  // In WAI with nothing due, halted by a wire, and stuck at an undefined opcode.
  for (const std::string_view code : {"3E", "02", "20 FE"}) {
    Machine machine = lab();
    const std::size_t one = machine.save().bytes().size();
    machine.run_until(100);
    for (std::size_t i = 0; i < 8; ++i) {
      const std::string_view digits = code.substr(std::min(3 * i, code.size()), 2);
      if (digits.size() < 2) break;
      machine.poke(static_cast<std::uint16_t>(0x0060 + i),
                   static_cast<std::uint8_t>(std::stoi(std::string(digits), nullptr, 16)));
    }
    while (machine.cpu().cycles_into_instruction() > 0) machine.step_cycle();
    ASSERT_TRUE(machine.cpu().set(4, 0x0060));
    History history(machine, 10 * one);
    for (int i = 0; i < 3'000; ++i) {
      machine.run_for(1'000'000);
      machine.schedule("FLOAT", "1 V", machine.moment());
      ASSERT_LE(history.bytes(), 10 * one) << code << ' ' << i;
    }
  }
}

TEST(TimeTravel, ForgetsTheFutureWhenThePastIsChanged) {
  Machine machine = lab();
  History history(machine);
  machine.run_until(10'000);
  machine.set("FLOAT", "3 V");
  machine.run_until(50'000);
  EXPECT_EQ(machine.display("LEVEL"), "150");
  ASSERT_TRUE(history.go_to(9'000));
  EXPECT_EQ(history.end(), 50'000);
  machine.run_until(50'000);
  EXPECT_EQ(machine.display("LEVEL"), "150");
  ASSERT_TRUE(history.go_to(9'000));
  machine.set("FLOAT", "1 V");
  EXPECT_EQ(history.end(), 9'000);
  EXPECT_FALSE(history.go_to(9'001));
  machine.run_until(50'000);
  EXPECT_EQ(machine.display("LEVEL"), " 50");
}

TEST(TimeTravel, BeginsAnewWithPowerAndRestore) {
  Machine machine = lab();
  History history(machine);
  machine.run_until(10'000);
  const Snapshot there = machine.save();
  machine.run_until(20'000);
  machine.restore(there);
  EXPECT_EQ(history.begin(), 10'000);
  EXPECT_EQ(history.end(), 10'000);
  EXPECT_FALSE(history.back_cycle());
  EXPECT_FALSE(history.back_instruction());
  machine.power_cycle();
  EXPECT_EQ(history.begin(), 0);
}

TEST(TimeTravel, StopsAtABreakpointOnTheWayForwardOnly) {
  Machine machine = lab();
  History history(machine);
  machine.set_breakpoint(*machine.address_of("show"), true);
  ASSERT_EQ(machine.run_until(100'000).reason, StopReason::breakpoint);
  const Cycle first = machine.now();
  ASSERT_EQ(machine.run_until(100'000).reason, StopReason::breakpoint);
  const Cycle second = machine.now();
  history.last(writes(0));
  EXPECT_EQ(machine.now(), second);
  ASSERT_TRUE(history.go_to(first - 10));
  ASSERT_EQ(machine.run_until(100'000).reason, StopReason::breakpoint);
  EXPECT_EQ(machine.now(), first);
  ASSERT_TRUE(history.go_to(second));
  const Stop third = machine.run_until(100'000);
  EXPECT_EQ(third.reason, StopReason::breakpoint);
  EXPECT_GT(third.cycle, second);
}

TEST(TimeTravel, GivesUpWhenAsked) {
  Machine machine = lab();
  History history(machine);
  machine.run_until(5'000'000);
  int asked = 0;
  EXPECT_FALSE(history.last(writes(0x0070), [&] { return ++asked == 2; }));
  EXPECT_EQ(asked, 2);
  EXPECT_EQ(machine.now(), 5'000'000);
}

TEST(WayHere, GoesThroughWhatWasDoneFromOutside) {
  Machine machine = lab();
  machine.run_until(10'000);
  machine.set("FLOAT", "1 V");
  machine.run_until(10'300);
  std::string later, whole;
  for (const PastInstruction& past : machine.way_here(30)) later += past.text + past.registers;
  Machine other = lab();
  other.schedule("FLOAT", "1 V", stamp_of(10'000));
  other.run_until(10'300);
  for (const PastInstruction& past : other.way_here(30)) whole += past.text + past.registers;
  EXPECT_EQ(later, whole);
  EXPECT_FALSE(later.empty());
}

}  // namespace
}  // namespace prewire::testing
