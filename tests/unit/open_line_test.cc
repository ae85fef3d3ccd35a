// Lines that nothing holds: they must not work better than on the bench. An open MOS input keeps its charge (common
// practice); docs/accuracy.md, "Nets and volts".
#include "partner_labs.h"

namespace prewire::testing {
namespace {

const std::string kBoard = R"("PIA": {"type": "mc6821", "at": "$4000-$4003"}, "S": {"type": "stimulus", "high": 255}, )"
                           R"("R": {"type": "resistor", "ohms": "3.3 kOhm"})";

/// Interrupts that one edge at CA1 brings, by way of IRQA.
int interrupts(const std::string& pull_up) {
  LabRun run({.rule = "",
              .name = "",
              .source = "start: lds #$07FF\n clr $20\n ldaa #5\n staa $4001\n cli\nl: bra l\n"
                        "irq: inc $20\n ldaa $4000\n rti\n",
              .chips = kBoard,
              .wires = R"(["PIA.CA1", "S.P0"], ["PIA.IRQA", "CPU.IRQ"])" + pull_up,
              .inputs = {{"S", "P0 low@2000"}}});
  run.run(4'000);
  return run.machine.peek(0x20);
}

TEST(OpenLines, ARequestWithoutItsPullUpStaysLow) {
  EXPECT_EQ(interrupts(R"(, ["PIA.IRQA", "R.1"], ["R.2", "+5V"])"), 1);
  EXPECT_GT(interrupts(""), 20) << "nothing pulls the line up again";
}

TEST(OpenLines, ARequestThatWasNeverPulledIsNone) {
  LabRun run({.rule = "",
              .name = "",
              .source = "start: lds #$07FF\n clr $20\n cli\nl: bra l\nirq: inc $20\n rti\n",
              .chips = kBoard,
              .wires = R"(["PIA.IRQA", "CPU.IRQ"])"});
  run.run(4'000);
  EXPECT_EQ(run.machine.peek(0x20), 0);
}

/// Conversions that ten strobes at WR start.
std::size_t conversions(const std::string& wires) {
  LabRun run(
      {.rule = "",
       .name = "",
       .source = "start: ldaa #$FF\n staa $4002\n ldaa #4\n staa $4003\n ldab #10\nc: ldaa #1\n staa $4002\n"
                 " clra\n staa $4002\n ldaa #1\n staa $4002\n ldx #50\nn: dex\n bne n\n decb\n bne c\nl: bra l\n",
       .chips =
           kBoard + R"(, "ADC": {"type": "adc0804", "clock_r": "10 kOhm", "clock_c": "150 pF", "vref_half": "2.56 V"})",
       .wires = R"(["PIA.PB0", "ADC.WR"], ["ADC.RD", "ADC.VIN-", "ADC.VIN+", "GND"])" + wires});
  struct Counter final : Observer {
    unsigned wants() const override { return kEvents; }
    void on_event(std::string_view, std::string_view event, std::int64_t, Stamp) override {
      done += event == "conversion-done" ? 1 : 0;
    }
    std::size_t done = 0;
  } counter;
  run.machine.watch(counter);
  run.run(20'000);
  run.machine.unwatch(counter);
  return counter.done;
}

TEST(OpenLines, AnOpenSelectSelectsNothing) {
  EXPECT_EQ(conversions(R"(, ["ADC.CS", "GND"])"), 10U);
  EXPECT_EQ(conversions(""), 0U);
}

TEST(OpenLines, AKeyWithoutItsPullUpStaysPressed) {
  const auto counts = [](const std::string& wires) {
    LabRun run({.rule = "",
                .name = "",
                .source = "start: ldaa #4\n staa $4003\nl: ldaa $4002\n anda #1\n staa $20\n bra l\n",
                .chips = kBoard + R"(, "KEY": {"type": "button", "bounce": "0 s"})",
                .wires = R"(["PIA.PB0", "KEY.1"], ["KEY.2", "GND"])" + wires,
                .inputs = {{"KEY", "pressed@2000"}, {"KEY", "released@4000"}}});
    run.run(6'000);
    return run.machine.peek(0x20);
  };
  EXPECT_EQ(counts(R"(, ["PIA.PB0", "R.1"], ["R.2", "+5V"])"), 1);
  EXPECT_EQ(counts(""), 0);
}

}  // namespace
}  // namespace prewire::testing
