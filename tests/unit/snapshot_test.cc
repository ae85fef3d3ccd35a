// Saved states as bytes: what is refused, and that nothing else is needed to go on.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <algorithm>
#include <array>

#include <cstring>
#include <filesystem>
#include <fstream>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include "folder_fixture.h"
#include "machine/hash.h"
#include "paths.h"
#include "prewire/chips.h"
#include "prewire/description.h"
#include "prewire/lab_check.h"

namespace prewire::testing {
namespace {

constexpr std::string_view kTank = R"({
  "machine": "fish tank", "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": { "RAM": { "type": "6116", "at": "$0000-$07FF" }, "ROM": { "type": "2716", "at": "$F800-$FFFF" },
             "PIA": { "type": "mc6821", "at": "$4000-$4003" }, "KEY": { "type": "button", "bounce": "1 ms" },
             "R1": { "type": "resistor", "ohms": "330 Ohm" }, "FULL": { "type": "led" },
             "CLOCK": { "type": "oscillator", "frequency": "10 kHz" } },
  "wires": [ ["KEY.1", "PIA.CA1"], ["KEY.2", "GND"], ["R1.1", "+5V"], ["R1.2", "FULL.A"], ["FULL.K", "PIA.PB0"],
             ["CLOCK.OUT", "PIA.CB1"], ["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"], ["CPU.TSC", "GND"] ]
})";

Machine machine_of(std::string text, const std::string& from = "", const std::string& to = "",
                   const Registry& registry = standard_chips()) {
  if (!from.empty()) {
    const std::size_t at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    text.replace(at, from.size(), to);
  }
  LoadOptions options;
  options.run_faulty = true;
  return Machine::from_text(text, "tank.json", registry, options);
}

/// A machine with a program: LDAA #$3C; STAA $4001; CLR $4000; INC $20; LDAB $4003; BRA *-10
Machine running() {
  Machine machine = machine_of(std::string(kTank));
  const std::vector<std::uint8_t> code{0x86, 0x3C, 0xB7, 0x40, 0x01, 0x7F, 0x40, 0x00,
                                       0x7C, 0x00, 0x20, 0xF6, 0x40, 0x03, 0x20, 0xF5};
  std::uint16_t address = 0xF800;
  for (const std::uint8_t byte : code) machine.poke(address++, byte);
  machine.poke(0xFFFE, 0xF8);
  machine.poke(0xFFFF, 0x00);
  return machine;
}

std::string id_of(const std::function<void()>& act) {
  try {
    act();
  } catch (const InputError& error) {
    if (error.faults().size() != 1) return fmt::format("{} faults", error.faults().size());
    const Fault& fault = error.faults()[0];
    if (fault.what.empty() || fault.expected.empty() || fault.found.empty() || fault.hint.empty()) return "no text";
    return fault.id;
  }
  return "fine";
}

