// The inside of a machine: everything it owns, and the wiring between the rooms.
#pragma once

#include <array>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "bus/system_bus.h"
#include "clock/clock.h"
#include "cpu/processor.h"
#include "description/spec.h"
#include "machine/chronicle.h"
#include "machine/input.h"
#include "prewire/machine.h"
#include "watch/findings.h"
#include "watch/watchers.h"
#include "wire/board.h"

namespace prewire {

/// Owners of timers that are no chips.
enum TimerOwner : std::int32_t { kProcessorTimer = -1, kInputTimer = -2, kResetTimer = -3 };

/// Which end of what a socket is.
struct SocketWiring {
  Machine::Impl& machine;
  int chip = -1;  ///< index into the description's chips; -1: the processor
  std::string name;
  PinId first_pin = 0;
  LinkId first_link = 0;
  /// The number of the chip's latch on the board.
  std::uint32_t latch() const { return Listener::kNoLatch + 2U + static_cast<std::uint32_t>(chip); }
};

class SelectMap;

struct Machine::Impl final : BoardClient, Host {
  /// In `pin_owner`: a pin that only looks.
  static constexpr std::int32_t kOnlooker = -3;

  /// A chip in its socket.
  struct Seat {
    Seat(Impl& machine, int number, std::string name)
        : wiring{machine, number, std::move(name)}, socket(wiring, machine.clock) {}
    SocketWiring wiring;
    Socket socket;
    const ChipType* type = nullptr;
    std::unique_ptr<Chip> chip;
    std::vector<std::pair<int, Beat>> beats;  // offered on pins
  };

  /// Something that is done from outside, one at a time. Throws `std::logic_error` if something is being done already,
  /// so that this call comes from within an observer or a chip, or if the machine is broken and this does not mend it.
  class Act {
   public:
    Act(Impl& machine, std::string_view name, bool mends = false);
    Act(const Act&) = delete;
    Act& operator=(const Act&) = delete;
    ~Act();
    /// It is done. What an observer has thrown meanwhile comes out.
    void finish() { machine_.watchers.rethrow(); }

   private:
    Impl& machine_;
  };
  /// What leaves the machine broken if it comes to no end.
  class Fragile {
   public:
    explicit Fragile(Impl& machine) : machine_(machine), before_(machine.broken) { machine.broken = true; }
    Fragile(const Fragile&) = delete;
    Fragile& operator=(const Fragile&) = delete;
    /// The machine is as it was before in this respect, or whole.
    void end() { machine_.broken = before_; }
    void mend() { machine_.broken = false; }

   private:
    Impl& machine_;
    const bool before_;
  };

  explicit Impl(MachineSpec description);
  ~Impl();

  // Building, in build.cc.
  void build();
  void wire();
  void place();

  void power_on();
  void switch_on();
  Stop run(Cycle until, bool one_instruction);
  /// The processor's run alone.
  Stop go(Cycle until, bool one_instruction = false);
  /// What a person or somebody who debugs has done, with all that follows at once.
  void carry_out(const Input& input);
  void pull_reset();
  void hold_reset();
  void apply(const Input& input);
  void schedule(Input input);
  /// What stands in memory there: as many bytes as an instruction can have.
  std::array<std::uint8_t, 5> memory_at(std::uint16_t address) const;
  /// The same; of the instruction under way what the processor takes, also where no chip answers.
  std::array<std::uint8_t, 5> code_at(std::uint16_t address) const;
  /// Of the instruction under way; `second`: it reads the second of two bytes there.
  Intent intent(std::uint16_t address, bool second) const;
  bool verifies(std::uint16_t pc) const;
  bool pulls_frame(std::string_view mnemonic, std::uint8_t post, std::uint16_t address) const;
  std::uint16_t register_named(std::string_view name) const;
  std::optional<SourcePlace> source_at(std::uint16_t address) const;
  /// "gauge.asm:42", or empty.
  std::string source_of(std::uint16_t address) const;
  Input parse_input(std::string_view chip, std::string_view value) const;
  void archive(Archive& archive);
  void save(std::vector<std::uint8_t>& into);
  void load(std::span<const std::uint8_t> from);
  void load_if_possible(std::span<const std::uint8_t> from) noexcept;

  Seat& seat(int chip) { return chip < 0 ? *cpu_seat : *seats[static_cast<std::size_t>(chip)]; }
  /// The net at a pin or with a label; -1 and a reason if there is none.
  NetId find_net(std::string_view name, std::string* trouble) const;
  std::string net_list(NetId net) const;

  // BoardClient
  bool wants_nets() const override { return watchers.want(Observer::kNets); }
  void on_net(NetId net, Stamp when) override;
  void on_contention(NetId net) override;
  void on_unsettled(NetId net) override;
  void on_link() override;
  // Host
  void on_timer(const Timer& timer) override;
  void on_register(std::size_t index, std::uint16_t value) override;

  MachineSpec spec;
  std::vector<Fault> remarks;
  std::uint64_t fingerprint = 0;  ///< of the machine, so that a foreign snapshot is refused
  Timebase timebase;
  Clock clock;
  Watchers watchers;
  Findings findings;
  SystemBus bus;
  Board board;
  std::unique_ptr<Seat> cpu_seat;
  Processor* cpu = nullptr;  // lives in `cpu_seat`
  std::vector<std::unique_ptr<Seat>> seats;
  std::vector<std::pair<std::int32_t, std::int32_t>>
      pin_owner;                             // chip and pin index of each board pin; -2: the machine's own
  PinId reset_pin = 0;                       // of the reset circuit
  PinId button_pin = 0;                      // of the person's finger on it
  std::unique_ptr<SelectMap> selects;        // null if no wire goes to a bus pin
  std::vector<char> probed;                  // nets whose every edge somebody outside wants to see
  std::vector<Input> pending;                // latest first
  std::vector<std::uint8_t> before_restore;  // kept for its memory
  bool busy = false;                         // something is being done: see `Act`
  bool broken = false;                       // a chip has thrown in the middle of something
  std::unique_ptr<Chronicle> chronicle = make_chronicle(*this);
};

}  // namespace prewire
