// 74LS373, 74LS374, 74LS273: function tables of TI, The TTL Data Book (from memory; the 74-series facts are common to
// all makers' sheets).
#include <map>

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

/// A latch off the bus: D1-D8 on IN, the strobe on CTL.P0, OE or CLR on CTL.P1.
class WiredLatch : public Bench {
 public:
  explicit WiredLatch(const std::string& type, int in = 0, int high = 0)
      : Bench(fmt::format(R"("U1": {{"type": "{}"}}, "IN": {{"type": "stimulus", "high": {}, "low": {}}},
                             "CTL": {{"type": "stimulus", "high": {}, "low": {}}})",
                          type, in, in ^ 0xFF, high, high ^ 0x03),
              fmt::format(R"(["U1.1D", "IN.P0"], ["U1.2D", "IN.P1"], ["U1.3D", "IN.P2"], ["U1.4D", "IN.P3"],
                             ["U1.5D", "IN.P4"], ["U1.6D", "IN.P5"], ["U1.7D", "IN.P6"], ["U1.8D", "IN.P7"],
                             ["U1.{}", "CTL.P0"], ["U1.{}", "CTL.P1"])",
                          type == "74ls373" ? "LE" : "CLK", type == "74ls273" ? "CLR" : "OE")) {
    machine.watch(history);
    history.restart(machine.now());
  }

  /// Sets D and lets it come to rest.
  void data(int value) {
    for (int bit = 0; bit < 8; ++bit) machine.set("IN", fmt::format("P{} {}", bit, value >> bit & 1 ? "high" : "low"));
    idle(2);
  }
  void strobe(const char* level) { machine.set("CTL", fmt::format("P0 {}", level)); }
  void control(const char* level) { machine.set("CTL", fmt::format("P1 {}", level)); }

  /// Q as a word of 1, 0, Z from 8Q to 1Q.
  std::string q() {
    std::string text;
    for (int bit = 8; bit >= 1; --bit) {
      const std::string at = level(fmt::format("U1.{}Q", bit));
      text += at == "high" ? '1' : at == "low" ? '0' : 'Z';
    }
    return text;
  }

  History history;
};

std::string bits(int value) {
  std::string text;
  for (int bit = 7; bit >= 0; --bit) text += value >> bit & 1 ? '1' : '0';
  return text;
}

TEST(OctalLatch, FunctionTable373) {
  // OE L, LE H: Q = D. OE L, LE L: Q0. OE H: Z.
  WiredLatch bench("74ls373", 0x00, 1);
  for (const int value : {0x00, 0x81, 0x5A, 0xFF}) {
    bench.data(value);
    EXPECT_EQ(bench.q(), bits(value)) << "transparent";
  }
  bench.strobe("low");
  bench.data(0x3C);
  EXPECT_EQ(bench.q(), bits(0xFF)) << "kept";
  bench.control("high");
  EXPECT_EQ(bench.q(), "ZZZZZZZZ");
  bench.strobe("high");  // OE does not keep the latch from following
  bench.data(0x18);
  bench.strobe("low");
  bench.data(0x00);
  bench.control("low");
  EXPECT_EQ(bench.q(), bits(0x18));
  EXPECT_EQ(bench.findings(), "");
}

TEST(OctalLatch, FunctionTable374) {
  // OE L, CLK rise: Q = D. OE L, CLK L: Q0. OE H: Z.
  WiredLatch bench("74ls374");
  for (const int value : {0x00, 0x81, 0x5A, 0xFF}) {
    const std::string before = bench.q();
    bench.data(value);
    EXPECT_EQ(bench.q(), before) << "CLK low";
    bench.strobe("high");
    EXPECT_EQ(bench.q(), bits(value)) << "rise";
    bench.data(value ^ 0xFF);
    EXPECT_EQ(bench.q(), bits(value)) << "CLK high";
    bench.strobe("low");
    EXPECT_EQ(bench.q(), bits(value)) << "fall";
  }
  bench.control("high");
  EXPECT_EQ(bench.q(), "ZZZZZZZZ");
  bench.data(0x18);
  bench.strobe("high");  // clocked although the outputs are off
  bench.control("low");
  EXPECT_EQ(bench.q(), bits(0x18));
  EXPECT_EQ(bench.findings(), "");
}

TEST(OctalLatch, FunctionTable273) {
  // CLR L: L. CLR H, CLK rise: Q = D. CLR H, CLK L: Q0.
  WiredLatch bench("74ls273", 0x00, 2);
  bench.data(0xA5);
  bench.strobe("high");
  EXPECT_EQ(bench.q(), bits(0xA5));
  bench.data(0xFF);
  bench.strobe("low");
  EXPECT_EQ(bench.q(), bits(0xA5));
  bench.control("low");
  EXPECT_EQ(bench.q(), bits(0x00)) << "at once, whatever CLK does";
  bench.strobe("high");
  EXPECT_EQ(bench.q(), bits(0x00));
  bench.strobe("low");
  bench.control("high");
  EXPECT_EQ(bench.q(), bits(0x00)) << "no clock since";
  bench.strobe("high");
  EXPECT_EQ(bench.q(), bits(0xFF));
  EXPECT_EQ(bench.findings(), "");
}

