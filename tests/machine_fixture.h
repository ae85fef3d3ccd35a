// A bench for chips: a small machine whose processor does one access at a time, a part whose pins the test drives, and
// the history of what happened as text.
#pragma once

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "paths.h"
#include "prewire/chips.h"
#include "prewire/machine.h"

namespace prewire::testing {

/// "stimulus": pins P0 to P7, each high, low, open, sinking or at a voltage, as the test sets it: "P3 high", "P3 1.4
/// V".
class Stimulus final : public Chip {
 public:
  Stimulus(Socket& socket, std::int64_t high, std::int64_t low) : Chip(socket), high_(high), low_(low) {}

  void power_on() override {
    for (int pin = 0; pin < 8; ++pin) {
      if (high_ >> pin & 1) socket().drive(pin, drive_high());
      if (low_ >> pin & 1) socket().drive(pin, drive_low());
    }
  }

  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    if (text.size() < 4 || text[0] != 'P' || text[1] < '0' || text[1] > '7' || text[2] != ' ') return std::nullopt;
    const std::int64_t pin = text[1] - '0';
    const std::string_view what = text.substr(3);
    if (what == "open") return pin << 40 | std::int64_t{1} << 32;
    if (what == "low") return pin << 40 | std::int64_t{2} << 32;
    if (what == "high") return pin << 40 | std::int64_t{3} << 32;
    if (what == "sinking") return pin << 40 | std::int64_t{4} << 32;
    const auto voltage = parse_quantity(what, Unit::microvolts);
    if (!voltage || *voltage < 0 || *voltage > 10'000'000) return std::nullopt;
    return pin << 40 | *voltage;
  }

  void input(std::int64_t value) override {
    const int pin = static_cast<int>(value >> 40);
    switch (value >> 32 & 0xFF) {
      case 1: return socket().drive(pin, release());
      case 2: return socket().drive(pin, drive_low());
      case 3: return socket().drive(pin, drive_high());
      case 4: return socket().drive(pin, open_low());
      default: return socket().drive(pin, volts(static_cast<std::int32_t>(value)));
    }
  }

 private:
  const std::int64_t high_, low_;
};

inline ChipType stimulus_type() {
  ChipType type;
  type.name = "stimulus";
  type.title = "Eight pins under the hand of a test";
  type.summary = type.title;
  for (const std::string_view name : {"P0", "P1", "P2", "P3", "P4", "P5", "P6", "P7"}) {
    type.pins.push_back({.name = name, .kind = PinKind::three_state});
  }
  type.parameters = {{.name = "high", .maximum = 255, .help = "pins that start high, a bit each"},
                     {.name = "low", .maximum = 255, .help = "pins that start low, a bit each"}};
  type.input = "a pin and what it does, such as \"P0 high\"";
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Stimulus>(socket, parameters["high"], parameters["low"]);
  };
  return type;
}

/// The standard chips and the stimulus; machines keep looking at it.
inline const Registry& bench_registry() {
  static const Registry kRegistry = [] {
    Registry registry = standard_chips();
    registry.add(stimulus_type());
    return registry;
  }();
  return kRegistry;
}

/// Everything that happens, one line each: time, then a net and its level, an event, or an access to a range of
/// addresses.
///
/// Times are whole and quarter cycles since `start`: E rises at .2 and falls at .0 of the next cycle. Accesses stand at
/// the E fall at which they transfer.
class History final : public Observer {
 public:
  /// Accesses from `first` to `last` are recorded; none by default.
  explicit History(std::uint16_t first = 1, std::uint16_t last = 0) : first_(first), last_(last) {}

  unsigned wants() const override { return kNets | kEvents | (first_ <= last_ ? kCycles : 0U); }
  void on_net(std::string_view net, const NetState& state, Stamp when) override {
    const bool plain = state.strength != Strength::pulled && state.strength != Strength::contended;
    lines_.push_back({when, fmt::format("{} {}{}{}", net, to_string(state.level), plain ? "" : " ",
                                        plain ? "" : to_string(state.strength))});
  }
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) override {
    lines_.push_back({when, fmt::format("{}: {} {}", chip, event, value)});
  }
  void on_cycle(const BusCycle& cycle) override {
    if (!cycle.vma || cycle.address < first_ || cycle.address > last_) return;
    lines_.push_back({e_fall(cycle.cycle),
                      fmt::format("{} ${:04X} ${:02X}", cycle.rw ? "read" : "write", cycle.address, cycle.data)});
  }

  /// Forgets what was recorded; times count from the E fall with which cycle `start` begins.
  void restart(Cycle start) {
    start_ = stamp_of(start);
    lines_.clear();
  }

  /// The record so far, and forgets it.
  std::string take() {
    std::string text;
    for (const Line& line : lines_) {
      const Stamp at = line.when - start_;
      text += fmt::format("{}.{} {}\n", at / 4, at % 4, line.text);
    }
    lines_.clear();
    return text;
  }

 private:
  struct Line {
    Stamp when;
    std::string text;
  };
  std::uint16_t first_, last_;
  Stamp start_ = 0;
  std::vector<Line> lines_;
};

