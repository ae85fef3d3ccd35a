// Machines and programs at random, the same for the same seed on every computer: odd address maps, a chip that disturbs
// the processor in every way it can, memory full of opcodes.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <memory>
#include <ostream>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bus/mix.h"
#include "cpu/cpus.h"
#include "prewire/machine.h"

namespace prewire::testing {

class Random {
 public:
  explicit Random(std::uint64_t seed) : seed_(mix(0x7EA, seed)) {}
  std::uint64_t next() { return mix(seed_, count_++); }
  /// 0 to `end` - 1.
  int below(int end) { return static_cast<int>(next() % static_cast<std::uint64_t>(end)); }
  bool one_in(int odds) { return below(odds) == 0; }

 private:
  std::uint64_t seed_;
  std::uint64_t count_ = 0;
};

enum class Family { mc6800, mc6809 };

inline std::string_view name_of(Family family) { return family == Family::mc6800 ? "Mc6800" : "Mc6809"; }
inline void PrintTo(Family family, std::ostream* out) { *out << name_of(family); }

/// Inputs of a processor, that of slow memory last, and how often each is disturbed: interrupts often, HALT now and
/// then, others seldom. A part that has not got one of them is not disturbed there.
struct Grip {
  std::vector<std::string_view> pins;
  std::array<int, 16> often;
  int seldom;  ///< one more, about every hundredth time
};

inline const Grip& grip_on(Family family) {
  static const Grip kMc6800{
      {"IRQ", "NMI", "HALT", "TSC", "DBE", "MR"}, {0, 0, 0, 0, 0, 1, 1, 1, 1, 0, 5, 1, 3, 2, 2, 3}, 4};
  static const Grip kMc6809{
      {"IRQ", "FIRQ", "NMI", "HALT", "DMA/BREQ", "TSC", "MRDY"}, {0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 6, 3, 3, 4, 4, 5}, 6};
  return family == Family::mc6800 ? kMc6800 : kMc6809;
}

/// "nuisance": eight registers whose reads and writes have side effects, and a grip on all inputs of the processor.
/// Accesses and its own timers pull lines at odd moments for odd times; some stretch E again and again.
class Nuisance final : public Chip {
 public:
  Nuisance(Socket& socket, const Grip& grip) : Chip(socket), grip_(grip) {}
  void power_on() override {
    state_ = {socket().seed(), 0};
    for (unsigned pin = 0; pin < grip_.pins.size(); ++pin) rest(pin);
    socket().timer(own_timer(), 57);
    if (socket().seed() % 3 == 0 && socket().wired(memory_ready())) socket().timer(own_timer() + 1, 39);
  }
  std::uint8_t read(unsigned reg) override { return disturb(reg); }
  void write(unsigned reg, std::uint8_t value) override { disturb(reg + 8U * value); }
  std::uint8_t peek(unsigned reg) const override { return static_cast<std::uint8_t>(state_[0] >> reg); }
  void on_timer(unsigned tag, Stamp) override {
    if (tag < grip_.pins.size()) return rest(tag);
    if (tag > own_timer()) {
      const std::uint64_t roll = mix(socket().seed(), static_cast<std::uint64_t>(socket().now()));
      pull(static_cast<unsigned>(memory_ready()), 1 + roll % 13);
      return socket().timer(tag, socket().now() + 1 + static_cast<Stamp>(roll >> 20 & 0x3F));
    }
    disturb(tag);
    socket().timer(tag, socket().now() + 1 + static_cast<Stamp>(state_[0] >> 20 & 0x3FF));
  }
  std::optional<std::int64_t> parse_input(std::string_view) const override { return 5; }
  void input(std::int64_t value) override { disturb(static_cast<std::uint64_t>(value)); }
  void archive(Archive& archive) override { archive(state_); }

 private:
  std::uint8_t disturb(std::uint64_t what) {
    state_[0] = mix(state_[0] ^ what, state_[1]++);
    const auto roll = static_cast<unsigned>(state_[0] >> 32);
    if (roll % 16 < 3) {
      const int pin = roll / 16 % 64 == 7 ? grip_.seldom : grip_.often[roll / 16 % 16];
      pull(static_cast<unsigned>(pin), 1 + (roll >> 16) % 61);
    }
    return static_cast<std::uint8_t>(state_[0]);
  }
  bool active_high(unsigned pin) const { return grip_.pins[pin] == "TSC"; }
  unsigned own_timer() const { return static_cast<unsigned>(grip_.pins.size()); }
  int memory_ready() const { return static_cast<int>(grip_.pins.size()) - 1; }
  void pull(unsigned pin, std::uint64_t quarters) {
    socket().drive(static_cast<int>(pin), active_high(pin) ? drive_high() : open_low());
    socket().timer(pin, socket().now() + static_cast<Stamp>(quarters));
  }
  void rest(unsigned pin) {
    socket().drive(static_cast<int>(pin), active_high(pin) ? drive_low() : prewire::pull(kLogicHigh, 3300));
  }

