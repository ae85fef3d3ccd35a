// Turns a description into a machine: sockets and chips, pins and nets, the address map, the images.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <stdexcept>

#include "bus/mix.h"
#include "description/address_map.h"
#include "machine/impl.h"
#include "machine/select_map.h"

namespace prewire {

namespace {

// The reset circuit holds the line through this resistance (from memory: 3.3 kOhm is usual on 6800 boards).
constexpr std::int32_t kResetPullOhms = 3'300;
constexpr const char* kResetPin = "RESET";

}  // namespace

Machine::Impl::Impl(MachineSpec description)
    : spec(std::move(description)),
      timebase(spec.e_millihertz),
      findings(
          [this](Finding& finding, const Occurrence& occurrence) {
            finding.first = occurrence.since >= 0 ? occurrence.since : clock.now;
            finding.pc = occurrence.pc >= 0 ? static_cast<std::uint16_t>(occurrence.pc) : cpu->pc();
            finding.source = source_of(finding.pc);
          },
          [this](const Finding& finding) {
            watchers.tell(Observer::kFindings, [&](Observer& observer) { observer.on_finding(finding); });
          }),
      bus(
          clock, findings, [this] { return cpu->pc(); },
          [this](std::uint16_t address, bool second) { return intent(address, second); }),
      board(*this, clock) {
  findings.set_weights(spec.weights);
  watchers.on_throw([this] { cpu->request_stop(); });
  build();
}

Machine::Impl::~Impl() = default;

void Machine::Impl::build() {
  cpu_seat = std::make_unique<Seat>(*this, -1, "CPU");
  cpu_seat->type = &spec.cpu->chip;
  auto processor = spec.cpu->make(cpu_seat->socket, {clock, bus, board, watchers, this});
  cpu = processor.get();
  cpu_seat->chip = std::move(processor);
  for (std::size_t i = 0; i < spec.chips.size(); ++i) {
    const ChipSpec& chip = spec.chips[i];
    auto seat = std::make_unique<Seat>(*this, static_cast<int>(i), chip.name);
    seat->type = chip.type;
    if (chip.type->make) seat->chip = chip.type->make(seat->socket, chip.parameters);
    if (seat->chip == nullptr) {
      throw std::logic_error(fmt::format("the chip type {} makes no chip for {}", chip.type->name, chip.name));
    }
    seats.push_back(std::move(seat));
  }
  wire();
  place();
}

void Machine::Impl::wire() {
  const auto add_seat = [&](Seat& seat) {
    seat.wiring.first_pin = static_cast<PinId>(pin_owner.size());
    for (std::size_t pin = 0; pin < seat.type->pins.size(); ++pin) {
      const PinSpec& what = seat.type->pins[pin];
      // Lamps are lit by voltages, not by logic levels.
      const bool analog = what.kind == PinKind::analog_in || what.kind == PinKind::passive || what.volts;
      board.add_pin(seat.wiring.name + "." + std::string(what.name),
                    {what.listens ? seat.chip.get() : nullptr, static_cast<int>(pin), analog, what.silent,
                     what.latched ? seat.wiring.latch() : Listener::kNoLatch});
      pin_owner.emplace_back(seat.wiring.chip, static_cast<std::int32_t>(pin));
    }
  };
  add_seat(*cpu_seat);
  for (auto& seat : seats) add_seat(*seat);
  for (auto& seat : seats) {
    for (std::size_t i = 0; i < seat->type->links.size(); ++i) {
      const LinkSpec& link = seat->type->links[i];
      const LinkId id = board.add_link(seat->wiring.first_pin + link.pin_a, seat->wiring.first_pin + link.pin_b);
      if (i == 0) seat->wiring.first_link = id;
    }
  }

  // One stand-in pin per rail voltage and per label: entries that name them join through it.
  const auto stand_in = [&](std::string name) {
    pin_owner.emplace_back(-2, 0);
    return board.add_pin(std::move(name));
  };
  std::map<std::int32_t, PinId> rails;
  std::map<std::string, PinId> labels;
  std::vector<char> wired(pin_owner.size());
  for (const WireSpec& wire : spec.wires) {
    std::vector<PinId> ends;
    for (const PinRef& ref : wire.pins) {
      ends.push_back(seat(ref.chip).wiring.first_pin + ref.pin);
      wired[static_cast<std::size_t>(ends.back())] = true;
    }
    if (wire.rail_microvolts) {
      const auto [place, fresh] = rails.try_emplace(*wire.rail_microvolts, 0);
      if (fresh) {
        place->second = stand_in(wire.rail);
        board.tie(place->second, *wire.rail_microvolts);
        board.label(place->second, wire.rail);
      }
      ends.push_back(place->second);
    }
    if (!wire.label.empty()) {
      const auto [place, fresh] = labels.try_emplace(wire.label, 0);
      if (fresh) {
        place->second = stand_in(wire.label);
        board.label(place->second, wire.label);
      }
      ends.push_back(place->second);
    }
    for (PinId end : ends) board.join(ends.front(), end);
  }

  // The reset circuit works on the processor's line, and so do chips whose RESET nobody wired elsewhere.
  reset_pin = stand_in(kResetPin);
  const PinId line = cpu_seat->wiring.first_pin + cpu_seat->type->pin("RESET");
  board.join(line, reset_pin);
  button_pin = stand_in(kResetPin);
  board.join(line, button_pin);
  for (std::size_t i = 0; i < seats.size(); ++i) {
    if (!spec.chips[i].at) continue;
    for (std::size_t pin = 0; pin < seats[i]->type->pins.size(); ++pin) {
      const PinId id = seats[i]->wiring.first_pin + static_cast<PinId>(pin);
      if (seats[i]->type->pins[pin].implied == Implied::reset_line && !wired[static_cast<std::size_t>(id)]) {
        board.join(line, id);
      }
    }
  }
  const auto on_wires = [](const ChipSpec& chip) { return chip.wired; };
  const auto on_lines = [&](const WireSpec& wire) {
    return std::any_of(wire.pins.begin(), wire.pins.end(), [&](PinRef ref) {
      return ref.chip < 0 && spec.cpu->chip.pins[static_cast<std::size_t>(ref.pin)].implied == Implied::bus;
    });
  };
  if (std::any_of(spec.chips.begin(), spec.chips.end(), on_wires) ||
      std::any_of(spec.wires.begin(), spec.wires.end(), on_lines)) {
    selects = std::make_unique<SelectMap>(*this);
    selects->listen();
  }
  board.finish();
  const auto attach = [&](Seat& seat) {
    std::vector<const NetState*> nets;
    for (std::size_t pin = 0; pin < seat.type->pins.size(); ++pin) {
      nets.push_back(&board.at(seat.wiring.first_pin + static_cast<PinId>(pin)));
    }
    seat.socket.wire(std::move(nets));
  };
  attach(*cpu_seat);
  for (auto& seat : seats) attach(*seat);
  probed.assign(board.nets(), 0);
  for (const std::string& name : spec.probes) {
    const NetId net = find_net(name, nullptr);
    if (net >= 0) probed[static_cast<std::size_t>(net)] = 1;
  }
  if (selects != nullptr) selects->hush();
}

void Machine::Impl::place() {
  if (spec.cpu->internal_ram && spec.ram_enabled) {
    Placement ram;
    ram.name = kProcessorRam;
    ram.spec = {.kind = BusSpec::Kind::ram, .size = 128};
    ram.last = ram.mirror_last = kProcessorRamRange.last;
    bus.place(std::move(ram));
  }
  for (std::size_t i = 0; i < spec.chips.size(); ++i) {
    const ChipSpec& chip = spec.chips[i];
    if (!chip.at && !chip.wired) continue;
    Placement placement;
    placement.name = chip.name;
    placement.device = chip.bus.kind == BusSpec::Kind::registers ? seats[i]->chip.get() : nullptr;
    placement.spec = chip.bus;
    placement.power_up = chip.power_up;
    placement.wired = chip.wired;
    const Range at = chip.at.value_or(Range{}), mirror = chip.mirror.value_or(at);
    placement.first = at.first;
    placement.last = at.last;
    placement.mirror_first = mirror.first;
    placement.mirror_last = mirror.last;
    bus.place(std::move(placement));
  }
  bus.set_keeper(spec.keeper, spec.seed);
  bus.finish();
  if (selects != nullptr) selects->begin();
  for (const ProgramSpec& program : spec.programs) {
    for (const Segment& segment : program.image.segments) {
      for (std::size_t i = 0; i < segment.bytes.size(); ++i) {
        bus.load(static_cast<std::uint16_t>(segment.start + i), segment.bytes[i]);
      }
    }
  }
}

void Machine::Impl::power_on() {
  Fragile fragile(*this);
  switch_on();
  fragile.mend();
  chronicle->forget();
}

void Machine::Impl::switch_on() {
  clock = Clock{};
  findings.clear();
  pending.clear();
  bus.power_on();
  for (PinId pin = 0; pin < static_cast<PinId>(pin_owner.size()); ++pin) board.drive(pin, release());
  for (NetId net = 0; net < static_cast<NetId>(board.nets()); ++net)
    board.charge(net, (mix(spec.seed, static_cast<std::uint64_t>(net)) >> 63) != 0);
  for (auto& seat : seats) seat->chip->power_on();
  cpu->power_on();
  board.drive(reset_pin, open_low());
  clock.set(kResetTimer, 0, stamp_of(8));  // MC6800 data sheet: at least eight cycles
  board.settle_silently();
  for (auto& seat : seats) seat->chip->start();
  cpu->start();
  board.settle(0);
  if (selects != nullptr) selects->look();
  bus.settle_map();
}

void Machine::Impl::on_timer(const Timer& timer) {
  switch (timer.owner) {
    case kProcessorTimer: cpu->on_timer(timer.tag, timer.when); break;
    case kResetTimer: board.drive(reset_pin, pull(kLogicHigh, kResetPullOhms)); break;
    case kInputTimer:
      while (!pending.empty() && pending.back().when <= timer.when) {
        const Input input = pending.back();
        pending.pop_back();
        apply(input);
      }
      if (!pending.empty()) clock.set(kInputTimer, 0, pending.back().when);
      break;
    default: seats[static_cast<std::size_t>(timer.owner)]->chip->on_timer(timer.tag, timer.when); break;
  }
}

void Machine::Impl::on_link() {
  if (selects != nullptr) selects->look();
}

void Machine::Impl::hold_reset() {
  board.drive(reset_pin, open_low());
  clock.set(kResetTimer, 0, clock.moment + stamp_of(8));
}

}  // namespace prewire