/// A machine with memory for code and vectors, and the chips and wires of the test. The processor is out of reset and
/// about to execute at $0100.
class Bench {
 public:
  static constexpr std::uint16_t kCode = 0x0100;
  static constexpr std::string_view kMemory =
      R"("RAM": {"type": "6116", "at": "$0000-$07FF"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"})";

  /// `chips` and `wires` are members and elements as a machine file has them; `more` are members of the file itself.
  explicit Bench(std::string_view chips, std::string_view wires = "", std::string_view more = "",
                 std::string_view memory = kMemory)
      : machine(Machine::from_text(text(chips, wires, more, memory), "bench.json", bench_registry(), options())) {
    poke(kCode, "20 FE 01 01 01 01 01 01 01 01 01 01 01 01 01 01");
    poke(0xFFF8, "01 00 01 00 01 00 01 00");
    while (machine.cpu().pc() != kCode && machine.now() < 100) machine.step_instruction();
    EXPECT_EQ(machine.cpu().pc(), kCode);
  }

  static std::string text(std::string_view chips, std::string_view wires, std::string_view more,
                          std::string_view memory) {
    return fmt::format(R"({{"machine": "bench", "cpu": {{"type": "mc6800", "clock": "1 MHz"}},
  "chips": {{{}{}{}}},
  "wires": [{}]{}{}}})",
                       memory, chips.empty() ? "" : ", ", chips, wires, more.empty() ? "" : ", ", more);
  }

  /// Puts bytes, two hex digits each, into memory.
  void poke(std::uint16_t address, std::string_view bytes) {
    std::string_view rest = bytes;
    while (!rest.empty()) {
      ASSERT_TRUE(machine.poke(
          address++, static_cast<std::uint8_t>(std::strtol(std::string(rest.substr(0, 2)).c_str(), nullptr, 16))))
          << fmt::format("no memory at ${:04X}", address - 1);
      rest.remove_prefix(rest.size() < 3 ? rest.size() : 3);
    }
  }

  /// Executes the first `count` instructions of `code`, from $0100 on.
  void run(std::string_view code, int count = 1) {
    poke(kCode, code);
    set("PC", kCode);
    for (int i = 0; i < count; ++i) machine.step_instruction();
  }

  /// `LDAA #value`, `STAA address`: the write takes place in the last of seven cycles.
  void write(std::uint16_t address, int value) {
    run(fmt::format("86 {:02X} B7 {:02X} {:02X}", value, address >> 8, address & 0xFF), 2);
  }

  /// `LDAA address`: the read takes place in the last of four cycles.
  int read(std::uint16_t address) {
    run(fmt::format("B6 {:02X} {:02X}", address >> 8, address & 0xFF));
    return reg("A");
  }

  /// `NOP`s, of two cycles each.
  void idle(int cycles) {
    EXPECT_EQ(cycles % 2, 0);
    for (; cycles > 0; cycles -= 2) run("01");
  }

  /// A loop that touches nothing but its own code.
  void wait(Cycle cycles) {
    run("20 FE");
    machine.run_for(cycles);
    if (machine.cpu().cycles_into_instruction() != 0) machine.step_instruction();
  }

  int reg(std::string_view name) { return machine.cpu().get(index(name)); }
  void set(std::string_view name, std::uint16_t value) { EXPECT_TRUE(machine.cpu().set(index(name), value)); }

  /// "high", "low", "floating" or "unknown".
  std::string level(std::string_view net) {
    const auto state = machine.net(net);
    return state ? std::string(to_string(state->level)) : "no net " + std::string(net);
  }

  /// Ids of the findings so far with their counts: "floating-input 8".
  std::string findings() {
    std::string ids;
    machine.conclude();
    for (const Finding& finding : machine.findings()) ids += fmt::format("{} {}\n", finding.id, finding.count);
    return ids;
  }

  /// Ids of what the check said; benches poke their vectors, so there is always `no-reset-vector`.
  std::string remarks() {
    std::string ids;
    for (const Fault& fault : machine.remarks()) ids += fault.id + "\n";
    return ids;
  }

  Machine machine;

 private:
  static LoadOptions options() {
    LoadOptions options;
    options.run_faulty = true;  // benches leave out what their test does not need
    return options;
  }
  std::size_t index(std::string_view name) {
    const auto registers = machine.cpu().registers();
    std::size_t i = 0;
    while (registers[i].name != name) ++i;
    return i;
  }
};

/// What the check says of the machine in a page of docs/chips: ids, one per line.
inline std::string check_docs_example(const std::string& page) {
  std::ifstream in(source_folder() / "docs" / "chips" / page);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  const std::string fence = "```json\n";
  const std::size_t begin = text.find(fence);
  if (begin == std::string::npos) return "no example";
  const std::size_t end = text.find("```", begin + fence.size());
  std::string ids;
  for (const Fault& fault :
       check_machine(text.substr(begin + fence.size(), end - begin - fence.size()), page, "", bench_registry())) {
    ids += fault.id + "\n";
  }
  return ids;
}

}  // namespace prewire::testing
