// A processor on a bench of its own: memory all around it, a hand on its inputs, and a log of its bus cycles.
#pragma once

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdint>
#include <memory>
#include <ostream>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "prewire/machine.h"

namespace prewire {

/// For failure messages: "cycle 12 $1000 $8B read" and what else is true of it.
inline void PrintTo(const BusCycle& cycle, std::ostream* out) {
  *out << fmt::format("cycle {} ${:04X} ${:02X} {}{}{}{}{}{}", cycle.cycle, cycle.address, cycle.data,
                      cycle.rw ? "read" : "write", cycle.vma ? "" : " VMA=0", cycle.ba ? " BA=1" : "",
                      cycle.bs ? " BS=1" : "", cycle.fetch ? " fetch" : "", cycle.driven ? "" : " undriven");
}

}  // namespace prewire

namespace prewire::testing {

/// Of both processors; an MC6800 has no Y, U and DP, which stay 0.
struct CpuRegisters {
  std::uint8_t a = 0, b = 0;
  std::uint16_t x = 0, s = 0, pc = 0;
  std::uint8_t cc = 0xC0;
  std::uint16_t y = 0, u = 0;
  std::uint8_t dp = 0;

  friend bool operator==(const CpuRegisters&, const CpuRegisters&) = default;
  friend void PrintTo(const CpuRegisters& r, std::ostream* out) {
    *out << fmt::format("A={:02X} B={:02X} X={:04X} S={:04X} PC={:04X} CC={:02X} Y={:04X} U={:04X} DP={:02X}", r.a, r.b,
                        r.x, r.s, r.pc, r.cc, r.y, r.u, r.dp);
  }
};

/// Every bus cycle, as seen from outside.
class BusLog final : public Observer {
 public:
  unsigned wants() const override { return kCycles; }
  void on_cycle(const BusCycle& cycle) override { cycles.push_back(cycle); }

  std::vector<BusCycle> cycles;
};

/// 64 KiB that a test can reach into without the machine's knowledge.
struct Store {
  struct Write {
    std::uint16_t address;
    std::uint8_t value;
    friend bool operator==(const Write&, const Write&) = default;
    friend void PrintTo(const Write& write, std::ostream* out) {
      *out << fmt::format("${:02X} to ${:04X}", write.value, write.address);
    }
  };
  std::array<std::uint8_t, 65536> bytes{};
  std::vector<Write> writes;
};

/// "store": a `Store` as a chip with 65536 registers, so that the processor has no memory of its own to go fast on.
class StoreChip final : public Chip {
 public:
  StoreChip(Socket& socket, Store& store) : Chip(socket), store_(store) {}
  std::uint8_t read(unsigned reg) override { return store_.bytes[reg]; }
  std::uint8_t peek(unsigned reg) const override { return store_.bytes[reg]; }
  void write(unsigned reg, std::uint8_t value) override {
    store_.bytes[reg] = value;
    store_.writes.push_back({static_cast<std::uint16_t>(reg), value});
  }

 private:
  Store& store_;
};

/// "hand": an output for each input of the processor, at rest until the test says "IRQ low".
class HandChip final : public Chip {
 public:
  static constexpr std::array<std::string_view, 9> kPins{"IRQ",  "NMI",      "HALT", "TSC", "DBE",
                                                         "FIRQ", "DMA/BREQ", "MRDY", "MR"};

  using Chip::Chip;
  void power_on() override {
    for (int pin = 0; pin < static_cast<int>(kPins.size()); ++pin) socket().drive(pin, drive(kPins[pin] != "TSC"));
  }
  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    for (std::size_t pin = 0; pin < kPins.size(); ++pin) {
      if (text == fmt::format("{} low", kPins[pin])) return pin * 2;
      if (text == fmt::format("{} high", kPins[pin])) return pin * 2 + 1;
    }
    return std::nullopt;
  }
  void input(std::int64_t value) override { socket().drive(static_cast<int>(value / 2), drive(value % 2 != 0)); }
};

/// RAM, ROM, the hand, "ear" for a part that listens to all outputs of the processor, and a store if one is given.
inline Registry cpu_bench_registry(Store* store = nullptr) {
  Registry registry;
  const auto memory = [&](const char* name, BusSpec::Kind kind) {
    ChipType type;
    type.name = type.title = type.summary = name;
    type.bus = BusSpec{.kind = kind, .size = 65536, .writes = kind == BusSpec::Kind::ram};
    type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Chip>(socket); };
    registry.add(std::move(type));
  };
  memory("ram", BusSpec::Kind::ram);
  memory("rom", BusSpec::Kind::rom);

  ChipType hand;
  hand.name = hand.title = hand.summary = "hand";
  for (const std::string_view pin : HandChip::kPins) hand.pins.push_back({.name = pin, .kind = PinKind::output});
  hand.input = "a pin and its level, such as \"IRQ low\"";
  hand.make = [](Socket& socket, const Parameters&) { return std::make_unique<HandChip>(socket); };
  registry.add(std::move(hand));

  ChipType ear;
  ear.name = ear.title = ear.summary = "ear";
  for (const std::string_view pin : {"E", "Q", "R/W", "VMA", "BA", "BS", "AVMA", "BUSY", "LIC"}) {
    ear.pins.push_back({.name = pin, .kind = PinKind::input, .listens = true, .optional = true});
  }
  ear.make = [](Socket& socket, const Parameters&) { return std::make_unique<Chip>(socket); };
  registry.add(std::move(ear));

  if (store != nullptr) {
    ChipType type;
    type.name = type.title = type.summary = "store";
    type.bus = BusSpec{.size = 65536};
    type.make = [store](Socket& socket, const Parameters&) { return std::make_unique<StoreChip>(socket, *store); };
    registry.add(std::move(type));
  }
  return registry;
}