  const Grip& grip_;
  std::array<std::uint64_t, 2> state_{};
};

/// "probe": remembers every edge of the processor's outputs in one number.
class Probe final : public Chip {
 public:
  using Chip::Chip;
  void power_on() override { sum_ = 0; }
  void on_edge(int pin, Level level, Stamp when) override {
    sum_ = mix(sum_ ^ static_cast<std::uint64_t>(pin * 4 + static_cast<int>(level)), static_cast<std::uint64_t>(when));
  }
  void archive(Archive& archive) override { archive(sum_); }

 private:
  std::uint64_t sum_ = 0;
};

/// Pins of the probe and of the processor that they hear.
inline std::vector<std::pair<std::string_view, std::string_view>> probed(Family family, bool own_clock) {
  if (family == Family::mc6809) return {{"E", "E"}, {"Q", "Q"}, {"RW", "R/W"}, {"BA", "BA"}, {"BS", "BS"}};
  return {{"E", own_clock ? "E" : "PHI2"}, {"RW", "R/W"}, {"VMA", "VMA"}, {"BA", "BA"}};
}

inline Registry random_registry(Family family = Family::mc6800) {
  Registry registry;
  const auto memory = [&](const char* name, BusSpec::Kind kind, std::uint32_t size, std::uint8_t lines) {
    ChipType type;
    type.name = type.title = type.summary = name;
    type.bus = BusSpec{.kind = kind, .size = size, .data_mask = lines, .writes = kind == BusSpec::Kind::ram};
    type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Chip>(socket); };
    registry.add(std::move(type));
  };
  memory("ram", BusSpec::Kind::ram, 65536, 0xFF);
  memory("small-ram", BusSpec::Kind::ram, 256, 0xFF);
  memory("half-ram", BusSpec::Kind::ram, 65536, 0x0F);
  memory("rom", BusSpec::Kind::rom, 65536, 0xFF);
  ChipType nuisance;
  nuisance.name = nuisance.title = nuisance.summary = "nuisance";
  for (const std::string_view pin : grip_on(family).pins) {
    nuisance.pins.push_back({.name = pin, .kind = PinKind::three_state});
  }
  nuisance.bus = BusSpec{.size = 8};
  nuisance.input = "anything";
  nuisance.make = [family](Socket& socket, const Parameters&) {
    return std::make_unique<Nuisance>(socket, grip_on(family));
  };
  registry.add(std::move(nuisance));
  ChipType probe;
  probe.name = probe.title = probe.summary = "probe";
  for (const auto& [pin, of_processor] : probed(family, true)) {
    probe.pins.push_back({.name = pin, .kind = PinKind::input, .listens = true});
  }
  probe.make = [](Socket& socket, const Parameters&) { return std::make_unique<Probe>(socket); };
  registry.add(std::move(probe));
  return registry;
}

enum class Probed { random, never, always };