TEST(SnapshotBytes, GoThereAndBack) {
  Machine machine = running();
  machine.run_until(12'345);
  const Snapshot saved = machine.save();
  const std::vector<std::uint8_t> bytes = saved.to_bytes();
  EXPECT_EQ(bytes.size(), saved.bytes().size() + 40);
  const Snapshot loaded = Snapshot::from_bytes(bytes);
  EXPECT_TRUE(loaded == saved);
  Machine other = machine_of(std::string(kTank));
  other.restore(loaded);
  EXPECT_EQ(other.now(), 12'345);
  machine.run_until(40'000);
  other.run_until(40'000);
  EXPECT_TRUE(other.save() == machine.save());
}

TEST(SnapshotBytes, AreRefusedCutShort) {
  const std::vector<std::uint8_t> bytes = machine_of(std::string(kTank)).save().to_bytes();
  for (std::size_t size = 0; size < bytes.size(); size += size < 64 ? 1 : 97) {
    EXPECT_EQ(id_of([&] { Snapshot::from_bytes(std::span(bytes).first(size)); }), "bad-snapshot") << size;
  }
  std::vector<std::uint8_t> longer = bytes;
  longer.push_back(0);
  EXPECT_EQ(id_of([&] { Snapshot::from_bytes(longer); }), "bad-snapshot");
}

TEST(SnapshotBytes, AreRefusedWithAnyBitTurned) {
  std::vector<std::uint8_t> bytes = machine_of(std::string(kTank)).save().to_bytes();
  for (std::size_t at = 0; at < bytes.size(); at += at < 64 ? 1 : 31) {
    for (int bit = 0; bit < 8; ++bit) {
      bytes[at] ^= static_cast<std::uint8_t>(1U << bit);
      EXPECT_EQ(id_of([&] { Snapshot::from_bytes(bytes); }), "bad-snapshot") << at;
      bytes[at] ^= static_cast<std::uint8_t>(1U << bit);
    }
  }
  EXPECT_EQ(id_of([&] { Snapshot::from_bytes(bytes); }), "fine");
}

TEST(SnapshotBytes, AreRefusedWithALengthThatIsNotTheirs) {
  const std::vector<std::uint8_t> bytes = machine_of(std::string(kTank)).save().to_bytes();
  for (const std::uint64_t length : {std::uint64_t{0}, std::uint64_t{1} << 40, ~std::uint64_t{0}}) {
    std::vector<std::uint8_t> other = bytes;
    std::memcpy(&other[24], &length, sizeof length);
    EXPECT_EQ(id_of([&] { Snapshot::from_bytes(other); }), "bad-snapshot");
  }
}

TEST(SnapshotBytes, TellTheirName) {
  try {
    Snapshot::from_bytes({}, "monday.state");
    FAIL();
  } catch (const InputError& error) {
    EXPECT_EQ(error.faults()[0].place.file, "monday.state");
  }
}

TEST(Snapshots, BelongToMachinesThatAreBuiltAlike) {
  const std::string tank(kTank);
  Machine machine = machine_of(tank);
  machine.run_until(500);
  const Snapshot saved = machine.save();
  const auto fits = [&](const std::string& from, const std::string& to) {
    Machine other = machine_of(tank, from, to);
    const Snapshot before = other.save();
    const std::string id = id_of([&] { other.restore(saved); });
    EXPECT_TRUE(id == "fine" || other.save() == before);
    return id;
  };
  // How it is written, what it is called, and the seed, which goes with the state:
  EXPECT_EQ(fits("fish tank", "another tank"), "fine");
  EXPECT_EQ(fits("{ \"type\": \"led\" }", "{\"type\":\"led\"}"), "fine");
  EXPECT_EQ(fits("\"cpu\"", "\"seed\": 77, \"cpu\""), "fine");
  // and everything else.
  EXPECT_EQ(fits("\"1 MHz\"", "\"0.9 MHz\""), "foreign-snapshot");
  EXPECT_EQ(fits("330 Ohm", "331 Ohm"), "foreign-snapshot");
  EXPECT_EQ(fits("1 ms", "2 ms"), "foreign-snapshot");
  EXPECT_EQ(fits("$4000-$4003", "$4004-$4007"), "foreign-snapshot");
  EXPECT_EQ(fits("$0000-$07FF", "$0800-$0FFF"), "foreign-snapshot");
  EXPECT_EQ(fits("PIA.PB0", "PIA.PB1"), "foreign-snapshot");
  EXPECT_EQ(fits("\"cpu\"", "\"bus\": {\"keeper\": \"ones\"}, \"cpu\""), "foreign-snapshot");
  // An empty one is nobody's.
  EXPECT_EQ(id_of([&] { machine.restore(Snapshot{}); }), "foreign-snapshot");
}

using SnapshotFiles = FolderTest;

TEST_F(SnapshotFiles, BelongToImagesAtTheSameAddresses) {
  std::ofstream(path("a.bin"), std::ios::binary) << "abc";
  LoadOptions options;
  options.run_faulty = true;
  options.root = std::filesystem::path(path("a.bin")).parent_path();
  const auto at = [&](const std::string& start) {
    std::string text(kTank);
    text.insert(text.find("\"wires\""),
                fmt::format(R"("program": [{{"file": "a.bin", "format": "binary", "at": "{}"}}], )", start));
    std::ofstream(path("tank.json")) << text;
    return Machine::from_file(path("tank.json"), standard_chips(), options);
  };
  Machine machine = at("$F800"), same = at("$F800"), other = at("$F900");
  EXPECT_EQ(id_of([&] { same.restore(machine.save()); }), "fine");
  EXPECT_EQ(id_of([&] { other.restore(machine.save()); }), "foreign-snapshot");
}

TEST(Snapshots, BelongToChipsOfOneVersion) {
  const auto registry_of = [](unsigned version, std::int64_t fallback) {
    Registry registry = standard_chips();
    ChipType type;
    type.name = type.title = type.summary = "gauge";
    type.state_version = version;
    type.parameters = {{.name = "depth", .fallback = fallback, .maximum = 9, .help = "of the tank"}};
    type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Chip>(socket); };
    registry.add(std::move(type));
    return registry;
  };
  const auto build = [](const Registry& registry) {
    return machine_of(std::string(kTank), "\"PIA\"", "\"G\": {\"type\": \"gauge\"}, \"PIA\"", registry);
  };
  const Registry one = registry_of(1, 3), same = registry_of(1, 3), newer = registry_of(2, 3),
                 deeper = registry_of(1, 4);
  const Snapshot saved = build(one).save();
  Machine machine = build(same);
  EXPECT_EQ(id_of([&] { machine.restore(saved); }), "fine");
  Machine other = build(newer);
  EXPECT_EQ(id_of([&] { other.restore(saved); }), "foreign-snapshot");
  Machine third = build(deeper);  // a default that the file does not give
  EXPECT_EQ(id_of([&] { third.restore(saved); }), "foreign-snapshot");
}

TEST(Snapshots, OfARewiredMachineAreItsOwn) {
  const Description lab =
      Description::from_file(source_folder() / "scenarios" / "rain_barrel" / "gauge.json", standard_chips());
  Machine plain = lab.build();
  const auto checks = read_checks(
      R"({"machine": "gauge.json", "checks": [{"check": "cut", "for": "1 ms", "wiring": {"remove": ["ADC.INTR"]},
          "expect": [{"display": "LEVEL", "shows": "   "}]}]})",
      "checks.json");
  Machine cut = check_machine(checks.at(0), lab);
  const Snapshot saved = plain.save();
  EXPECT_EQ(id_of([&] { cut.restore(saved); }), "foreign-snapshot");
}