/// A machine, out of reset and about to execute at `kStart`.
class CpuBench {
 public:
  static constexpr std::uint16_t kStart = 0x1000;

  /// Parts of the machine file.
  struct Parts {
    std::string cpu = R"("type": "mc6800", "clock": "1 MHz")";
    std::string chips = R"("RAM": {"type": "ram", "at": "$0000-$FFFF"})";
    std::vector<std::string> held{"IRQ", "NMI", "HALT", "TSC", "DBE"};  ///< inputs that the hand holds
    std::string wires{};                                                ///< further wires
    std::string more{};                                                 ///< further members of the file
  };
  /// A part whose oscillator is on the chip.
  static Parts crystal_part(const std::string& type, std::vector<std::string> held = {"IRQ", "NMI", "HALT"}) {
    Parts parts;
    parts.cpu = fmt::format(R"("type": "{}", "crystal": "4 MHz")", type);
    parts.held = std::move(held);
    return parts;
  }
  static Parts mc6809() { return crystal_part("mc6809", {"IRQ", "FIRQ", "NMI", "HALT", "DMA/BREQ", "MRDY"}); }
  static Parts mc6809e() {
    Parts parts;
    parts.cpu = R"("type": "mc6809e", "clock": "1 MHz")";
    parts.held = {"IRQ", "FIRQ", "NMI", "HALT", "TSC"};
    return parts;
  }

  CpuBench() : CpuBench(Parts{}, cpu_bench_registry()) {}
  explicit CpuBench(const Parts& parts) : CpuBench(parts, cpu_bench_registry()) {}
  CpuBench(const Parts& parts, Registry registry)
      : registry_(std::move(registry)), machine(Machine::from_text(text(parts), "bench.json", registry_)) {
    poke(0xFFFE, {kStart >> 8, kStart & 0xFF});
    leave_reset();
  }
  /// The memory of the machine is `store`.
  explicit CpuBench(Store& store) : CpuBench(store, Parts{}) {}
  CpuBench(Store& store, const Parts& parts)
      : registry_(cpu_bench_registry(&store)),
        machine(Machine::from_text(text(on_store(parts)), "bench.json", registry_)) {
    store.bytes[0xFFFE] = kStart >> 8;
    store.bytes[0xFFFF] = kStart & 0xFF;
    leave_reset();
  }

  static std::string text(const Parts& parts) {
    std::string wires = parts.wires;
    for (const std::string& pin : parts.held) {
      wires += fmt::format(R"({}["HAND.{}", "CPU.{}"])", wires.empty() ? "" : ", ", pin, pin);
    }
    return fmt::format(R"({{"machine": "bench", "cpu": {{{}}}, "chips": {{{}, "HAND": {{"type": "hand"}}}},
  "wires": [{}]{}{}}})",
                       parts.cpu, parts.chips, wires, parts.more.empty() ? "" : ", ", parts.more);
  }

  void poke(std::uint16_t address, const std::vector<std::uint8_t>& bytes) {
    for (const std::uint8_t byte : bytes) {
      ASSERT_TRUE(machine.poke(address, byte)) << fmt::format("no memory at ${:04X}", address);
      ++address;
    }
  }

  CpuRegisters registers() const {
    const Cpu& cpu = machine.cpu();
    const auto infos = cpu.registers();
    CpuRegisters r;
    for (std::size_t i = 0; i < infos.size(); ++i) {
      with_register(r, infos[i].name,
                    [&](auto& value) { value = static_cast<std::decay_t<decltype(value)>>(cpu.get(i)); });
    }
    return r;
  }
  void set(const CpuRegisters& r) { set(machine.cpu(), r); }
  static void set(Cpu& cpu, CpuRegisters r) {
    const auto infos = cpu.registers();
    for (std::size_t i = 0; i < infos.size(); ++i) {
      with_register(r, infos[i].name, [&](auto& value) { ASSERT_TRUE(cpu.set(i, value)); });
    }
  }

  /// The hand moves a pin now, or at a moment to come: "IRQ low".
  void hand(std::string_view what) { machine.set("HAND", what); }
  void hand(std::string_view what, Stamp when) { machine.schedule("HAND", what, when); }

  /// The cycles of a run, as an observer sees them.
  template <class Run>
  std::vector<BusCycle> log(Run&& run) {
    BusLog log;
    machine.watch(log);
    run();
    machine.unwatch(log);
    return std::move(log.cycles);
  }
  std::vector<BusCycle> log_until(Cycle cycle) {
    return log([&] { machine.run_until(cycle); });
  }

 private:
  /// The first letters of the names are all different.
  template <class Do>
  static void with_register(CpuRegisters& r, std::string_view name, Do&& act) {
    switch (name[0]) {
      case 'A': return act(r.a);
      case 'B': return act(r.b);
      case 'X': return act(r.x);
      case 'Y': return act(r.y);
      case 'U': return act(r.u);
      case 'S': return act(r.s);
      case 'P': return act(r.pc);
      case 'D': return act(r.dp);
      default: return act(r.cc);
    }
  }
  static Parts on_store(Parts parts) {
    parts.chips = R"("STORE": {"type": "store", "at": "$0000-$FFFF"})";
    return parts;
  }
  void leave_reset() {
    while (machine.now() < 20 && registers().pc != kStart) machine.step_instruction();
    EXPECT_EQ(registers().pc, kStart);
  }

  Registry registry_;  // outlives the machine

 public:
  Machine machine;
};

}  // namespace prewire::testing
