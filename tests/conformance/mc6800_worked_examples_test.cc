// Worked examples with their results on the MC6800.
#include "conformance/worked_examples.h"

#include <set>

#include "conformance/mc6800_tables.h"

namespace prewire::testing {
namespace {

/// Opcodes come from the published table.
Encoding mc6800_dialect(const std::string& mnemonic, const std::string& mode) {
  for (const OpcodeRow& row : opcode_rows()) {
    if (row.mnemonic == mnemonic && row.mode == mode) {
      return {{static_cast<std::uint8_t>(row.opcode)}, row.bytes - 1};
    }
  }
  throw std::runtime_error("no " + mnemonic + " " + mode);
}

class Mc6800WorkedExample : public WorkedExampleBench {
 protected:
  Mc6800WorkedExample() : WorkedExampleBench(CpuBench::Parts{}, mc6800_dialect) {}
};

TEST_P(Mc6800WorkedExample, GivesThePublishedResult) { expect_published_result(); }
TEST_P(Mc6800WorkedExample, ComesBackFromItsBytes) { expect_to_come_back(); }

INSTANTIATE_TEST_SUITE_P(Published, Mc6800WorkedExample, ::testing::ValuesIn(programs()),
                         [](const auto& test) { return test.param.id; });

// ---------------------------------------------------------------------------------------------------------------------
// Examples of other kinds

class Mc6800WorkedExamples : public ::testing::Test {
 protected:
  static int hex(const std::string& text) { return std::stoi(text, nullptr, 16); }
  static std::vector<int> list(const std::string& text) {  // "8B / 9B"
    std::vector<int> values;
    for (const std::uint8_t byte : hex_bytes([&] {
           std::string words = text;
           for (char& c : words) c = c == '/' ? ' ' : c;
           return words;
         }())) {
      values.push_back(byte);
    }
    return values;
  }
  /// Compares A and the flags with words such as "61, H=1, C=0".
  void expect_a(const std::string& words) {
    const CpuRegisters r = bench.registers();
    EXPECT_EQ(r.a, hex(words.substr(0, 2)));
    for (const auto& [flag, bit] : std::map<char, int>{{'H', 5}, {'C', 0}}) {
      const auto at = words.find(std::string(1, flag) + "=");
      if (at == std::string::npos) continue;
      EXPECT_EQ(r.cc >> bit & 1, words[at + 2] - '0') << flag;
    }
  }
  /// An addition, checked, and DAA, checked.
  void decimal(const std::string& id, const std::string& addition, int a, int b, const char* after_addition) {
    const Json& e = example(id);
    bench.poke(CpuBench::kStart, TinyAssembler(mc6800_dialect, CpuBench::kStart, addition + "\n DAA").bytes());
    bench.set({static_cast<std::uint8_t>(a), static_cast<std::uint8_t>(b), 0, 0, CpuBench::kStart, 0xC0});
    bench.machine.step_instruction();
    expect_a(e["expected"][after_addition]);
    bench.machine.step_instruction();
    expect_a(e["expected"]["A after DAA"]);
  }

