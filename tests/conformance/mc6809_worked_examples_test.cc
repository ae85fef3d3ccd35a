// Worked examples with their results on the MC6809: its own, and those of both processors, whose programs for the
// MC6800 are written instruction for instruction as the MC6809 has it.
#include <map>
#include <set>

#include "conformance/bus_log.h"
#include "conformance/mc6809_tables.h"
#include "conformance/worked_examples.h"

namespace prewire::testing {
namespace {

/// What the MC6809 has in place of an instruction of the MC6800: another name, or some instructions (MC6809 data sheet,
/// from memory). Flags differ only where these programs do not look.
Encoding mc6809_dialect(const std::string& mnemonic, const std::string& mode) {
  static const std::map<std::string, std::vector<std::uint8_t>> kInstead{
      {"INX", {0x30, 0x01}},              // LEAX 1,X
      {"DEX", {0x30, 0x1F}},              // LEAX -1,X
      {"TAB", {0x1F, 0x89, 0x4D}},        // TFR A,B; TSTA
      {"ABA", {0x34, 0x04, 0xAB, 0xE0}},  // PSHS B; ADDA ,S+
      {"CLC", {0x1C, 0xFE}},              // ANDCC #$FE
      {"SEC", {0x1A, 0x01}}};             // ORCC #$01
  static const std::map<std::string, std::string> kNames{{"LDAA", "LDA"}, {"LDAB", "LDB"}, {"STAA", "STA"},
                                                         {"STAB", "STB"}, {"ORAA", "ORA"}, {"CPX", "CMPX"}};
  if (const auto instead = kInstead.find(mnemonic); instead != kInstead.end()) return {instead->second, 0};
  const auto renamed = kNames.find(mnemonic);
  const Mc6809Row& row = mc6809_row(renamed == kNames.end() ? mnemonic : renamed->second, mode);
  std::vector<std::uint8_t> opcode = row.code();
  if (!row.indexed()) return {opcode, row.bytes - static_cast<int>(opcode.size())};
  opcode.push_back(0x88);  // n8,X; the offsets here are below $80
  return {opcode, 1};
}

class Mc6809WorkedExample : public WorkedExampleBench {
 protected:
  Mc6809WorkedExample() : WorkedExampleBench(CpuBench::mc6809(), mc6809_dialect) {}
};

TEST_P(Mc6809WorkedExample, GivesThePublishedResult) { expect_published_result(); }
TEST_P(Mc6809WorkedExample, ComesBackFromItsBytes) { expect_to_come_back(); }

std::vector<Program> programs_of_both() {
  std::vector<Program> list = programs();
  std::erase_if(list, [](const Program& program) { return example(program.id)["cpu"] != "both"; });
  return list;
}

INSTANTIATE_TEST_SUITE_P(Published, Mc6809WorkedExample, ::testing::ValuesIn(programs_of_both()),
                         [](const auto& test) { return test.param.id; });

class Mc6809WorkedExamples : public ::testing::Test {
 protected:
  static constexpr CpuRegisters kPlain{0x10, 0x18, 0x301B, 0x7000, CpuBench::kStart, 0x00, 0x4041, 0x5051, 0x00};

