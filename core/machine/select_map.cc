#include "machine/select_map.h"

#include <algorithm>

#include "description/address_map.h"

namespace prewire {

namespace {

// Each takes some 130 KB.
constexpr std::size_t kMostMaps = 64;

}  // namespace

SelectMap::SelectMap(Machine::Impl& machine)
    : Chip(machine.cpu_seat->socket), machine_(machine), nets_(machine.spec), logic_(machine.spec, nets_) {}

void SelectMap::listen() {
  for (std::size_t i = 0; i < logic_.slow().size(); ++i) {
    const SelectLogic::Slow& line = logic_.slow()[i];
    if (line.net < 0) continue;
    const PinRef first = nets_.all()[static_cast<std::size_t>(line.net)].pins.front();
    const PinId own = machine_.board.add_pin("", {this, static_cast<int>(i)});
    machine_.pin_owner.emplace_back(Machine::Impl::kOnlooker, 0);
    machine_.board.join(machine_.seat(first.chip).wiring.first_pin + first.pin, own);
  }
}

/// Fast nets with something on them that is no part of the address map and listens, by way of logic and links, too.
std::vector<char> SelectMap::heard_nets() const {
  const MachineSpec& spec = machine_.spec;
  const std::size_t count = nets_.all().size();
  std::vector<char> heard(count, 0);
  const auto pin = [&](PinRef ref) -> const PinSpec& {
    return spec.pins_of(ref.chip)[static_cast<std::size_t>(ref.pin)];
  };
  const auto type = [&](int chip) -> const ChipType& { return *spec.chips[static_cast<std::size_t>(chip)].type; };
  for (std::size_t i = 0; i < count; ++i) {
    const NetSpec& net = nets_.all()[i];
    if (net.rail_microvolts) continue;
    const PinRef first = net.pins.front();
    const PinId on_board = machine_.seat(first.chip).wiring.first_pin + first.pin;
    heard[i] = machine_.probed[static_cast<std::size_t>(machine_.board.net(on_board))];
    for (const PinRef ref : net.pins) {
      if (ref.chip < 0
              ? !logic_.fast(static_cast<int>(i)) && pin(ref).listens
              : pin(ref).listens && !type(ref.chip).logic &&
                    !(spec.chips[static_cast<std::size_t>(ref.chip)].wired && pin(ref).role != BusRole::none)) {
        heard[i] = 1;
      }
    }
  }
  for (bool more = true; more;) {
    more = false;
    const auto spread = [&](int to, int from) {
      if (to < 0 || from < 0 || heard[static_cast<std::size_t>(from)] == 0 || heard[static_cast<std::size_t>(to)] != 0)
        return;
      if (nets_.all()[static_cast<std::size_t>(to)].rail_microvolts) return;
      heard[static_cast<std::size_t>(to)] = 1;
      more = true;
    };
    for (int chip = 0; chip < static_cast<int>(spec.chips.size()); ++chip) {
      for (const LinkSpec& link : type(chip).links) {
        const int a = nets_.index_at({chip, link.pin_a}), b = nets_.index_at({chip, link.pin_b});
        spread(a, b);
        spread(b, a);
      }
      if (!type(chip).logic) continue;
      for (int out = 0; out < static_cast<int>(type(chip).pins.size()); ++out) {
        const int net = nets_.index_at({chip, out});
        if (net < 0 || !drives(pin({chip, out}).kind) || heard[static_cast<std::size_t>(net)] == 0) continue;
        for (const int in : logic_.inputs_of({chip, out})) spread(nets_.index_at({chip, in}), net);
      }
    }
  }
  return heard;
}

void SelectMap::hush() {
  const std::vector<char> heard = heard_nets();
  for (std::size_t i = 0; i < heard.size(); ++i) {
    if (heard[i] != 0 || !logic_.fast(static_cast<int>(i))) continue;
    const PinRef first = nets_.all()[i].pins.front();
    const NetId net = machine_.board.net(machine_.seat(first.chip).wiring.first_pin + first.pin);
    machine_.board.hush(net);
  }
}

void SelectMap::begin() {
  const std::vector<std::vector<Logic>> states = logic_.states();
  WiredWindows by_wires(machine_.spec, logic_.chips());
  std::vector<WiredPlace> places;  // in the first state
  for (std::size_t i = 0; i < states.size(); ++i) {
    std::vector<WiredPlace> now = logic_.places(states[i]);
    maps_.emplace(states[i], machine_.bus.learn(now));
    by_wires.add(now);
    if (i == 0) places = std::move(now);
  }
  state_ = states.front();
  ready_ = true;

  std::vector<Window> windows;
  by_wires.append_to(windows);
  for (const WiredPlace& of : places) {
    const ChipSpec& chip = machine_.spec.chips[static_cast<std::size_t>(of.chip)];
    for (const Window& window : windows) {
      if (window.name != chip.name) continue;
      const auto [at, fresh] = shown_.try_emplace(of.chip);
      BusPlace& place = at->second;
      if (!fresh) {
        place.elsewhere.emplace_back(window.decoded.first, window.decoded.last);
        continue;
      }
      place.first = window.home.first;
      place.last = window.home.last;
      place.mirror_first = window.decoded.first;
      place.mirror_last = window.decoded.last;
      place.spec = window.bus;
      place.wired = true;
      if (chip.bus.kind != BusSpec::Kind::registers) continue;
      for (std::uint32_t low = 0; low < chip.bus.size; ++low) {
        const auto address = static_cast<std::uint16_t>((place.first & ~(chip.bus.size - 1)) + low);
        place.shown.push_back(static_cast<std::uint16_t>(of.cell(BusKind::read, address) & (chip.bus.size - 1)));
      }
    }
  }
}

std::optional<BusPlace> SelectMap::place_of(int chip) const {
  const auto place = shown_.find(chip);
  return place == shown_.end() ? std::nullopt : std::optional(place->second);
}

void SelectMap::look() {
  if (!ready_) return;
  std::vector<Logic> state;
  for (const SelectLogic::Slow& line : logic_.slow()) {
    if (line.net < 0) {
      const LinkId link = machine_.seat(line.chip).wiring.first_link + line.link;
      state.push_back(to_logic(machine_.board.ohms(link) == 0));
      continue;
    }
    const PinRef first = nets_.all()[static_cast<std::size_t>(line.net)].pins.front();
    const Level level = machine_.board.at(machine_.seat(first.chip).wiring.first_pin + first.pin).level;
    state.push_back(level == Level::floating ? Logic::off : to_logic(level != Level::low));
  }
  if (state != state_) use(state);
}

void SelectMap::use(const std::vector<Logic>& state) {
  state_ = state;
  auto known = maps_.find(state);
  if (known == maps_.end()) {
    if (maps_.size() >= kMostMaps) {
      machine_.bus.forget_maps();
      const int now = machine_.bus.map();
      std::erase_if(maps_, [&](const auto& entry) { return entry.second != now; });
    }
    known = maps_.emplace(state, machine_.bus.learn(logic_.places(state))).first;
  }
  machine_.bus.use_map(known->second);
  machine_.cpu->map_changed();
}

void SelectMap::on_edge(int /*pin*/, Level /*level*/, Stamp /*when*/) { look(); }

void SelectMap::archive(Archive& archive) {
  std::vector<Logic> state = state_;
  for (Logic& level : state) archive.within(level, Logic::low, Logic::off);
  if (!archive.loading()) return;
  for (const Logic level : state) archive.require(level != Logic::unknown);
  if (state != state_) use(state);
}

}  // namespace prewire