/// A machine file: memory, holes and the nuisance between random page boundaries; a probe in some, or as asked for.
inline std::string random_machine(Random& random, Family family = Family::mc6800, Probed probe = Probed::random) {
  // The nuisance answers in one page of many; page zero is memory more often than not.
  std::string chips;
  const auto add = [&](const std::string& type, int first, int last, int size) {
    chips += fmt::format(R"({}"U{:02X}": {{"type": "{}", "at": "${:04X}-${:04X}")", chips.empty() ? "" : ", ",
                         first >> 8, type, first, size == 0 ? last : first + size - 1);
    if (size != 0) chips += fmt::format(R"(, "mirror": "${:04X}-${:04X}")", first, last);
    chips += "}";
  };
  bool nuisance = false;
  for (int page = 0; page < 256;) {
    const int next = page == 0 && !random.one_in(4) ? 32 + random.below(32) : page + 1 + random.below(64);
    const int last = (next < 256 ? next * 256 : 65536) - 1;
    const int first = page * 256;
    // The vectors stand in memory more often than not, too.
    const int kind = page == 0 || (next >= 256 && !random.one_in(8)) ? 0 : random.below(16);
    if (kind == 9 || (!nuisance && next >= 160 && next < 256)) {
      if (!nuisance)
        chips +=
            fmt::format(R"({}"NUISANCE": {{"type": "nuisance", "at": "${:04X}-${:04X}", "mirror": "${:04X}-${:04X}"}})",
                        chips.empty() ? "" : ", ", first, first + 7, first, last);
      nuisance = true;
    } else if (kind < 9) {
      add("ram", first, last, 0);
    } else if (kind == 10) {
      add("rom", first, last, 0);
    } else if (kind == 11) {
      add("half-ram", first, last, 0);
    } else if (kind == 12) {
      add("small-ram", first, last, 256);
    }
    page = next;
  }
  // The MC6808 and the MC6809 have a clock of their own, the MC6800 and the MC6809E have not.
  const bool crystal = family == Family::mc6800 ? random.one_in(3) : !random.one_in(3);
  using Names = std::vector<std::string_view>;
  const Names missing = family == Family::mc6800 ? (crystal ? Names{"TSC", "DBE"} : Names{"MR"})
                                                 : (crystal ? Names{"TSC"} : Names{"DBE", "DMA/BREQ", "MRDY"});
  std::string wires;
  for (const std::string_view pin : grip_on(family).pins) {
    if (std::find(missing.begin(), missing.end(), pin) != missing.end()) continue;
    wires += fmt::format(R"({}["NUISANCE.{}", "CPU.{}"])", wires.empty() ? "" : ", ", pin, pin);
  }
  const bool chance = random.one_in(4);
  if (probe == Probed::random ? chance : probe == Probed::always) {
    chips += R"(, "PROBE": {"type": "probe"})";
    for (const auto& [pin, of_processor] : probed(family, crystal)) {
      wires += fmt::format(R"(, ["PROBE.{}", "CPU.{}"])", pin, of_processor);
    }
  }
  static constexpr std::array<std::string_view, 3> kKeepers{"last", "ones", "seeded"};
  // One call at a time: compilers differ in the order in which they work out arguments.
  const int seed = random.below(1'000'000);
  const std::string_view keeper = kKeepers[static_cast<std::size_t>(random.below(3))];
  return fmt::format(
      R"({{"machine": "random", "cpu": {{{}}}, "seed": {},
  "bus": {{"keeper": "{}"}}, "chips": {{{}}}, "wires": [{}]}})",
      family == Family::mc6800
          ? (crystal ? R"("type": "mc6808", "crystal": "4 MHz")" : R"("type": "mc6800", "clock": "1 MHz")")
          : (crystal ? R"("type": "mc6809", "crystal": "4 MHz")" : R"("type": "mc6809e", "clock": "1 MHz")"),
      seed, keeper, chips, wires);
}

inline const InstructionTable& instructions_of(Family family) {
  return family == Family::mc6800 ? mc6800_instructions() : mc6809_instructions();
}

/// Puts programs into a machine's memory.
class Programmer {
 public:
  Programmer(Machine& machine, Random& random, Family family)
      : machine_(machine), random_(random), mc6809_(family == Family::mc6809), rows_(instructions_of(family).rows()) {
    for (int page = 0; page < 256; ++page) {
      const auto names = machine.answering(word(page << 8));
      if (names.empty()) continue;
      (names[0] == "NUISANCE" ? nuisance_ : memory_).push_back(page);
    }
  }

  /// An MC6800's nearly every byte is an opcode, wherever the program goes; an MC6809's memory is full of instructions,
  /// since it has many bytes that must not stand behind an opcode.
  void chaos() {
    const int quiet = 1 + random_.below(3);  // how much rarer WAI and SWI are
    if (mc6809_) {
      for (at_ = 0; at_ < 65536;) instruction(quiet * 2);
      return;
    }
    for (int at = 0; at < 65536; ++at) {
      std::uint8_t byte = some_row().opcode;
      if ((byte & 0xFE) == 0x3E && !random_.one_in(quiet)) byte = 0x01;
      if (random_.one_in(2000)) byte = static_cast<std::uint8_t>(random_.next());
      machine_.poke(word(at), byte);
    }
  }

  /// Loops and handlers that come round again and again, over the chaos.
  void loops() {
    const int start = some_memory();
    at_ = start;
    if (mc6809_) {
      emit({0x10, 0xCE});  // LDS
      emit_address(some_memory() + 200);
      emit({0xCE});  // LDU
      emit_address(some_data() + 100);
      emit({0x10, 0x8E});  // LDY
      emit_address(some_data());
      emit({0x8E});  // LDX
      emit_address(some_data());
    } else {
      emit({0x8E});  // LDS
      emit_address(some_memory() + 200);
      emit({0xCE});  // LDX
      emit_address(some_data());
    }
    const int loop = at_;
    instructions(8 + random_.below(25));
    emit({0x7E});  // JMP
    emit_address(loop);
    static constexpr std::array<int, 6> kVectors{0xFFF8, 0xFFFA, 0xFFFC, 0xFFF2, 0xFFF4, 0xFFF6};
    for (int i = 0; i < (mc6809_ ? 6 : 3); ++i) {
      const int handler = some_memory();
      at_ = handler;
      instructions(random_.below(6));
      emit({0x3B});  // RTI
      at_ = kVectors[static_cast<std::size_t>(i)];
      emit_address(handler);
    }
    at_ = 0xFFFE;
    emit_address(start);
  }