TEST(Snapshots, BringTheirSeed) {
  Machine machine = machine_of(std::string(kTank), "\"cpu\"", "\"bus\": {\"keeper\": \"seeded\"}, \"cpu\"");
  machine.power_cycle(5);
  machine.run_until(700);
  const Snapshot saved = machine.save();
  machine.run_until(9'000);
  const Snapshot end = machine.save();
  machine.power_cycle(6);
  machine.restore(saved);
  EXPECT_EQ(machine.seed(), 5U);
  machine.run_until(9'000);
  EXPECT_TRUE(machine.save() == end);
}

/// The same state with other bytes, as somebody makes it who knows how.
Snapshot forged(std::vector<std::uint8_t> bytes) {
  const std::uint64_t length = bytes.size() - 40;
  std::memcpy(&bytes[24], &length, sizeof length);
  Hash hash;
  hash.add(std::span<const std::uint8_t>(bytes).first(32));
  hash.add(std::span<const std::uint8_t>(bytes).subspan(40));
  const std::uint64_t sum = hash.value();
  std::memcpy(&bytes[32], &sum, sizeof sum);
  return Snapshot::from_bytes(bytes);
}

TEST(Snapshots, ThatNoMachineCanBeInAreRefusedOrRun) {
  // Whatever stands in the bytes: refused with nothing changed, or taken, and then the machine runs.
  Machine machine = running();
  machine.run_until(30'003);
  machine.set("KEY", "pressed");
  machine.schedule("KEY", "released", machine.moment() + 10'000);
  machine.run_until(30'100);
  const std::vector<std::uint8_t> good = machine.save().to_bytes();
  const Snapshot before = machine.save();
  int refused = 0, taken = 0;
  for (std::size_t at = 48; at < good.size(); at += at < 3000 || at + 1500 > good.size() ? 1 : 61) {
    for (const int value : {0x00, 0x01, 0x7F, 0x80, 0xFF}) {
      std::vector<std::uint8_t> bytes = good;
      bytes[at] = static_cast<std::uint8_t>(value);
      const std::string id = id_of([&] { machine.restore(forged(bytes)); });
      if (id == "fine") {
        ++taken;
        machine.run_for(300);
        machine.restore(before);
        continue;
      }
      ++refused;
      ASSERT_EQ(id, "bad-snapshot") << at;
      ASSERT_TRUE(machine.save() == before) << at;
    }
  }
  EXPECT_GT(refused, 100);
  EXPECT_GT(taken, 100);
}

TEST(Snapshots, ThatDoubtAByteWhereNoRamIsAreRefused) {
  Machine machine = machine_of(std::string(kTank));
  // LDAA $0123; BRA *: what is read there has not been written, and what it is for may still show.
  std::uint16_t address = 0xF800;
  for (const int byte : {0xB6, 0x01, 0x23, 0x20, 0xFE}) machine.poke(address++, static_cast<std::uint8_t>(byte));
  machine.poke(0xFFFE, 0xF8);
  machine.poke(0xFFFF, 0x00);
  machine.run_until(100);
  const Snapshot before = machine.save();
  const std::vector<std::uint8_t> good = before.to_bytes();
  const std::array<std::uint8_t, 6> byte_and_place{0x23, 0x01, 0x00, 0x00, 0x23, 0x01};
  const auto found = std::search(good.begin(), good.end(), byte_and_place.begin(), byte_and_place.end());
  ASSERT_NE(found, good.end());
  EXPECT_EQ(id_of([&] { machine.restore(forged(good)); }), "fine");
  for (const int page : {0x90, 0x40, 0xF8, 0x02}) {
    std::vector<std::uint8_t> bytes = good;
    bytes[static_cast<std::size_t>(found - good.begin()) + 5] = static_cast<std::uint8_t>(page);
    EXPECT_EQ(id_of([&] { machine.restore(forged(bytes)); }), "bad-snapshot") << page;
    EXPECT_TRUE(machine.save() == before) << page;
  }
}

TEST(Snapshots, ThatSayThatTheyHoldMuchTakeNoMemory) {
  Machine machine = machine_of(std::string(kTank));
  const std::vector<std::uint8_t> good = machine.save().to_bytes();
  // A count that is far too large, wherever one may stand.
  for (std::size_t at = 48; at + 8 <= good.size(); at += at < 1500 ? 1 : 53) {
    for (const std::uint64_t count : {std::uint64_t{1} << 33, ~std::uint64_t{0} / 16}) {
      std::vector<std::uint8_t> bytes = good;
      std::memcpy(&bytes[at], &count, sizeof count);
      const std::string id = id_of([&] { machine.restore(forged(bytes)); });
      ASSERT_TRUE(id == "bad-snapshot" || id == "fine") << at;
    }
  }
  // And states that end too early or too late.
  for (std::size_t size = 48; size < good.size() + 64; size += 29) {
    if (size == good.size()) continue;
    std::vector<std::uint8_t> bytes = good;
    bytes.resize(size);
    ASSERT_EQ(id_of([&] { machine.restore(forged(bytes)); }), "bad-snapshot") << size;
  }
}

// ---------------------------------------------------------------------------------------------------------------------
// Spans of time

TEST(Spans, AreRightOrRefused) {
  const Timebase one(1'000'000'000);
  EXPECT_EQ(one.span(9'223'372'036'854), 9'223'372'036'854'000'000);
  EXPECT_THROW(static_cast<void>(one.span(Cycle{1} << 44)), std::out_of_range);
  EXPECT_THROW(static_cast<void>(one.span(Cycle{1} << 62)), std::out_of_range);
  EXPECT_THROW(static_cast<void>(one.span_of_stamp(Stamp{1} << 46)), std::out_of_range);
  EXPECT_TRUE(one.in_range(stamp_of(9'223'372'036'854)));
  EXPECT_FALSE(one.in_range(stamp_of(9'223'372'036'855)));
  EXPECT_DOUBLE_EQ(one.seconds(stamp_of(Cycle{1} << 50)), 1'125'899'906.842624);
  EXPECT_DOUBLE_EQ(one.seconds(6), 1.5e-6);
  const Timebase slow(1'000);  // 1 Hz
  EXPECT_EQ(slow.span(9'223'372), 9'223'372'000'000'000'000);
  EXPECT_THROW(static_cast<void>(slow.span(9'223'373)), std::out_of_range);
  EXPECT_EQ(format_time(stamp_of(9'223'373), slow), "9223373 s");
  EXPECT_EQ(format_time(5, one), "1.25 us");
}

TEST(Spans, OfARunMayBeLong) {
  Machine machine = machine_of(std::string(kTank));
  machine.run_for(1'000);
  const Cycle now = machine.now();
  EXPECT_EQ(machine.run_until(std::numeric_limits<Cycle>::min()).cycle, now);
  EXPECT_EQ(machine.run_for(-5).cycle, now);
}

}  // namespace
}  // namespace prewire::testing
