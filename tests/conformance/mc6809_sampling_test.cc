// When interrupt inputs are looked at: latched as Q falls, recognised at least one bus cycle later, at the end of the
// instruction (M6809PM section 1.11.10, read). A request that is there as Q falls in the last cycle but one is
// therefore taken after the instruction, one that comes later is not before the next instruction is over.
#include "conformance/mc6809_fixture.h"
#include "conformance/mc6809_model.h"

namespace prewire::testing {
namespace {

class Mc6809Sampling : public Mc6809Test, public ::testing::WithParamInterface<Mc6809Row> {
 protected:
  static constexpr CpuRegisters kHere{0x25, 0xB2, 0x5000, 0x6000, 0x7000, 0x00, 0x5100, 0x6100, 0x52};

  Mc6809Sampling() {
    bench.set(kHere);
    for (int at = 0; at < 65536; ++at) bench.poke(static_cast<std::uint16_t>(at), {kMc6809Nop});
    code_ = GetParam().code();
    const bool pair = GetParam().mnemonic == "TFR" || GetParam().mnemonic == "EXG";
    const std::uint8_t operand = GetParam().indexed() ? 0x84 : pair ? 0x89 : 0x06;
    code_.push_back(operand);
    code_.resize(static_cast<std::size_t>(GetParam().bytes), 0x06);
    bench.poke(kHere.pc, code_);
    base_ = machine().save();
  }

  /// Executes the instruction with `pin` low from `when` on, counted from its start; the cycles of both and more.
  std::vector<BusCycle> run(const std::string& pin, Stamp when) {
    machine().restore(base_);
    bench.hand(pin + " low", stamp_of(start) + when);
    return bench.log_until(start + 50);
  }
  /// Whether an interrupt entry begins at `cycle`.
  static bool entry_at(const std::vector<BusCycle>& log, std::size_t cycle, const std::string& pin) {
    const std::size_t vector = cycle + (pin == "FIRQ" ? 7 : 16);
    return log[cycle].fetch && !log[cycle + 3].rw && !log[cycle + 5].rw && log[vector].bs && log[vector].rw;
  }

  std::vector<std::uint8_t> code_;
  Snapshot base_;
};

TEST_P(Mc6809Sampling, IsBeforeTheLastCycle) {
  Mc6809Model model([&](std::uint16_t at) {
    const auto index = static_cast<std::uint16_t>(at - kHere.pc);
    return index < code_.size() ? code_[index] : kMc6809Nop;
  });
  model.load(kHere);
  Mc6809Model::action(GetParam())(model);
  machine().step_instruction();
  const auto cycles = static_cast<std::size_t>(machine().now() - start);
  for (const std::string pin : {"NMI", "FIRQ", "IRQ"}) {
    SCOPED_TRACE(pin);
    const bool masked = (pin == "IRQ" && model.i) || (pin == "FIRQ" && model.f);
    const Stamp last_but_one = stamp_of(static_cast<Cycle>(cycles) - 2);
    std::vector<BusCycle> log = run(pin, last_but_one + 2);
    EXPECT_EQ(entry_at(log, cycles, pin), !masked);
    if (!masked)
      expect_sequence(log, cycles,
                      pin == "NMI"   ? "seq_nmi"
                      : pin == "IRQ" ? "seq_irq"
                                     : "seq_firq",
                      model.registers(), 0, GetParam().open_flags());
    // As Q has fallen it is too late: the next instruction, a NOP, comes first.
    log = run(pin, last_but_one + 4);
    EXPECT_FALSE(entry_at(log, cycles, pin));
    EXPECT_TRUE(log[cycles].fetch);
    EXPECT_TRUE(log[cycles + 2].fetch);
    EXPECT_EQ(entry_at(log, cycles + 2, pin), !masked);
  }
}

std::vector<Mc6809Row> all_but_waits() {
  std::vector<Mc6809Row> rows = mc6809_rows();
  std::erase_if(rows, [](const Mc6809Row& row) { return row.plus == "wait"; });  // see mc6809_interrupts_test.cc
  return rows;
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809Sampling, ::testing::ValuesIn(all_but_waits()),
                         [](const auto& test) { return test.param.name(); });

}  // namespace
}  // namespace prewire::testing