TEST(OctalLatch, EdgesAsTheyCome) {
  WiredLatch bench("74ls374", 0x01);
  bench.strobe("high");  // from what power-on left to $01
  bench.strobe("low");
  bench.history.take();
  bench.data(0x82);
  bench.strobe("high");
  bench.idle(2);
  bench.control("high");
  EXPECT_EQ(bench.history.take(),
            "0.0 U1.1D low\n0.0 U1.2D high\n0.0 U1.8D high\n"
            "2.0 U1.CLK high\n2.0 U1.1Q low\n2.0 U1.2Q high\n2.0 U1.8Q high\n"
            "4.0 U1.OE high\n4.0 U1.1Q floating\n4.0 U1.2Q floating\n4.0 U1.3Q floating\n4.0 U1.4Q floating\n"
            "4.0 U1.5Q floating\n4.0 U1.6Q floating\n4.0 U1.7Q floating\n4.0 U1.8Q floating\n");
}

TEST(OctalLatch, LatchThatClosesKeepsWhatItHad) {
  // Data that change at the moment in which LE falls come too late: hold time is 10 ns or more (74LS373, TI).
  for (const bool data_first : {false, true}) {
    WiredLatch bench("74ls373", 0x00, 1);
    const Stamp when = stamp_of(bench.machine.now()) + 5;
    if (!data_first) bench.machine.schedule("CTL", "P0 low", when);
    bench.machine.schedule("IN", "P0 high", when);
    if (data_first) bench.machine.schedule("CTL", "P0 low", when);
    bench.idle(4);
    EXPECT_EQ(bench.q(), bits(0x00));
    EXPECT_EQ(bench.level("U1.1D"), "high");
  }
}

TEST(OctalLatch, FlipFlopsInARowShift) {
  // 1Q to 2D and so on, one clock: each takes what its neighbour had before the edge.
  std::string wires = R"(["U1.1D", "IN.P0"], ["U1.CLK", "IN.P1"], ["U1.CLR", "+5V"])";
  for (int bit = 2; bit <= 8; ++bit) wires += fmt::format(R"(, ["U1.{}D", "U1.{}Q"])", bit, bit - 1);
  Bench bench(R"("U1": {"type": "74ls273"}, "IN": {"type": "stimulus", "high": 1, "low": 2})", wires);
  const auto q = [&] {
    std::string text;
    for (int bit = 8; bit >= 1; --bit) text += bench.level(fmt::format("U1.{}Q", bit)) == "high" ? '1' : '0';
    return text;
  };
  const auto clock = [&](const char* level) {
    bench.machine.set("IN", fmt::format("P0 {}", level));
    bench.machine.set("IN", "P1 high");
    bench.machine.set("IN", "P1 low");
  };
  for (int i = 0; i < 8; ++i) clock("low");
  EXPECT_EQ(q(), "00000000");
  clock("high");
  EXPECT_EQ(q(), "00000001");
  clock("low");
  clock("high");
  EXPECT_EQ(q(), "00000101");
}

