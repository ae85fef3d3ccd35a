#include "prewire/machine.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <stdexcept>
#include <tuple>

#include "machine/inside.h"
#include "machine/select_map.h"
#include "prewire/text.h"
#include "units/text.h"

namespace prewire {

std::array<std::uint8_t, 5> Machine::Impl::memory_at(std::uint16_t address) const {
  std::array<std::uint8_t, 5> code{};
  for (std::size_t i = 0; i < code.size(); ++i) code[i] = bus.peek(static_cast<std::uint16_t>(address + i));
  return code;
}

std::array<std::uint8_t, 5> Machine::Impl::code_at(std::uint16_t address) const {
  if (address != cpu->pc()) return memory_at(address);
  std::array<std::uint8_t, 5> code{};
  // Where no chip answers the processor takes what the bus shows.
  std::uint8_t shown = cpu->bus_byte();
  Cycle when = clock.now;
  const SystemBus::OpenFetch& fetch = bus.open_fetch();
  const bool begun = cpu->cycles_into_instruction() > 0 || cpu->state() == CpuState::stuck || fetch.when == when;
  const bool fetched = begun && fetch.when >= 0 && fetch.address == address;
  if (fetched) when = fetch.when;
  for (std::size_t i = 0; i < code.size(); ++i, ++when) {
    shown = fetched && i == 0 ? fetch.value : bus.readable(static_cast<std::uint16_t>(address + i), shown, when);
    code[i] = shown;
  }
  return code;
}

std::array<std::uint8_t, 5> code_at(const Machine& machine, std::uint16_t address) {
  return Inside::of(machine).code_at(address);
}

Disassembly disassemble(const Machine& machine, std::uint16_t address) {
  return disassemble(machine.cpu().type(), address, Inside::of(machine).code_at(address));
}

Outline outline(const Machine& machine, std::uint16_t address) {
  return outline(machine.cpu().type(), address, Inside::of(machine).code_at(address));
}

std::string byte_text(const Machine& machine, std::uint16_t address) {
  const unsigned lines = machine.lines_at(address);
  std::string text = fmt::format("{:02X}", machine.peek(address));
  if ((lines & 0xF0) != 0xF0) text[0] = '-';
  if ((lines & 0x0F) != 0x0F) text[1] = '-';
  return text;
}

std::string to_string(const SourcePlace& place) {
  return fmt::format("{}:{}", printable(place.map->files[static_cast<std::size_t>(place.line->file)]),
                     place.line->number);
}

// ---------------------------------------------------------------------------------------------------------------------
// Inside

Machine::Impl::Act::Act(Impl& machine, std::string_view name, bool mends) : machine_(machine) {
  if (machine.busy) {
    throw std::logic_error(fmt::format(
        "{} was called from within an observer or a chip, while the machine was doing something else", name));
  }
  if (machine.broken && !mends) {
    throw std::logic_error(
        fmt::format("{} was called after a chip had thrown in the middle of a cycle: restore a saved state first, or "
                    "switch the machine off and on",
                    name));
  }
  machine.busy = true;
}

Machine::Impl::Act::~Act() {
  machine_.watchers.forget_thrown();
  machine_.watchers.tidy();
  machine_.busy = false;
  machine_.chronicle->at_rest();
}

Stop Machine::Impl::go(Cycle until, bool one_instruction) {
  Fragile fragile(*this);
  const Stop stop = cpu->run(until, one_instruction);
  fragile.end();
  return stop;
}

Stop Machine::Impl::run(Cycle until, bool one_instruction) {
  chronicle->begin_run();
  for (;;) {
    Cycle leg = std::min(until, chronicle->next_stop());
    // The same moments, however a run is cut.
    const Cycle moment = clock.now / Observer::kMoment + 1;
    if (watchers.want(Observer::kNewInstructions)) leg = std::min(leg, moment * Observer::kMoment);
    const Stop stop = go(leg, one_instruction);
    chronicle->reached();
    if (watchers.thrown()) return stop;
    if (clock.now >= moment * Observer::kMoment) {
      watchers.tell(Observer::kNewInstructions, [&](Observer& observer) { observer.on_moment(*cpu, clock.now); });
    }
    bus.tell_old_doubts();
    if (watchers.thrown()) return stop;
    if (stop.reason != StopReason::limit || stop.cycle >= until) return stop;
    if (one_instruction && (!stop.mid_instruction || stop.cycle < leg)) return stop;
  }
}

namespace {

bool later_input(const Input& a, const Input& b) { return std::tie(a.when, a.order) > std::tie(b.when, b.order); }

// Of inputs at one moment.
constexpr std::int32_t kMostInputs = 1 << 30;

}  // namespace

void Machine::Impl::archive(Archive& archive) {
  std::uint64_t whose = fingerprint;
  archive(whose);
  archive.require(whose == fingerprint);
  std::uint64_t seed = spec.seed;
  archive(seed);
  if (seed != spec.seed) {
    spec.seed = seed;
    bus.set_keeper(spec.keeper, seed);
  }
  clock.archive(archive, kResetTimer, static_cast<std::int32_t>(seats.size()));
  board.archive(archive);
  if (selects != nullptr) selects->archive(archive);
  bus.archive(archive);
  std::uint64_t inputs = pending.size();
  archive.count(inputs, sizeof(Input));
  pending.resize(inputs);
  archive.bytes(pending.data(), inputs * sizeof(Input));
  archive.require(std::is_sorted(pending.begin(), pending.end(), later_input));
  for (const Input& input : pending) {
    const bool to_chip = input.chip >= 0 && input.chip < static_cast<std::int32_t>(seats.size()) &&
                         !seats[static_cast<std::size_t>(input.chip)]->type->input.empty();
    archive.require((to_chip || input.chip == Input::kReset) && input.when >= 0 && input.when <= Clock::kNever &&
                    input.order >= 0 && input.order <= kMostInputs);
  }
  for (auto& seat : seats) seat->chip->archive(archive);
  cpu->archive(archive);
}

void Machine::Impl::save(std::vector<std::uint8_t>& into) {
  Archive out(into);
  archive(out);
}

void Machine::Impl::load(std::span<const std::uint8_t> from) {
  Fragile fragile(*this);
  Archive in(from);
  archive(in);
  in.require(in.left() == 0);
  fragile.mend();
}

/// After something else has failed.
void Machine::Impl::load_if_possible(std::span<const std::uint8_t> from) noexcept {
  try {
    if (!from.empty()) load(from);
  } catch (...) {  // the machine stays broken
  }
}

void Machine::Impl::apply(const Input& input) {
  if (input.chip == Input::kReset) {
    // The circuit that holds the line after power-on has a pin of its own.
    return board.drive(button_pin, input.value != 0 ? open_low() : release());
  }
  seats[static_cast<std::size_t>(input.chip)]->chip->input(input.value);
}

void Machine::Impl::carry_out(const Input& input) {
  Fragile fragile(*this);
  apply(input);
  board.settle(clock.moment);
  fragile.end();
}

void Machine::Impl::pull_reset() {
  Fragile fragile(*this);
  hold_reset();
  board.settle(clock.moment);
  fragile.end();
}

void Machine::Impl::schedule(Input input) {
  for (const Input& other : pending) {
    if (other.when == input.when) input.order = std::max(input.order, std::min(other.order + 1, kMostInputs));
  }
  pending.insert(std::lower_bound(pending.begin(), pending.end(), input, later_input), input);
  clock.set(kInputTimer, 0, pending.back().when);
}

Input Machine::Impl::parse_input(std::string_view chip, std::string_view value) const {
  Input input;
  if (chip == "RESET") {
    if (value != "pressed" && value != "released") {
      throw InputError(Fault{.id = "bad-input-value",
                             .what = "RESET cannot be set to that",
                             .expected = "pressed or released",
                             .found = fmt::format("\"{}\"", value)});
    }
    input.chip = Input::kReset;
    input.value = value == "pressed" ? 1 : 0;
    return input;
  }
  std::vector<std::string> names{"RESET"};
  const int wanted = spec.chip_named(chip);
  for (const auto& seat : seats) {
    if (!seat->type->input.empty()) names.push_back(seat->wiring.name);
    if (seat->wiring.chip != wanted) continue;
    if (seat->type->input.empty()) {
      throw InputError(Fault{.id = "no-input",
                             .what = fmt::format("a person cannot set {}", chip),
                             .expected = "a part with a knob or contact",
                             .found = fmt::format("{}, a {}", chip, seat->type->name),
                             .hint = "`prewire list` shows which parts take a value"});
    }
    const auto parsed = seat->chip->parse_input(value);
    if (!parsed) {
      throw InputError(Fault{.id = "bad-input-value",
                             .what = fmt::format("{} cannot be set to that", chip),
                             .expected = seat->type->input,
                             .found = fmt::format("\"{}\"", value)});
    }
    input.chip = seat->wiring.chip;
    input.value = *parsed;
    return input;
  }
  throw InputError(Fault{.id = "unknown-part",
                         .what = "no such part to set",
                         .expected = "a part of this machine that a person can set",
                         .found = fmt::format("\"{}\"", chip),
                         .hint = meant(chip, names, "")});
}

NetId Machine::Impl::find_net(std::string_view name, std::string* trouble) const {
  for (NetId net = 0; net < static_cast<NetId>(board.nets()); ++net) {
    if (board.net_name(net) == name) return net;
  }
  const auto dot = name.find('.');
  std::vector<std::string> candidates;
  for (std::size_t pin = 0; pin < pin_owner.size(); ++pin) {
    const std::string& pin_name = board.pin_name(static_cast<PinId>(pin));
    if (pin_name == name) return board.net(static_cast<PinId>(pin));
    if (trouble == nullptr) continue;
    if (dot == std::string_view::npos || pin_name.starts_with(name.substr(0, dot + 1))) candidates.push_back(pin_name);
  }
  // On a board the name alone will do, if there is one net of that name.
  for (const BoardSpec& on : spec.boards) {
    for (const auto& [connector, leads] : on.connectors) {
      if (on.name + "." + connector != name) continue;
      if (leads.pins.empty()) return find_net(leads.name, trouble);
      const PinRef pin = leads.pins.front();
      const Seat& at = pin.chip < 0 ? *cpu_seat : *seats[static_cast<std::size_t>(pin.chip)];
      return board.net(at.wiring.first_pin + pin.pin);
    }
  }
  NetId found = -1;
  const auto take = [&](NetId net) { found = found == -1 || found == net ? net : -2; };
  for (NetId net = 0; net < static_cast<NetId>(board.nets()); ++net) {
    if (spec.is_behind_board(board.net_name(net), name)) take(net);
  }
  for (std::size_t pin = 0; pin < pin_owner.size() && !spec.boards.empty(); ++pin) {
    const auto id = static_cast<PinId>(pin);
    if (spec.is_behind_board(board.pin_name(id), name)) take(board.net(id));
  }
  if (found >= 0) return found;
  if (trouble != nullptr) {
    *trouble = meant(name, candidates, "write a pin such as CPU.IRQ, or the label of a net");
  }
  return -1;
}

std::string Machine::Impl::net_list(NetId net) const {
  std::string text;
  for (PinId pin : board.pins(net)) {
    const Drive::Kind kind = board.driving(pin).kind;
    if (kind == Drive::Kind::release || kind == Drive::Kind::pull) continue;
    const char* how = kind == Drive::Kind::high ? "high" : kind == Drive::Kind::volts ? "a voltage" : "low";
    text += fmt::format("{}{} drives {}", text.empty() ? "" : ", ", board.pin_name(pin), how);
  }
  return text;
}

void Machine::Impl::on_register(std::size_t index, std::uint16_t value) {
  chronicle->done({.kind = Deed::Kind::set_register, .where = static_cast<std::uint16_t>(index), .value = value});
}

void Machine::Impl::on_net(NetId net, Stamp when) {
  watchers.tell(Observer::kNets,
                [&](Observer& observer) { observer.on_net(board.net_name(net), board.state(net), when); });
}

void Machine::Impl::on_contention(NetId net) {
  // Nets that contacts join are one, and so is what they have to say.
  const std::vector<NetId> joined = board.joined(net);
  const auto number = static_cast<std::uint64_t>(joined.front());
  findings.report("net-contention", Weight::stop, {.subject = number, .cause = number}, [&] {
    std::string who, rails;
    for (const NetId each : joined) {
      const std::string list = net_list(each);
      if (!list.empty()) who += fmt::format("{}{}", who.empty() ? "" : ", ", list);
      if (board.is_rail(each)) rails += fmt::format(" against the rail {}", board.net_name(each));
    }
    who += rails;
    if (joined.size() > 1) who += ", joined by closed contacts";
    return std::pair(fmt::format("drivers disagree on net {}: {}", board.net_name(net), who),
                     std::string("let only one output drive a net at a time; real outputs get hot or break"));
  });
}

void Machine::Impl::on_unsettled(NetId net) {
  // A ring of gates is one cause, whichever of its nets comes to notice first.
  findings.report("net-unsettled", Weight::stop, {.subject = static_cast<std::uint64_t>(net)}, [&] {
    return std::pair(fmt::format("net {} keeps changing within one moment and does not settle", board.net_name(net)),
                     std::string("look for a ring of gates that feeds itself"));
  });
}

// ---------------------------------------------------------------------------------------------------------------------
// Outside

Machine::Machine(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) { impl_->power_on(); }
Machine::Machine(Machine&&) noexcept = default;
Machine& Machine::operator=(Machine&&) noexcept = default;
Machine::~Machine() = default;

const std::string& Machine::title() const { return impl_->spec.title; }
const std::string& Machine::about() const { return impl_->spec.about; }
const std::vector<Fault>& Machine::remarks() const { return impl_->remarks; }

Cycle Machine::now() const { return impl_->clock.now; }
Stamp Machine::moment() const { return impl_->clock.moment; }
Stamp Machine::cycle_began() const { return impl_->clock.begin() - impl_->clock.stretch(); }
const Timebase& Machine::timebase() const { return impl_->timebase; }

Stop Machine::run_until(Cycle cycles) {
  constexpr Cycle kLast = Archive::kFar / 4;  // beyond that stamps would not be told any more
  Impl::Act act(*impl_, "Machine::run_until");
  const Stop stop = impl_->run(std::min(cycles, kLast), false);
  act.finish();
  return stop;
}
Stop Machine::run_for(Cycle cycles) {
  constexpr Cycle kEnd = std::numeric_limits<Cycle>::max();
  return run_until(cycles > kEnd - now() ? kEnd : now() + cycles);
}
Stop Machine::step_instruction() {
  constexpr Cycle kPatience = 1'000'000;
  Impl::Act act(*impl_, "Machine::step_instruction");
  const Stop stop = impl_->run(now() + kPatience, true);
  act.finish();
  return stop;
}
void Machine::heed(const StopFlag* flag) { impl_->cpu->heed(flag); }
bool Machine::nothing_due() const { return impl_->clock.next() >= Clock::kNever; }
void Machine::request_stop() { impl_->cpu->request_stop(); }

void Machine::reset() {
  Impl::Act act(*impl_, "Machine::reset");
  impl_->pull_reset();
  impl_->chronicle->done({.kind = Deed::Kind::reset});
  act.finish();
}

void Machine::power_cycle() { power_cycle(seed()); }
void Machine::power_cycle(std::uint64_t seed) {
  Impl::Act act(*impl_, "Machine::power_cycle", true);
  impl_->spec.seed = seed;
  impl_->bus.set_keeper(impl_->spec.keeper, seed);
  impl_->power_on();
  act.finish();
}
std::uint64_t Machine::seed() const { return impl_->spec.seed; }

Cpu& Machine::cpu() { return *impl_->cpu; }
const Cpu& Machine::cpu() const { return *impl_->cpu; }

std::uint8_t Machine::peek(std::uint16_t address) const { return impl_->bus.peek(address); }
bool Machine::poke(std::uint16_t address, std::uint8_t value) {
  Impl::Act act(*impl_, "Machine::poke");
  if (!impl_->bus.poke(address, value)) return false;
  impl_->bus.spare_none();  // there may be another instruction now
  impl_->chronicle->done({.kind = Deed::Kind::poke, .where = address, .value = value});
  return true;
}
ByteUse Machine::use(std::uint16_t address) const { return impl_->bus.use(address); }
std::vector<std::string> Machine::answering(std::uint16_t address) const { return impl_->bus.answering(address); }
std::uint8_t Machine::lines_at(std::uint16_t address) const { return impl_->bus.lines_at(address); }
void Machine::set_breakpoint(std::uint16_t address, bool on) { impl_->bus.set_breakpoint(address, on); }

std::vector<const Image*> Machine::programs() const {
  std::vector<const Image*> images;
  for (const ProgramSpec& program : impl_->spec.programs) images.push_back(&program.image);
  return images;
}

std::optional<SourcePlace> Machine::source_at(std::uint16_t address) const { return impl_->source_at(address); }
std::optional<SourcePlace> Machine::Impl::source_at(std::uint16_t address) const {
  for (const ProgramSpec& program : spec.programs) {
    const SourceMap* map = program.image.source.get();
    const SourceMap::Line* line = map == nullptr ? nullptr : map->at(address);
    if (line != nullptr) return SourcePlace{map, line};
  }
  return std::nullopt;
}

std::string Machine::Impl::source_of(std::uint16_t address) const {
  const auto place = source_at(address);
  return place ? to_string(*place) : std::string();
}

std::optional<std::uint16_t> Machine::address_of(std::string_view text) const {
  if (const auto address = parse_address(text)) return address;
  for (const ProgramSpec& program : impl_->spec.programs) {
    if (program.image.source == nullptr) continue;
    const SourceMap::Symbol* symbol = program.image.source->find(text);
    if (symbol == nullptr || symbol->kind == SourceMap::SymbolKind::macro) continue;
    return static_cast<std::uint16_t>(symbol->value);
  }
  return std::nullopt;
}

std::string_view Machine::label_at(std::uint16_t address) const {
  for (const ProgramSpec& program : impl_->spec.programs) {
    if (program.image.source == nullptr) continue;
    for (const SourceMap::Symbol& symbol : program.image.source->symbols) {
      if (symbol.kind == SourceMap::SymbolKind::label && symbol.value == address) return symbol.name;
    }
  }
  return {};
}

std::vector<ChipView> Machine::chips() const {
  std::vector<ChipView> views;
  for (std::size_t i = 0; i < impl_->seats.size(); ++i) {
    const Impl::Seat& seat = *impl_->seats[i];
    const ChipSpec& spec = impl_->spec.chips[i];
    ChipView view{seat.wiring.name, seat.type, seat.chip->lamps(), &spec.parameters};
    if (spec.at) {
      const Range mirror = spec.mirror.value_or(*spec.at);
      view.place = BusPlace{spec.at->first, spec.at->last, mirror.first, mirror.last, spec.bus};
    } else if (spec.wired) {
      view.place = impl_->selects->place_of(static_cast<int>(i));
    }
    if (spec.package >= 0) {
      const PackageSpec& package = impl_->spec.packages[static_cast<std::size_t>(spec.package)];
      view.package = package.name;
      view.package_type = package.type;
      view.unit = i - static_cast<std::size_t>(package.first);
    }
    views.push_back(view);
  }
  return views;
}

ChipView Machine::processor() const { return {impl_->cpu_seat->wiring.name, impl_->cpu_seat->type, {}}; }

std::vector<NetView> Machine::nets() const {
  std::vector<NetView> views;
  for (NetId net = 0; net < static_cast<NetId>(impl_->board.nets()); ++net) {
    NetView view{impl_->board.net_name(net), {}, impl_->board.is_rail(net), impl_->board.state(net)};
    bool named = false;
    for (PinId pin : impl_->board.pins(net)) {
      const auto [chip, index] = impl_->pin_owner[static_cast<std::size_t>(pin)];
      if (chip >= -1) view.pins.push_back({chip, index});
      named = named || (chip == -2 && pin != impl_->reset_pin && pin != impl_->button_pin);
    }
    if (view.rail || named || view.pins.size() > 1) views.push_back(std::move(view));
  }
  return views;
}

std::vector<std::string> Machine::selected_by(int chip) const {
  std::vector<std::string> names;
  if (impl_->selects == nullptr) return names;
  for (const PinRef gate : impl_->selects->logic().gates(chip)) names.push_back(impl_->spec.pin_name(gate));
  return names;
}

Blocked Machine::why_not(int chip, int pin) const {
  return chip < 0 ? Blocked{} : impl_->seats[static_cast<std::size_t>(chip)]->chip->why_not(pin);
}

Blocked Machine::why_steady(int chip, unsigned reg, std::uint8_t mask) const {
  return impl_->seats[static_cast<std::size_t>(chip)]->chip->why_steady(reg, mask);
}

std::optional<NetState> Machine::net(std::string_view name) const {
  const NetId net = impl_->find_net(name, nullptr);
  if (net < 0) return std::nullopt;
  return impl_->board.state(net);
}

std::string Machine::net_trouble(std::string_view name) const {
  std::string trouble;
  impl_->find_net(name, &trouble);
  return trouble;
}

void Machine::set(std::string_view chip, std::string_view value) {
  Impl::Act act(*impl_, "Machine::set");
  const Input input = impl_->parse_input(chip, value);
  impl_->carry_out(input);
  impl_->chronicle->done({.kind = Deed::Kind::input, .input = input});
  act.finish();
}

void Machine::schedule(std::string_view chip, std::string_view value, Stamp when) {
  Impl::Act act(*impl_, "Machine::schedule");
  Input input = impl_->parse_input(chip, value);
  input.when = std::clamp(when, moment(), Clock::kNever);
  impl_->schedule(input);
  impl_->chronicle->done({.kind = Deed::Kind::schedule, .input = input});
}

Snapshot Machine::save() const {
  Snapshot snapshot;
  save(snapshot);
  return snapshot;
}

void Machine::save(Snapshot& into) const {
  Impl::Act act(*impl_, "Machine::save");
  try {
    impl_->save(into.bytes_);
  } catch (...) {
    into.bytes_.clear();
    throw;
  }
}

void Machine::restore(const Snapshot& snapshot) {
  Impl::Act act(*impl_, "Machine::restore", true);
  std::uint64_t fingerprint = 0;
  if (snapshot.bytes_.size() >= sizeof fingerprint) {
    std::memcpy(&fingerprint, snapshot.bytes_.data(), sizeof fingerprint);
  }
  if (fingerprint != impl_->fingerprint) {
    throw InputError(Fault{.id = "foreign-snapshot",
                           .what = "this saved state belongs to another machine",
                           .expected = "a state saved by the same description",
                           .found = "another one",
                           .hint = "load the machine that saved it"});
  }
  std::vector<std::uint8_t>& present = impl_->before_restore;
  impl_->broken ? present.clear() : impl_->save(present);
  try {
    impl_->load(snapshot.bytes_);
  } catch (...) {
    impl_->load_if_possible(present);
    throw;
  }
  impl_->chronicle->forget();
}

void Machine::watch(Observer& observer) {
  impl_->busy ? impl_->watchers.add_later(observer) : impl_->watchers.add(observer);
}
void Machine::unwatch(Observer& observer) {
  impl_->busy ? impl_->watchers.remove_later(observer) : impl_->watchers.remove(observer);
}
const std::vector<Finding>& Machine::findings() const { return impl_->findings.list(); }
void Machine::report(std::string_view id, Weight weight, std::uint64_t subject, std::string_view message,
                     std::string_view hint) {
  report(id, weight, Occurrence{.subject = subject, .cause = subject}, message, hint);
}
void Machine::report(std::string_view id, Weight weight, const Occurrence& occurrence, std::string_view message,
                     std::string_view hint) {
  const auto report = [&] {
    impl_->findings.report(id, weight, occurrence, [&] { return std::pair(std::string(message), std::string(hint)); });
  };
  if (impl_->busy) return report();
  Impl::Act act(*impl_, "Machine::report", true);
  report();
  act.finish();
}
void Machine::conclude() {
  if (impl_->busy) return;
  Impl::Act act(*impl_, "Machine::conclude", true);
  impl_->bus.tell_doubts();
  act.finish();
}
void Machine::blame(std::size_t finding, Cycle since) { impl_->findings.blame(finding, since); }
void Machine::spare(std::uint16_t address) { impl_->bus.spare(address); }
void Machine::spare_none() { impl_->bus.spare_none(); }
void Machine::set_astray(std::int64_t finding) { impl_->findings.set_astray(finding); }
bool Machine::found(std::string_view id, std::uint64_t subject) const { return impl_->findings.found(id, subject); }

}  // namespace prewire