  static int hex(const std::string& text) { return std::stoi(text, nullptr, 16); }
  static std::uint8_t byte(const std::string& text) { return static_cast<std::uint8_t>(hex(text)); }
  /// The parts of "80 / 00".
  static std::vector<std::string> parts(const std::string& text) {
    std::vector<std::string> list;
    std::size_t at = 0;
    for (std::size_t slash; (slash = text.find(" / ", at)) != std::string::npos; at = slash + 3) {
      list.push_back(text.substr(at, slash - at));
    }
    list.push_back(text.substr(at));
    return list;
  }
  /// Executes code from `r`, as many instructions as it has; the cycles they take.
  Cycle run(const std::vector<std::uint8_t>& code, CpuRegisters r, int instructions = 1) {
    bench.poke(CpuBench::kStart, code);
    r.pc = CpuBench::kStart;
    bench.set(r);
    const Cycle start = bench.machine.now();
    for (int i = 0; i < instructions; ++i) bench.machine.step_instruction();
    return bench.machine.now() - start;
  }
  /// Compares a flag with words such as "61, H=1, C=0"; one that they do not name is not looked at.
  void expect_flags(const std::string& words) const {
    for (const auto& [flag, number] : std::map<char, int>{{'H', 5}, {'V', 1}, {'C', 0}}) {
      const auto at = words.find(std::string(1, flag) + "=");
      if (at != std::string::npos) {
        EXPECT_EQ(bench.registers().cc >> number & 1, words[at + 2] - '0') << flag;
      }
    }
  }
  /// ADDA, checked, and DAA, checked.
  void decimal(const std::string& id, const std::string& operand, const char* after_addition) {
    const Json& e = example(id);
    CpuRegisters r = kPlain;
    r.a = byte(e["input"]["A"]);
    const std::vector<std::uint8_t> code{0x8B, byte(e["input"][operand].get<std::string>().substr(0, 2)), 0x19};
    run(code, r);
    EXPECT_EQ(bench.registers().a, byte(e["expected"][after_addition].get<std::string>().substr(0, 2)));
    expect_flags(e["expected"][after_addition]);
    run(code, r, 2);
    EXPECT_EQ(bench.registers().a, byte(e["expected"]["A after DAA"].get<std::string>().substr(0, 2)));
    expect_flags(e["expected"]["A after DAA"]);
  }