TEST(OctalLatch, FloatingInputReadsOneAndIsReportedWhenStored) {
  // Common practice: an open TTL input reads 1.
  WiredLatch bench("74ls374", 0x00);
  bench.machine.set("IN", "P2 open");
  bench.idle(2);
  EXPECT_EQ(bench.findings(), "");
  bench.strobe("high");
  EXPECT_EQ(bench.q(), bits(0x04));
  ASSERT_EQ(bench.findings(), "floating-input 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "U1.3D was read while nobody drives it; it read as 1");
  bench.strobe("low");
  bench.strobe("open");  // that, too, is a rise
  EXPECT_EQ(bench.findings(), "floating-input 2\nfloating-input 1\n");

  WiredLatch latch("74ls373", 0x00, 1);
  latch.machine.set("IN", "P2 open");
  latch.idle(2);
  EXPECT_EQ(latch.q(), bits(0x04));
  EXPECT_EQ(latch.findings(), "") << "not stored yet";
  latch.strobe("low");
  EXPECT_EQ(latch.findings(), "floating-input 1\n");
}

TEST(OctalLatch, EnableThatFloatsForLongIsReported) {
  WiredLatch bench("74ls374", 0x00);
  bench.control("open");
  EXPECT_EQ(bench.q(), "ZZZZZZZZ");
  bench.wait(9'990);
  EXPECT_EQ(bench.findings(), "");
  bench.wait(20);  // 10 ms in all
  ASSERT_EQ(bench.findings(), "floating-input 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "U1.OE was read while nobody drives it; it read as 1");
}

TEST(OctalLatch, OutputPortOnTheBus) {
  // The write strobe ends with E, and so does the cycle's data.
  const std::map<std::string, std::string> wiring{
      {"74ls373", R"(["U1.OE", "GND"])"}, {"74ls374", R"(["U1.OE", "GND"])"}, {"74ls273", R"(["U1.CLR", "+5V"])"}};
  for (const auto& [type, wires] : wiring) {
    SCOPED_TRACE(type);
    Bench bench(fmt::format(R"("U1": {{"type": "{}", "at": "$5000"}})", type), wires);
    EXPECT_EQ(bench.remarks(), "no-reset-vector\n");
    bench.write(0x5000, 0x00);
    History history(0x5000, 0x5000);
    bench.machine.watch(history);
    history.restart(bench.machine.now());
    bench.write(0x5000, 0x81);
    bench.write(0x5000, 0x80);
    EXPECT_EQ(history.take(),
              "7.0 U1.1Q high\n7.0 U1.8Q high\n7.0 write $5000 $81\n"
              "14.0 U1.1Q low\n14.0 write $5000 $80\n");
    EXPECT_EQ(bench.findings(), "");
  }
}

TEST(OctalLatch, PortCannotBeReadBack) {
  Bench bench(R"("U1": {"type": "74ls374", "at": "$5000"})", R"(["U1.OE", "GND"])");
  bench.write(0x5000, 0x81);
  EXPECT_EQ(bench.read(0x5000), 0x00) << "the low byte of the address stays on the lines";
  EXPECT_EQ(bench.findings(), "undriven-read 1\n");
}

TEST(OctalLatch, ClearHoldsThePortOnTheBus) {
  Bench bench(R"("U1": {"type": "74ls273", "at": "$5000"}, "CTL": {"type": "stimulus", "low": 1})",
              R"(["U1.CLR", "CTL.P0"])");
  bench.write(0x5000, 0xFF);
  EXPECT_EQ(bench.level("U1.1Q"), "low");
  bench.machine.set("CTL", "P0 high");
  EXPECT_EQ(bench.level("U1.1Q"), "low");
  bench.write(0x5000, 0xFF);
  EXPECT_EQ(bench.level("U1.1Q"), "high");
  bench.machine.set("CTL", "P0 low");
  EXPECT_EQ(bench.level("U1.1Q"), "low");
}

TEST(OctalLatch, ClearedByTheResetLine) {
  Bench bench(R"("U1": {"type": "74ls273", "at": "$5000"})", R"(["U1.CLR", "CPU.RESET"])");
  for (int bit = 1; bit <= 8; ++bit) EXPECT_EQ(bench.level(fmt::format("U1.{}Q", bit)), "low");
  bench.write(0x5000, 0xFF);
  EXPECT_EQ(bench.level("U1.8Q"), "high");
}

TEST(OctalLatch, PowerUpContentsGoByTheSeed) {
  const auto contents = [](int seed) {
    Bench bench(R"("U1": {"type": "74ls374", "at": "$5000"})", R"(["U1.OE", "GND"])",
                fmt::format(R"("seed": {})", seed));
    std::string text;
    for (int bit = 8; bit >= 1; --bit) text += bench.level(fmt::format("U1.{}Q", bit)) == "high" ? '1' : '0';
    return text;
  };
  EXPECT_EQ(contents(3), contents(3));
  EXPECT_FALSE(contents(1) == contents(2) && contents(2) == contents(3));
}

TEST(OctalLatch, ContinuesFromASavedState) {
  WiredLatch bench("74ls373", 0xA5, 1);
  bench.strobe("low");
  bench.data(0x3C);
  const Snapshot state = bench.machine.save();
  bench.strobe("high");
  EXPECT_EQ(bench.q(), bits(0x3C));
  bench.machine.restore(state);
  EXPECT_EQ(bench.q(), bits(0xA5));
  bench.data(0x0F);
  EXPECT_EQ(bench.q(), bits(0xA5));
  bench.strobe("high");
  EXPECT_EQ(bench.q(), bits(0x0F));
}

TEST(OctalLatch, Packages) {
  // TI, The TTL Data Book, pin assignments (from memory).
  const std::string rest = " 1Q 1D 2D 2Q 3Q 3D 4D 4Q GND {} 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC";
  const std::map<std::string, std::pair<std::string, std::string>> expected{
      {"74ls373", {"OE", "LE"}}, {"74ls374", {"OE", "CLK"}}, {"74ls273", {"CLR", "CLK"}}};
  const Registry registry = standard_chips();
  for (const auto& [name, ends] : expected) {
    const ChipType* type = registry.find(name);
    ASSERT_NE(type, nullptr) << name;
    std::string text;
    for (std::size_t i = 0; i < type->pins.size(); ++i) {
      EXPECT_EQ(type->pins[i].number, i + 1);
      text += (i > 0 ? " " : "") + std::string(type->pins[i].name);
    }
    EXPECT_EQ(text, ends.first + fmt::format(fmt::runtime(rest), ends.second)) << name;
  }
}

TEST(OctalLatch, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("octal-latch.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
