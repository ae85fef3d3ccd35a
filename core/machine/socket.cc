#include <algorithm>

#include "bus/mix.h"
#include "machine/impl.h"

namespace prewire {

namespace {

PinId at(const SocketWiring& wiring, int pin) { return wiring.first_pin + pin; }

std::uint64_t subject_of(const SocketWiring& wiring, int subject) {
  return static_cast<std::uint64_t>(wiring.chip + 1) << 32 | static_cast<std::uint32_t>(subject);
}

}  // namespace

void Socket::drive(int pin, const Drive& drive) { wiring_.machine.board.drive(at(wiring_, pin), drive); }

void Socket::shut_latch(bool shut) { wiring_.machine.board.shut_latch(wiring_.latch(), shut); }

bool Socket::wired(int pin) const {
  const Board& board = wiring_.machine.board;
  const NetId net = board.net(at(wiring_, pin));
  return board.pins(net).size() > 1 || board.linked(net) || board.is_rail(net);
}

bool Socket::on_bus() const {
  if (wiring_.chip < 0) return true;
  const ChipSpec& chip = wiring_.machine.spec.chips[static_cast<std::size_t>(wiring_.chip)];
  return chip.at.has_value() || chip.wired;
}

bool Socket::on_rail(int pin) const {
  const Board& board = wiring_.machine.board;
  return board.is_rail(board.net(at(wiring_, pin)));
}

bool Socket::floating_bit(int pin) const {
  const Machine::Impl& machine = wiring_.machine;
  const PinId id = at(wiring_, pin);
  switch (machine.spec.keeper) {
    case KeeperPolicy::last: return machine.board.last_high(machine.board.net(id));
    case KeeperPolicy::ones: return true;
    case KeeperPolicy::seeded:
      return (mix(machine.spec.seed + static_cast<std::uint64_t>(id), static_cast<std::uint64_t>(cycle())) >> 63) != 0;
  }
  return true;
}

void Socket::link(int index, std::int32_t ohms) { wiring_.machine.board.link(wiring_.first_link + index, ohms); }

void Socket::offer_beat(int pin, Beat beat) {
  auto& beats = wiring_.machine.seat(wiring_.chip).beats;
  std::erase_if(beats, [&](const auto& entry) { return entry.first == pin; });
  beats.emplace_back(pin, beat);
}

std::optional<Beat> Socket::beat(int pin) const {
  Machine::Impl& machine = wiring_.machine;
  for (PinId id : machine.board.pins(machine.board.net(at(wiring_, pin)))) {
    const auto& [chip, other] = machine.pin_owner[static_cast<std::size_t>(id)];
    if (chip < -1) continue;
    for (const auto& [offered, beat] : machine.seat(chip).beats) {
      if (offered == other) return beat;
    }
  }
  return std::nullopt;
}

bool Socket::heard(int pin) const {
  Machine::Impl& machine = wiring_.machine;
  const Board& board = machine.board;
  const PinId self = at(wiring_, pin);
  const NetId net = board.net(self);
  if (board.hushed(net)) return false;
  if (board.linked(net) || machine.probed[static_cast<std::size_t>(net)] != 0) return true;
  const bool beat_will_do = beat(pin).has_value();
  const auto pins = board.pins(net);
  return std::any_of(pins.begin(), pins.end(), [&](PinId other) {
    if (other == self || !board.listens(other)) return false;
    const auto& [chip, index] = machine.pin_owner[static_cast<std::size_t>(other)];
    if (chip < -1) return false;
    return !beat_will_do || !machine.seat(chip).type->pins[static_cast<std::size_t>(index)].takes_beat;
  });
}

std::int32_t Socket::ohms(int pin) const {
  const Board& board = wiring_.machine.board;
  constexpr double kMost = 1e9;
  const double ohms = board.source_ohms(board.net(at(wiring_, pin)));
  return static_cast<std::int32_t>(ohms < 0 ? kMost : std::min(ohms, kMost));
}

std::string Socket::could_drive(int pin) const {
  const Machine::Impl& machine = wiring_.machine;
  for (PinId id : machine.board.pins(machine.board.net(at(wiring_, pin)))) {
    const auto& [chip, index] = machine.pin_owner[static_cast<std::size_t>(id)];
    if (chip < 0 || id == at(wiring_, pin)) continue;
    const Machine::Impl::Seat& other = *machine.seats[static_cast<std::size_t>(chip)];
    if (other.type->pins[static_cast<std::size_t>(index)].kind != PinKind::three_state) continue;
    if (std::string why = other.chip->why_not(index).why; !why.empty()) return why;
  }
  return {};
}

const Timebase& Socket::timebase() const { return wiring_.machine.timebase; }
std::uint64_t Socket::seed() const {
  return mix(wiring_.machine.spec.seed, static_cast<std::uint64_t>(wiring_.chip) + 1);
}
std::uint64_t Socket::noise(std::uint64_t number) const { return mix(seed(), number); }

void Socket::timer(unsigned tag, Stamp when) { wiring_.machine.clock.set(wiring_.chip, tag, when); }
void Socket::e_timer(unsigned tag, Stamp e_when) {
  Clock& clock = wiring_.machine.clock;
  clock.set(wiring_.chip, tag, e_when + clock.stretched, true);
}
void Socket::cancel(unsigned tag) { wiring_.machine.clock.cancel(wiring_.chip, tag); }

void Socket::hold_reading() { wiring_.machine.bus.hold_reading(); }
void Socket::drop_readings() { wiring_.machine.bus.drop_readings(wiring_.machine.seat(wiring_.chip).chip.get()); }

void Socket::event(std::string_view name, std::int64_t value) {
  const Machine::Impl& machine = wiring_.machine;
  machine.watchers.tell(Observer::kEvents, [&](Observer& observer) {
    observer.on_event(wiring_.name, name, value, machine.clock.moment);
  });
}

bool Socket::in_reset() const { return wiring_.machine.cpu->state() == CpuState::reset; }

void Socket::finding(std::string_view id, Weight weight, int subject, std::string_view message, std::string_view hint,
                     Cycle since) {
  const Occurrence occurrence{
      .subject = subject_of(wiring_, subject), .cause = static_cast<std::uint64_t>(wiring_.chip + 1), .since = since};
  wiring_.machine.findings.report(id, weight, occurrence,
                                  [&] { return std::pair(std::string(message), std::string(hint)); });
}

bool Socket::found(std::string_view id, int subject) const {
  return wiring_.machine.findings.found(id, subject_of(wiring_, subject));
}

// Out of line, so that no compiler guesses that a chip has them.
std::uint8_t Chip::read(unsigned /*reg*/) { return 0xFF; }
void Chip::write(unsigned /*reg*/, std::uint8_t /*value*/) {}

const std::string& Socket::name() const { return wiring_.name; }

std::string Socket::pin_name(int pin) const { return wiring_.machine.board.pin_name(at(wiring_, pin)); }

}  // namespace prewire