 private:
  static std::uint16_t word(int value) { return static_cast<std::uint16_t>(value); }
  const Instruction& some_row() {
    return rows_[static_cast<std::size_t>(random_.below(static_cast<int>(rows_.size())))];
  }
  int some_page(const std::vector<int>& pages) {
    return pages.empty() ? random_.below(256)
                         : pages[static_cast<std::size_t>(random_.below(static_cast<int>(pages.size())))];
  }
  int some_memory() { return some_address(memory_); }
  int some_address(const std::vector<int>& pages) {
    const int page = some_page(pages);
    return page * 256 + random_.below(256);
  }
  int some_data() {
    if (random_.one_in(6)) return some_address(nuisance_);
    if (random_.one_in(8)) return at_ + random_.below(24) - 12;  // the program itself
    return random_.one_in(10) ? random_.below(65536) : some_memory();
  }
  void emit(std::initializer_list<int> bytes) {
    for (const int byte : bytes) machine_.poke(word(at_++), static_cast<std::uint8_t>(byte));
  }
  void emit_address(int address) { emit({address >> 8, address}); }
  void instructions(int count) {
    for (; count > 0; --count) instruction(20);
  }
  /// One that leaves the loop, moves its stack or waits comes once in so many times.
  void instruction(int leaving) {
    const Instruction* row = &some_row();
    static constexpr std::array<std::string_view, 8> kLeave{"JMP", "RTS", "RTI", "LDS", "TXS", "LEAS", "SYNC", "CWAI"};
    const bool leaves = std::find(kLeave.begin(), kLeave.end(), row->mnemonic) != kLeave.end();
    if ((leaves && !random_.one_in(leaving)) || (mc6809_ && random_.one_in(20))) {
      if (mc6809_) return emit({0x1C, 0xAF});     // ANDCC: I and F cleared
      row = mc6800_instructions().find(0, 0x0E);  // CLI
    }
    if (row->prefix != 0) emit({row->prefix});
    emit({row->opcode});
    switch (row->mode) {
      case Mode::inherent: break;
      case Mode::imm8:
      case Mode::direct:
      case Mode::offset: emit({random_.below(256)}); break;
      case Mode::relative: emit({row->opcode == 0x8D ? random_.below(6) : random_.below(4)}); break;
      case Mode::relative16: emit_address(random_.below(6)); break;
      case Mode::imm16:
      case Mode::extended: emit_address(some_data()); break;
      case Mode::indexed: {
        const std::uint8_t byte = some_byte([](std::uint8_t b) { return postbyte(b).form != Postbyte::Form::illegal; });
        emit({byte});
        if (postbyte(byte).bytes == 1) emit({random_.below(256)});
        if (postbyte(byte).bytes == 2) emit_address(some_data());
        break;
      }
      case Mode::pair: {
        const bool wild = random_.one_in(leaving);
        emit({some_byte([&](std::uint8_t b) {
          const auto keeps = [](int reg) { return reg != 4 && reg != 5; };  // S, PC
          return may_pair(b) && (wild || (keeps(b >> 4) && keeps(b & 15)));
        })});
        break;
      }
      case Mode::stack: emit({random_.below(random_.one_in(leaving) ? 256 : 64)}); break;  // neither PC nor a stack
    }
  }
  template <class Test>
  std::uint8_t some_byte(Test&& good) {
    for (;;) {
      const auto byte = static_cast<std::uint8_t>(random_.next());
      if (good(byte)) return byte;
    }
  }

  Machine& machine_;
  Random& random_;
  const bool mc6809_;
  const std::span<const Instruction> rows_;
  std::vector<int> memory_, nuisance_;
  int at_ = 0;
};

/// Fills memory with a program, and schedules things that happen during the first `cycles` cycles.
inline void random_program(Machine& machine, Random& random, Cycle cycles, Family family = Family::mc6800) {
  Programmer programmer(machine, random, family);
  programmer.chaos();
  if (!random.one_in(3)) programmer.loops();
  const auto moment = [&] { return 40 + static_cast<Stamp>(random.below(static_cast<int>(4 * cycles))); };
  for (int i = random.below(6); i > 0; --i) machine.schedule("NUISANCE", "touch", moment());
  for (int i = random.below(3); i > 0; --i) {
    const Stamp when = moment();
    machine.schedule("RESET", "pressed", when);
    machine.schedule("RESET", "released", when + 1 + random.below(60));
  }
}

}  // namespace prewire::testing