  CpuBench bench;
};

TEST_F(Mc6800WorkedExamples, W46DaaAfterAHalfCarry) {
  const Json& input = example("W46")["input"];
  decimal("W46", "ADDA #$" + input["operand"].get<std::string>(), hex(input["A"]), 0, "A after ADDA");
}

TEST_F(Mc6800WorkedExamples, W47DaaWithDecimalCarry) {
  const Json& input = example("W47")["input"];
  decimal("W47", "ABA", hex(input["A"]), hex(input["B"].get<std::string>().substr(0, 2)), "A after add");
}

TEST_F(Mc6800WorkedExamples, W48DaaAfterBothCarries) {
  const Json& input = example("W48")["input"];
  decimal("W48", "ADDA #$" + input["operand"].get<std::string>(), hex(input["A"]), 0, "A after add");
}

TEST_F(Mc6800WorkedExamples, W58OneInstructionInFourModes) {
  const std::vector<int> opcodes = list(example("W58")["expected"]["opcode"]);
  const std::vector<std::string> operands{"#$21", "$21", "$21,X", "$2121"};
  ASSERT_EQ(opcodes.size(), operands.size());
  bench.poke(0x0021, {0x07});
  bench.poke(0x2021, {0x08});
  bench.poke(0x2121, {0x09});
  const std::vector<int> sums{0x31, 0x17, 0x18, 0x19};
  for (std::size_t i = 0; i < opcodes.size(); ++i) {
    const std::vector<std::uint8_t> code{static_cast<std::uint8_t>(opcodes[i]), 0x21, 0x21};
    EXPECT_EQ(disassemble("mc6800", CpuBench::kStart, code).text, "ADDA " + operands[i]);
    bench.poke(CpuBench::kStart, code);
    bench.set({0x10, 0, 0x2000, 0, CpuBench::kStart, 0xC0});
    bench.machine.step_instruction();
    EXPECT_EQ(bench.registers().a, sums[i]) << operands[i];
  }
}

// The source's text prints n-125; the arithmetic of the offset decides.
TEST_F(Mc6800WorkedExamples, W59BranchReach) {
  EXPECT_EQ(example("W59")["expected"]["target"].get<std::string>().substr(0, 14), "n-126 to n+129");
  for (const auto& [offset, target] : std::map<int, int>{{0x80, -126}, {0x7F, +129}}) {
    bench.poke(CpuBench::kStart, {0x20, static_cast<std::uint8_t>(offset)});
    bench.set({0, 0, 0, 0, CpuBench::kStart, 0xC0});
    bench.machine.step_instruction();
    EXPECT_EQ(bench.registers().pc, CpuBench::kStart + target);
  }
}

TEST_F(Mc6800WorkedExamples, W60SumsAndDifferences) {
  const TinyAssembler code(mc6800_dialect, CpuBench::kStart, R"(
       LDAA #$06
       ADDA #$0D
       ADDA #$0A
       STAA $A0
       LDAB $70
       ADDB $71
       ADDB $72
       STAB $B0
       LDAA #$18
       SUBA #$05
       STAA $C0
       LDAB $73
       SUBB $74
       STAB $D0
done:  BRA done)");
  bench.poke(CpuBench::kStart, code.bytes());
  bench.poke(0x0070, {9, 14, 18, 41, 12});
  bench.machine.run_for(200);
  const std::vector<int> results = list(example("W60")["expected"]["result"]);
  ASSERT_EQ(results.size(), 4U);
  for (std::size_t i = 0; i < 4; ++i)
    EXPECT_EQ(bench.machine.peek(static_cast<std::uint16_t>(0xA0 + 16 * i)), results[i]);
}

TEST_F(Mc6800WorkedExamples, W62StackPicture) {
  const CpuRegisters r{0x3A, 0x3B, 0x4142, 0x01F0, CpuBench::kStart, 0xC0 | 0x25};
  const std::map<std::string, int> names{{"PCL", (r.pc + 1) & 0xFF},
                                         {"PCH", r.pc >> 8},
                                         {"XL", r.x & 0xFF},
                                         {"XH", r.x >> 8},
                                         {"A", r.a},
                                         {"B", r.b},
                                         {"CC", r.cc}};
  // SWI; WAI; NOP and an interrupt after it.
  for (const std::uint8_t opcode : {std::uint8_t{0x3F}, std::uint8_t{0x3E}, std::uint8_t{0x01}}) {
    bench.poke(CpuBench::kStart, {opcode, 0x01});
    bench.set(r);
    const Cycle start = bench.machine.now();
    if (opcode == 0x01) bench.hand("IRQ low", e_fall(start));
    const Snapshot snapshot = bench.machine.save();
    bench.machine.run_until(start + (opcode == 0x3F ? 12 : opcode == 0x3E ? 9 : 14));
    for (const auto& [place, name] : example("W62")["expected"].items()) {
      if (place == "S") {
        EXPECT_EQ(name, "s-7");
        EXPECT_EQ(bench.registers().s, r.s - 7);
        continue;
      }
      const int below = place == "s" ? 0 : std::stoi(place.substr(2));
      EXPECT_EQ(bench.machine.peek(static_cast<std::uint16_t>(r.s - below)), names.at(name))
          << place << " after " << +opcode;
    }
    bench.machine.restore(snapshot);
  }
}

TEST_F(Mc6800WorkedExamples, AllArePutToUse) {
  std::set<std::string> used{"W46", "W47", "W48", "W58", "W59", "W60", "W62"};
  for (const Program& program : programs()) used.insert(program.id);
  const Json all = examples_in("worked-examples.json");
  for (const Json& each : all) EXPECT_EQ(used.count(each["id"]), 1U) << each["id"];
  EXPECT_EQ(all.size(), used.size());
}

}  // namespace
}  // namespace prewire::testing