  CpuBench bench{CpuBench::mc6809()};
};

TEST_F(Mc6809WorkedExamples, W46DaaAfterAHalfCarry) { decimal("W46", "operand", "A after ADDA"); }
TEST_F(Mc6809WorkedExamples, W47DaaWithDecimalCarry) { decimal("W47", "B", "A after add"); }
TEST_F(Mc6809WorkedExamples, W48DaaAfterBothCarries) { decimal("W48", "operand", "A after add"); }

TEST_F(Mc6809WorkedExamples, W49AbxIsUnsignedLeaxIsSigned) {
  const Json& e = example("W49");
  CpuRegisters r = kPlain;
  r.x = static_cast<std::uint16_t>(hex(e["input"]["X"]));
  r.b = byte(e["input"]["B"]);
  run({0x3A}, r);  // ABX
  EXPECT_EQ(bench.registers().x, hex(e["expected"]["X after ABX"]));
  run({0x30, 0x85}, r);  // LEAX B,X
  EXPECT_EQ(bench.registers().x, hex(e["expected"]["X after LEAX B,X instead"]));
}

TEST_F(Mc6809WorkedExamples, W50LeaxWithAutoIncrementLeavesX) {
  EXPECT_EQ(example("W50")["expected"]["X"], "unchanged");
  for (const int x : {0x0000, 0x1234, 0xFFFF}) {
    CpuRegisters r = kPlain;
    r.x = static_cast<std::uint16_t>(x);
    for (const std::uint8_t postbyte : {std::uint8_t{0x80}, std::uint8_t{0x81}}) {
      run({0x30, postbyte}, r);
      EXPECT_EQ(bench.registers().x, x);
    }
    run({0x30, 0x82}, r);  // LEAX ,-X
    EXPECT_EQ(bench.registers().x, (x - 1) & 0xFFFF);
  }
}

TEST_F(Mc6809WorkedExamples, W51LeaSizes) {
  EXPECT_EQ(example("W51")["expected"]["form"], "5-bit offset (2 bytes, 5 cycles) / 16-bit offset (4 bytes, 8 cycles)");
  EXPECT_EQ(run({0x30, 0x0A}, kPlain), 5);  // LEAX 10,X
  EXPECT_EQ(bench.registers().x, kPlain.x + 10);
  EXPECT_EQ(bench.registers().pc, CpuBench::kStart + 2);
  EXPECT_EQ(run({0x30, 0x89, 0x01, 0xF4}, kPlain), 8);  // LEAX 500,X
  EXPECT_EQ(bench.registers().x, kPlain.x + 500);
  EXPECT_EQ(bench.registers().pc, CpuBench::kStart + 4);
}

TEST_F(Mc6809WorkedExamples, W52Neg) {
  const std::vector<std::string> operands = parts(example("W52")["input"]["operand"]);
  const std::vector<std::string> results = parts(example("W52")["expected"]["result"]);
  ASSERT_EQ(operands.size(), results.size());
  for (std::size_t i = 0; i < operands.size(); ++i) {
    CpuRegisters r = kPlain;
    r.a = byte(operands[i]);
    run({0x40}, r);  // NEGA
    EXPECT_EQ(bench.registers().a, byte(results[i].substr(0, 2)));
    expect_flags(results[i]);
  }
}

TEST_F(Mc6809WorkedExamples, W53MulRounds) {
  const Json& e = example("W53");
  CpuRegisters r = kPlain;
  r.a = byte(e["input"]["A"]);
  r.b = byte(e["input"]["B"]);
  run({0x3D}, r);  // MUL
  EXPECT_EQ(bench.registers().a << 8 | bench.registers().b, hex(e["expected"]["D"]));
  EXPECT_EQ(bench.registers().cc & 1, hex(e["expected"]["C"]));
  run({0x3D, 0x89, 0x00}, r, 2);  // MUL; ADCA #0
  EXPECT_EQ(bench.registers().a, byte(e["expected"]["A after ADCA #0"]));
}

TEST_F(Mc6809WorkedExamples, W54CwaiMasks) {
  const std::vector<std::string> masks = parts(example("W54")["input"]["operand"]);
  const std::vector<std::string> enabled = parts(example("W54")["expected"]["enabled"]);
  ASSERT_EQ(masks.size(), enabled.size());
  for (std::size_t i = 0; i < masks.size(); ++i) {
    for (const auto& [pin, vector] : std::map<std::string, int>{{"IRQ", 0xFFF8}, {"FIRQ", 0xFFF6}}) {
      const Snapshot snapshot = bench.machine.save();
      CpuRegisters r = kPlain;
      r.cc = 0x50;
      bench.poke(CpuBench::kStart, {0x3C, byte(masks[i])});
      bench.set(r);
      const Cycle start = bench.machine.now();
      bench.hand(pin + " low", stamp_of(start + 30));
      EXPECT_EQ(reads(bench.log_until(start + 60), vector), enabled[i] == pin || enabled[i] == "both")
          << masks[i] << " " << pin;
      bench.machine.restore(snapshot);
    }
  }
}

TEST_F(Mc6809WorkedExamples, W55LocalStorage) {
  EXPECT_EQ(example("W55")["expected"]["effect"], "buffer 0,S to 2047,S; S restored; no flag changes");
  for (const int cc : {0x00, 0xFF}) {
    CpuRegisters r = kPlain;
    r.cc = static_cast<std::uint8_t>(cc);
    const std::vector<std::uint8_t> code{0x32, 0xE9, 0xF8, 0x00, 0x32, 0xE9, 0x08, 0x00};  // LEAS -2048,S; LEAS 2048,S
    run(code, r);
    CpuRegisters after = r;
    after.s -= 2048;
    after.pc = CpuBench::kStart + 4;
    EXPECT_EQ(bench.registers(), after);
    run(code, r, 2);
    after.s = r.s;
    after.pc = CpuBench::kStart + 8;
    EXPECT_EQ(bench.registers(), after);
  }
}

TEST_F(Mc6809WorkedExamples, W56SaveAndReturn) {
  EXPECT_EQ(example("W56")["expected"]["cycles"], "11 and 13");
  EXPECT_EQ(example("W56")["expected"]["effect"], "6 bytes pushed, 8 pulled; acts as RTS");
  // BSR; then, where it goes: PSHS Y,X,B,A; CLRA; CLRB; LDX #; PULS A,B,X,Y,PC
  bench.poke(0x2000, {0x34, 0x36, 0x4F, 0x5F, 0x8E, 0x12, 0x34, 0x35, 0xB6});
  run({0x17, 0x0F, 0xFD}, kPlain);  // LBSR $2000
  const auto step = [&] {
    const Cycle before = bench.machine.now();
    bench.machine.step_instruction();
    return bench.machine.now() - before;
  };
  EXPECT_EQ(step(), 11);
  EXPECT_EQ(bench.registers().s, kPlain.s - 2 - 6);
  for (int i = 0; i < 3; ++i) step();
  EXPECT_EQ(step(), 13);
  CpuRegisters after = kPlain;
  after.pc = CpuBench::kStart + 3;
  after.cc = bench.registers().cc;
  EXPECT_EQ(bench.registers(), after);
}

// Every number below 64 that is prime strikes out its multiples.
TEST_F(Mc6809WorkedExamples, W57Primes) {
  const Json& e = example("W57")["expected"];
  bench.poke(0x0200, {0x8E, 0x10, 0x00,  //         LDX  #$1000
                      0x86, 0x01,        //         LDA  #1
                      0xA7, 0x80,        // fill:   STA  ,X+
                      0x8C, 0x20, 0x00,  //         CMPX #$2000
                      0x26, 0xF9,        //         BNE  fill
                      0x7F, 0x10, 0x00,  //         CLR  $1000
                      0x7F, 0x10, 0x01,  //         CLR  $1001
                      0xC6, 0x02,        //         LDB  #2
                      0x8E, 0x10, 0x00,  // next:   LDX  #$1000
                      0x3A,              //         ABX
                      0x6D, 0x84,        //         TST  ,X
                      0x27, 0x0A,        //         BEQ  skip
                      0x3A,              // strike: ABX
                      0x8C, 0x20, 0x00,  //         CMPX #$2000
                      0x24, 0x04,        //         BCC  skip
                      0x6F, 0x84,        //         CLR  ,X
                      0x20, 0xF6,        //         BRA  strike
                      0x5C,              // skip:   INCB
                      0xC1, 0x40,        //         CMPB #64
                      0x25, 0xE9,        //         BCS  next
                      0x20, 0xFE});      // done:   BRA  done
  CpuRegisters r = kPlain;
  r.pc = 0x0200;
  bench.set(r);
  bench.machine.run_for(400'000);
  while (bench.machine.cpu().cycles_into_instruction() != 0) bench.machine.step_cycle();
  EXPECT_EQ(bench.registers().pc, 0x022B);
  int primes = 0;
  for (int number = 0; number < 4096; ++number) {
    bool prime = number > 1;
    for (int divisor = 2; divisor * divisor <= number; ++divisor) prime = prime && number % divisor != 0;
    const std::uint8_t seen = bench.machine.peek(static_cast<std::uint16_t>(0x1000 + number));
    ASSERT_EQ(seen, prime ? 1 : 0) << number;
    primes += seen;
  }
  EXPECT_EQ(primes, std::stoi(e["primes"].get<std::string>()));
  std::uint16_t at = 0x1000;
  for (const std::uint8_t first : hex_bytes(e["first bytes from 1000"])) EXPECT_EQ(bench.machine.peek(at++), first);
}

TEST_F(Mc6809WorkedExamples, AllArePutToUse) {
  std::set<std::string> used{"W49", "W50", "W51", "W52", "W53", "W54", "W55", "W56", "W57"};
  const Json own = examples_in("mc6809-worked-examples.json");
  for (const Json& each : own) EXPECT_EQ(used.count(each["id"]), 1U) << each["id"];
  EXPECT_EQ(own.size(), used.size());
  used = {"W46", "W47", "W48"};
  for (const Program& program : programs_of_both()) used.insert(program.id);
  for (const Json& each : examples_in("worked-examples.json")) {
    EXPECT_EQ(used.count(each["id"]), each["cpu"] == "both" ? 1U : 0U) << each["id"];
  }
}

}  // namespace
}  // namespace prewire::testing
