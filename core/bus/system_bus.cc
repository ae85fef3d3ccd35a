#include "bus/system_bus.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <iterator>
#include <map>
#include <set>
#include <span>
#include <utility>

#include "bus/doubts.h"
#include "bus/mix.h"

namespace prewire {

SystemBus::SystemBus(Clock& clock, Findings& findings, std::function<std::uint16_t()> pc, Intents intent)
    : clock_(clock),
      findings_(findings),
      pc_(std::move(pc)),
      intent_(std::move(intent)),
      doubts_(std::make_unique<Doubts>()) {
  findings.before_report([this] { tell_doubts(); });
}

SystemBus::~SystemBus() = default;

void SystemBus::set_keeper(KeeperPolicy policy, std::uint64_t seed) {
  policy_ = policy;
  seed_ = seed;
}

void SystemBus::finish() {
  std::set<std::uint32_t> borders{0, 65536};  // where a window begins, or has ended
  for (const Placement& p : placements_) {
    if (p.wired) continue;
    borders.insert({p.first + 0U, p.last + 1U, p.mirror_first + 0U, p.mirror_last + 1U});
  }
  borders_.assign(borders.begin(), borders.end());
  auto map = std::make_unique<Map>();
  map->decode.resize(65536);
  for (auto border = borders.begin(); *border < 65536; ++border) {
    const std::uint32_t address = *border;
    Decode decode;
    for (std::size_t i = 0; i < placements_.size(); ++i) {
      const Placement& p = placements_[i];
      const bool home = address >= p.first && address <= p.last;
      if (p.wired || (!home && (address < p.mirror_first || address > p.mirror_last))) continue;
      Part part{.placement = static_cast<int>(i)};
      if (p.spec.reads) {
        part.drives[static_cast<std::size_t>(BusKind::read)] = p.spec.data_mask;
        part.drives[static_cast<std::size_t>(BusKind::vector)] = p.spec.data_mask;
      }
      if (p.spec.writes) part.takes = bit_of(BusKind::write);
      decode.parts.push_back(part);
    }
    std::fill(&map->decode[address], map->decode.data() + *std::next(border), number_of(std::move(decode)));
  }
  base_ = map->decode;
  known_.resize(kWired);
  image_.resize(kWired);
  maps_.push_back(std::move(map));
  decode_ = maps_[0]->decode.data();
  // Nothing is known of any byte yet.
  for (std::uint32_t address = 0; address < 65536; ++address) flat_.slow(address) = kSlowAll;
}

/// Chips that answer together have a number.
std::uint16_t SystemBus::number_of(Decode decode) {
  const auto [place, fresh] = numbers_.try_emplace(decode.parts, static_cast<std::uint16_t>(decodes_.size()));
  if (!fresh) return place->second;
  constexpr auto read = static_cast<std::size_t>(BusKind::read), write = static_cast<std::size_t>(BusKind::write);
  constexpr auto idle = static_cast<std::size_t>(BusKind::idle), vector = static_cast<std::size_t>(BusKind::vector);
  unsigned lines = 0;
  bool overlap = false, memory = true, ram = true, same = true;
  int readers = 0;
  for (const Part& part : decode.parts) {
    const bool reads = part.drives[read] != 0, writes = (part.takes & bit_of(BusKind::write)) != 0;
    overlap = overlap || (lines & part.drives[read]) != 0 || part.drives[write] != 0 ||
              (part.takes & bit_of(BusKind::read)) != 0;
    lines |= part.drives[read];
    if (reads) {
      ++readers;
      memory = memory && is_memory(part);
      ram = ram && of(part).spec.kind == BusSpec::Kind::ram;
    }
    same = same && reads && writes && part.cells[read] == part.cells[write];
    decode.idle = decode.idle || part.drives[idle] != 0 || (part.takes & bit_of(BusKind::idle)) != 0;
    const bool vectors = (part.takes & bit_of(BusKind::vector)) != 0;
    if (part.drives[vector] != part.drives[read] || vectors || part.cells[vector] != part.cells[read])
      own_vectors_ = true;
  }
  const bool whole = readers > 0 && !overlap && lines == 0xFF && memory;
  decode.plain_ram = whole && ram && same;
  decode.plain_rom = whole && !ram && readers == 1;
  decode.plain = (whole && ram) || decode.plain_rom;
  if (decode.idle) flat_.hear_idle();

  Sole sole;
  if (decode.parts.size() == 1 && !is_memory(decode.parts[0])) {
    const Part& part = decode.parts[0];
    const Placement& p = of(part);
    const WiredPlace* wires = this->wires(part);
    const bool straight = wires == nullptr || (wires->straight() && cells_[part.cells[read]].plain(p.spec.size) &&
                                               part.cells[read] == part.cells[write]);
    if (straight && part.drives[read] == 0xFF && part.drives[write] == 0 && part.takes == bit_of(BusKind::write) &&
        part.stale == 0) {
      sole = {p.device, p.spec.size - 1U};
    }
  }
  soles_.push_back(sole);
  decodes_.push_back(std::move(decode));
  return place->second;
}

void SystemBus::watch_fetches(Fetches which) {
  if (which == watched_) return;
  watched_ = which;
  mark_fetches();
}

void SystemBus::mark_fetches() {
  // All alike first, eight at a time: each state that is kept on the way comes here twice.
  constexpr std::uint64_t kEach = 0x0101010101010101;
  std::uint8_t* const bytes = &flat_.slow(0);
  for (std::size_t i = 0; i < 65536; i += sizeof(std::uint64_t)) {
    std::uint64_t word = 0;
    std::memcpy(&word, bytes + i, sizeof word);
    word &= ~(kEach * kWatchedFetch);
    if (watched_ != Fetches::none) word |= kEach * kWatchedFetch;
    std::memcpy(bytes + i, &word, sizeof word);
  }
  if (watched_ != Fetches::fresh) return;
  for (const std::uint16_t address : spares_) flat_.slow(address) &= static_cast<std::uint8_t>(~kWatchedFetch);
}

void SystemBus::spare(std::uint16_t address) {
  if (spared_.empty()) spared_.resize(65536);
  if (spared_[address] != 0) return;
  spared_[address] = 1;
  spares_.push_back(address);
  if (watched_ == Fetches::fresh) flat_.slow(address) &= static_cast<std::uint8_t>(~kWatchedFetch);
}

void SystemBus::spare_none() {
  for (const std::uint16_t address : spares_) {
    spared_[address] = 0;
    if (watched_ == Fetches::fresh) flat_.slow(address) |= kWatchedFetch;
  }
  spares_.clear();
}

std::uint32_t SystemBus::reg(const Part& part, BusKind kind, std::uint16_t address) const {
  const Placement& p = of(part);
  const std::uint32_t seen = p.wired ? cells_[part.cells[static_cast<std::size_t>(kind)]].at(address) : address;
  return seen & (p.spec.size - 1);
}

std::uint32_t SystemBus::cell(const Part& part, BusKind kind, std::uint16_t address) const {
  const Placement& p = of(part);
  if (p.wired) return kWired + bank_of(part).first + reg(part, kind, address);
  return static_cast<std::uint16_t>(cell_of(p.first, p.spec.size, address));
}

std::uint8_t& SystemBus::byte(std::uint32_t cell) {
  const std::int32_t at = home(cell);
  return at >= 0 ? flat_.cell(static_cast<std::uint32_t>(at)) : hidden_[cell - kWired];
}

void SystemBus::refresh(std::uint16_t address) {
  const Decode& decode = decodes_[decode_[address]];
  std::uint8_t slow = kSlowAll;
  if (decode.plain) {
    bool at_home = true;
    unsigned all = kLoaded | kPoked | kWritten | kRead | kExecuted, any = 0;
    bool sure = true;
    for (const Part& part : decode.parts) {
      if (part.drives[0] == 0) continue;
      const std::uint32_t where = cell(part, BusKind::read, address);
      at_home = at_home && home(where) == address;
      const std::uint8_t known = known_[where];
      all &= known;
      any |= known;
      sure = sure && (decode.plain_rom || (known & (kLoaded | kPoked | kWritten)) != 0);
    }
    if (at_home) {
      if (sure && (all & kExecuted)) slow &= ~kSlowFetch;
      if (sure && (all & kRead)) slow &= ~kSlowRead;
      if (decode.plain_ram && (all & kWritten)) slow &= ~kSlowWrite;
      if (any & kDoubted) slow = kSlowAll;
    }
  }
  if (breakpoint(address)) slow |= kSlowFetch;
  if (decode.idle) slow |= kSlowIdle;
  flat_.slow(address) = slow | watched(address);
}

void SystemBus::refresh_cell(std::uint32_t cell) {
  const std::int32_t at = home(cell);
  if (at >= 0)
    refresh(static_cast<std::uint16_t>(at));
  else
    set_aside_[cell - kWired] = kAnew;
}

void SystemBus::load(std::uint16_t address, std::uint8_t value) {
  for (const auto& map : maps_) {
    if (has_memory(*map, address)) return load_into(*map, address, value);
  }
}

bool SystemBus::has_memory(const Map& map, std::uint16_t address) const {
  const std::vector<Part>& parts = decodes_[map.decode[address]].parts;
  return std::any_of(parts.begin(), parts.end(), [&](const Part& part) { return is_memory(part); });
}

void SystemBus::load_into(const Map& map, std::uint16_t address, std::uint8_t value) {
  for (const Part& part : decodes_[map.decode[address]].parts) {
    if (!is_memory(part)) continue;
    const Placement& p = of(part);
    const WiredPlace* wires = this->wires(part);
    std::uint32_t where = cell(part, part.drives[0] != 0 ? BusKind::read : BusKind::write, address);
    std::uint8_t lines = p.spec.data_mask, bits = value;
    if (wires != nullptr) lines = wires->lines();
    if (wires != nullptr && p.spec.kind == BusSpec::Kind::rom) {
      // It was programmed with its pins in their own order.
      where = kWired + bank_of(part).first + (address & (p.spec.size - 1));
      bits = wires->to_bus(value);
    }
    image_[where] = static_cast<std::uint8_t>((image_[where] & ~lines) | (bits & lines));
    known_[where] |= kLoaded;
  }
}

void SystemBus::power_on() {
  forget_held();
  holding_ = false;
  open_fetch_ = {};
  doubts_->clear();
  changed_.clear();
  const auto fill = [&](const Placement& p, std::uint32_t where, std::uint16_t noise, std::uint8_t lines) {
    std::uint8_t value = 0xFF;  // an erased ROM
    if (p.spec.kind == BusSpec::Kind::ram) {
      if (p.power_up == PowerUp::zeros) value = 0;
      if (p.power_up == PowerUp::random) value = static_cast<std::uint8_t>(mix(seed_, noise) >> 56);
      known_[where] &= kLoaded;
    } else {
      known_[where] &= kLoaded | kRead | kExecuted;
    }
    if (known_[where] & kLoaded) value = image_[where];
    std::uint8_t& cell = byte(where);
    cell = static_cast<std::uint8_t>((cell & ~lines) | (value & lines));
    refresh_cell(where);
  };
  for (const Placement& p : placements_) {
    if (p.device != nullptr || p.wired) continue;
    for (std::uint32_t address = p.first; address <= p.last; ++address) {
      fill(p, address, static_cast<std::uint16_t>(address), p.spec.data_mask);
    }
  }
  for (const Bank& bank : banks_) {
    for (std::uint32_t i = bank.first; i < bank.first + bank.size; ++i) {
      fill(placements_[static_cast<std::size_t>(bank.placement)], kWired + i, noise_[i], bank.lines.lines());
    }
  }
  patched_rom_ = false;
}

std::uint8_t SystemBus::keeper(std::uint8_t kept, Cycle when) const {
  switch (policy_) {
    case KeeperPolicy::last: return kept;
    case KeeperPolicy::ones: return 0xFF;
    case KeeperPolicy::seeded: return static_cast<std::uint8_t>(mix(seed_, static_cast<std::uint64_t>(when)) >> 56);
  }
  return kept;
}

SystemBus::Result SystemBus::read_any(const Decode& decode, std::uint16_t address, Access access, std::uint8_t kept) {
  const BusKind kind = access == Access::idle     ? BusKind::idle
                       : access == Access::vector ? BusKind::vector
                                                  : BusKind::read;
  const bool ignored = access == Access::ignored || access == Access::idle;
  unsigned driven = 0, contended = 0;
  std::uint8_t value = 0xFF;
  bool taken = false;
  for (const Part& part : decode.parts) {
    taken = taken || (part.takes & bit_of(kind)) != 0;
    const std::uint8_t lines = part.drives[static_cast<std::size_t>(kind)];
    if (lines == 0) continue;
    const Placement& p = of(part);
    std::uint8_t answer;
    if (p.device != nullptr) {
      answer = p.device->read(reg(part, kind, address));
      if (const WiredPlace* wires = this->wires(part)) answer = wires->to_bus(answer);
    } else {
      const std::uint32_t where = cell(part, kind, address);
      answer = byte(where);
      const bool unsure = p.spec.kind == BusSpec::Kind::ram && (known_[where] & (kLoaded | kPoked | kWritten)) == 0;
      if (unsure && !ignored) {
        if (access != Access::fetch) {
          unwritten_read(where, address);
        } else {
          // A program that has left its code is one case.
          findings_.report("uninitialised-fetch", Weight::warn,
                           {.subject = address_of(where, address), .address = true}, [&] {
                             return std::pair(fmt::format("opcode fetched from ${:04X} of {}, which nobody has written "
                                                          "since power-on",
                                                          address, p.name),
                                              std::string("the program has left its code: look at the jump or return "
                                                          "before this"));
                           });
        }
      } else if ((known_[where] & kDoubted) && (access == Access::read || access == Access::vector)) {
        read_doubted(where);
      }
      if (!ignored || (!unsure && access == Access::ignored)) {
        known_[where] |= access == Access::fetch ? kExecuted : kRead;
        refresh_cell(where);
        if (home(where) != address) refresh(address);
      }
    }
    contended |= driven & lines;
    driven |= lines;
    // Where two chips disagree the low one wins: TTL and NMOS outputs sink harder than they source.
    value &= static_cast<std::uint8_t>(answer | ~lines);
  }
  holding_ = false;  // others answer, too
  if (contended != 0) note_contention(decode, kind, address);

  const std::uint8_t held = access == Access::idle ? kept : keeper(kept, clock_.now);
  const auto shown = static_cast<std::uint8_t>((value & driven) | (held & ~driven));
  if (taken) [[unlikely]]
    snoop(decode, kind, address, shown, kept);
  if (driven == 0xFF) return {value, true};
  if (access == Access::fetch) open_fetch_ = {address, shown, clock_.now};
  if (ignored) return {shown, false};
  if (driven == 0) {
    if (access != Access::fetch) {
      nobody(address, false, held);
    } else {
      report_undriven(address, held, in_window(address));
    }
    return {held, false};
  }
  findings_.report("undriven-lines", Weight::warn, in_window(address), [&] {
    const unsigned open = ~driven & 0xFF;
    std::string names;
    for (int bit = 7; bit >= 0; --bit) {
      if (open >> bit & 1) names += fmt::format("{}D{}", names.empty() ? "" : ", ", bit);
    }
    return std::pair(
        fmt::format("read from ${:04X}: nobody drives {}; the bus shows ${:02X} there", address, names, held & open),
        std::string("a memory that is four bits wide needs a second chip on the other data lines; else look for a wire "
                    "that is missing"));
  });
  return {shown, false};
}

/// Chips that take what is on the bus although nobody writes.
void SystemBus::snoop(const Decode& decode, BusKind kind, std::uint16_t address, std::uint8_t byte, std::uint8_t kept) {
  for (const Part& part : decode.parts) {
    if ((part.takes & bit_of(kind)) != 0) take(part, kind, address, byte, kept);
  }
}

void SystemBus::take(const Part& part, BusKind kind, std::uint16_t address, std::uint8_t byte, std::uint8_t kept) {
  const Placement& p = of(part);
  const WiredPlace* wires = this->wires(part);
  if ((part.stale & bit_of(kind)) != 0) byte = kept;
  if (p.device != nullptr) {
    p.device->write(reg(part, kind, address), wires == nullptr ? byte : wires->from_bus(byte));
  } else if (p.spec.kind == BusSpec::Kind::ram) {
    store(cell(part, kind, address), wires == nullptr ? p.spec.data_mask : wires->lines(), byte);
  }
}

void SystemBus::store(std::uint32_t where, std::uint8_t lines, std::uint8_t value) {
  std::uint8_t& cell = byte(where);
  const std::int32_t at = home(where);
  if (!overwritten_.any && at >= 0) overwritten_ = {true, static_cast<std::uint16_t>(at), cell};
  cell = static_cast<std::uint8_t>((cell & ~lines) | (value & lines));
  known_[where] |= kWritten;
  if (known_[where] & kDoubted) write_doubted(where, value);
  refresh_cell(where);
}

void SystemBus::report_unwritten(std::uint16_t address, Occurrence occurrence) {
  findings_.report("uninitialised-read", Weight::warn, occurrence, [&] {
    return std::pair(
        fmt::format("read from ${:04X} of {}, which nobody has written since power-on", address, memory_name(address)),
        std::string("store a value there before the program uses it"));
  });
}

void SystemBus::report_undriven(std::uint16_t address, std::uint8_t shown, Occurrence occurrence) {
  findings_.report("undriven-read", Weight::warn, occurrence, [&] {
    const Decode& decode = decodes_[decode_[address]];
    const std::string who =
        decode.parts.empty() ? "no chip answers there" : of(decode.parts[0]).name + " cannot be read there";
    return std::pair(fmt::format("read from ${:04X}: {}; the bus shows ${:02X}", address, who, shown),
                     std::string("compare the address with the map: `prewire check --map` lists it"));
  });
}

void SystemBus::report_untaken(std::uint16_t address, std::uint8_t value, Occurrence occurrence) {
  const Decode& decode = decodes_[decode_[address]];
  const bool rom = std::any_of(decode.parts.begin(), decode.parts.end(),
                               [&](const Part& part) { return of(part).spec.kind == BusSpec::Kind::rom; });
  findings_.report(rom ? "rom-write" : "unmapped-write", Weight::warn, occurrence, [&] {
    const std::string what =
        decode.parts.empty() ? "no chip answers there" : of(decode.parts[0]).name + " cannot be written";
    return std::pair(fmt::format("${:02X} written to ${:04X}: {}", value, address, what),
                     std::string(rom ? "the store has no effect; is the pointer or the address off?"
                                     : "compare the address with the map: `prewire check --map` lists it"));
  });
}

/// The program has read a byte that nobody has written. Whether it matters may show later.
void SystemBus::unwritten_read(std::uint32_t cell, std::uint16_t address) {
  const std::uint16_t pc = pc_();
  // A loop that reads many is one case.
  const Occurrence now{.subject = address_of(cell, address), .cause = pc, .address = true};
  decide_old();
  if (Doubt* doubt = doubts_->find(Doubt::unwritten, cell)) {
    ++doubt->reads;
    if (findings_.told_early(doubt->read)) report_unwritten(address, now);
    return;
  }
  const auto& list = doubts_->list();
  const bool second = !list.empty() && list.back().read == clock_.now - 1 && list.back().read_pc == pc &&
                      list.back().address == static_cast<std::uint16_t>(address - 1);
  const Intent intent = intent_(address, second);
  if (intent.frame || intent.verifies) return;
  if (intent.modifies || (known_[cell] & kRead)) return report_unwritten(address, now);
  make_room();
  Doubt& doubt = doubts_->open(Doubt::unwritten, address, cell);
  doubt.read = clock_.now;
  doubt.read_pc = pc;
  doubt.reads = 1;
  doubt.old = byte(cell);
  doubt.has_mark = intent.mark.has_value() ? 1 : 0;
  doubt.mark = intent.mark.value_or(0);
  known_[cell] |= kDoubted;
  if (cell >= kWired) refresh_cell(cell);
  if (findings_.astray()) tell_doubts();
}

void SystemBus::write_doubted(std::uint32_t cell, std::uint8_t value) {
  decide_old();
  Doubt* doubt = doubts_->find(Doubt::unwritten, cell);
  if (doubt == nullptr) return;
  const Doubts::Verdict verdict = Doubts::wrote(*doubt, pc_(), value, clock_.now);
  if (verdict == Doubts::Verdict::open) return;
  close(*doubt);
  // What is put back is still nothing that the program has made.
  if (verdict == Doubts::Verdict::put_back) known_[cell] &= static_cast<std::uint8_t>(~(kWritten | kRead));
}

void SystemBus::read_doubted(std::uint32_t cell) {
  decide_old();
  if (Doubt* doubt = doubts_->find(Doubt::unwritten, cell)) Doubts::looked(*doubt, pc_());
  // Where a ROM keeps what it has.
  if (Doubt* doubt = doubts_->find(Doubt::nobody, cell)) Doubts::looked(*doubt, pc_());
}

/// An access with an index where nobody answers, or takes what is written: a test for memory ends like this.
void SystemBus::nobody(std::uint16_t address, bool write, std::uint8_t value) {
  const auto report = [&] {
    Occurrence now = in_window(address);
    write ? report_untaken(address, value, now) : report_undriven(address, value, now);
  };
  decide_old();
  // A ROM may show the address several times.
  std::uint32_t where = address;
  for (const Part& part : decodes_[decode_[address]].parts) {
    if (is_memory(part)) where = cell(part, BusKind::read, address);
  }
  const std::uint16_t pc = pc_();
  Doubt* doubt = doubts_->find(Doubt::nobody, where);
  if (doubt == nullptr) {
    if (!intent_(address, false).probes || doubts_->goes_on(pc)) return report();
    make_room();
    doubt = &doubts_->open(Doubt::nobody, address, where);
    mark(*doubt, true);
  }
  const bool told = findings_.told_early(write ? doubt->written : doubt->read);
  const Doubts::Verdict verdict = Doubts::tried(*doubt, pc, write, value, clock_.now);
  if (told) report();
  if (verdict == Doubts::Verdict::fault || findings_.astray()) tell_doubts();
  if (verdict == Doubts::Verdict::fault) close(*doubt);
}

bool SystemBus::is_ram(std::uint16_t address, std::uint32_t where) const {
  const std::vector<Part>& parts = decodes_[decode_[address]].parts;
  return std::any_of(parts.begin(), parts.end(), [&](const Part& part) {
    return of(part).spec.kind == BusSpec::Kind::ram && cell(part, BusKind::read, address) == where;
  });
}

void SystemBus::mark(const Doubt& doubt, bool doubted) {
  const auto set = [&](std::uint32_t where) {
    std::uint8_t& known = known_[where];
    known = static_cast<std::uint8_t>(doubted ? known | kDoubted : known & ~kDoubted);
    refresh_cell(where);
  };
  // Another map may be in force by now.
  if (doubt.cell >= kWired) return set(doubt.cell);
  for (const Part& part : decodes_[decode_[doubt.address]].parts) {
    if (is_memory(part) && !of(part).wired) set(cell(part, BusKind::read, doubt.address));
  }
}

void SystemBus::close(const Doubt& doubt) {
  findings_.decided(doubt.read);
  findings_.decided(doubt.written);
  const Doubt over = doubt;
  doubts_->close(doubt);
  mark(over, false);
}

void SystemBus::make_room() {
  if (doubts_->list().size() < Doubts::kMost) return;
  tell_doubts();
  close(doubts_->list().front());
}

/// What has not become clear by now was no test.
void SystemBus::decide_old() {
  const auto& list = doubts_->list();
  for (std::size_t i = list.size(); i-- > 0;) {
    if (list[i].answered() && clock_.now - list[i].last > Doubts::kAfter) close(list[i]);
  }
  while (!doubts_->empty() && clock_.now - doubts_->list().front().since() > Doubts::kLongest) {
    tell_old_doubts();
    close(doubts_->list().front());
  }
}

void SystemBus::tell_old_doubts() {
  if (!doubts_->empty()) tell_doubts(clock_.now - Doubts::kLongest);
}

void SystemBus::tell_doubts(Cycle until) {
  if (telling_ || findings_.muted()) return;
  telling_ = true;
  // Observers that are told of a finding may report more.
  for (std::size_t i = 0; i < doubts_->list().size(); ++i) {
    const Doubt doubt = doubts_->list()[i];
    if (doubt.since() <= until && !doubt.answered()) tell(doubt);
  }
  telling_ = false;
}

void SystemBus::tell(const Doubt& doubt) {
  const auto each = [&](Cycle since, std::uint16_t pc, std::uint32_t times, auto report) {
    if (since < 0 || findings_.told_early(since)) return;
    findings_.tell_early(since);
    Occurrence then = in_window(doubt.address);
    if (doubt.kind == Doubt::unwritten)
      then = {.subject = address_of(doubt.cell, doubt.address), .cause = pc, .address = true};
    then.since = since;
    then.pc = pc;
    for (std::uint32_t i = 0; i < times; ++i) report(then);
  };
  if (doubt.kind == Doubt::unwritten) {
    each(doubt.read, doubt.read_pc, doubt.reads,
         [&](const Occurrence& then) { report_unwritten(doubt.address, then); });
    return;
  }
  const auto reads = [&] {
    each(doubt.read, doubt.read_pc, doubt.reads,
         [&](const Occurrence& then) { report_undriven(doubt.address, doubt.old, then); });
  };
  if (doubt.since() == doubt.read) reads();
  each(doubt.written, doubt.write_pc, doubt.writes,
       [&](const Occurrence& then) { report_untaken(doubt.address, doubt.value, then); });
  reads();
}

/// All that is missing, or should not be written, between two borders of the map is one case.
Occurrence SystemBus::in_window(std::uint16_t address) const {
  const auto after = std::upper_bound(borders_.begin(), borders_.end(), std::uint32_t{address});
  return {.subject = address, .cause = *std::prev(after), .address = true};
}

void SystemBus::note_contention(const Decode& decode, BusKind kind, std::uint16_t address) {
  findings_.report("bus-contention", Weight::stop, {.subject = decode_[address], .cause = decode_[address]}, [&] {
    const bool write = kind == BusKind::write;
    std::string names = write ? "CPU" : "";
    bool wired = false;
    for (const Part& part : decode.parts) {
      if (part.drives[static_cast<std::size_t>(kind)] == 0) continue;
      names += (names.empty() ? "" : " and ") + of(part).name;
      wired = wired || of(part).wired;
    }
    const std::string_view how = write                   ? "written to"
                                 : kind == BusKind::idle ? "a cycle without VMA, with"
                                                         : "read from";
    const std::string hint = write
                                 ? "let R/W have a say in the select or at the output enable: such a chip may drive in "
                                   "reads only"
                             : wired ? "`prewire check --map` shows by which gates each of them is selected there"
                                     : "give each chip addresses of its own";
    return std::pair(fmt::format("{} drive the data bus at the same time ({} ${:04X})", names, how, address), hint);
  });
}

std::uint8_t SystemBus::write_any(const Decode& decode, std::uint16_t address, std::uint8_t value, std::uint8_t kept) {
  constexpr auto kWrite = static_cast<std::size_t>(BusKind::write);
  bool taken = false, rom = false, fights = false;
  for (const Part& part : decode.parts) {
    rom = rom || (!of(part).wired && of(part).spec.kind == BusSpec::Kind::rom);
    const std::uint8_t lines = part.drives[kWrite];
    if (lines == 0) continue;
    fights = true;
    std::uint8_t answer = 0;
    if (is_memory(part)) {
      answer = byte(cell(part, BusKind::write, address));
    } else {
      answer = of(part).device->read(reg(part, BusKind::write, address));
      if (const WiredPlace* wires = this->wires(part)) answer = wires->to_bus(answer);
    }
    value &= static_cast<std::uint8_t>(answer | ~lines);
  }
  holding_ = false;
  if (fights) note_contention(decode, BusKind::write, address);
  for (const Part& part : decode.parts) {
    if ((part.takes & bit_of(BusKind::write)) == 0) continue;
    const Placement& p = of(part);
    if (p.spec.kind == BusSpec::Kind::rom) continue;
    taken = true;
    if (rom && p.device == nullptr && !p.wired) continue;  // the cell belongs to the ROM that overlaps
    take(part, BusKind::write, address, value, kept);
  }
  if (!taken && !fights) nobody(address, true, value);
  return value;
}

/// The byte stands in the flat store like a byte of memory, and only reading it is fast.
void SystemBus::hold(const Chip* device, std::uint16_t address, std::uint8_t value) {
  holding_ = false;
  // A run that stops within an instruction finds there what its cycles have read: no byte may have changed since.
  if (clock_.mark() - dropped_ < static_cast<Cycle>(kTrail)) return;
  // Dead cycles that read a chip are looked at one by one; see `kDeadReads`.
  if (address == kDeadAddress) return;
  flat_.cell(address) = value;
  flat_.slow(address) &= static_cast<std::uint8_t>(~kSlowRead);
  held_.push_back({address, device});
}

void SystemBus::drop_held(const Chip* device) {
  dropped_ = clock_.mark();
  std::erase_if(held_, [&](const Held& held) {
    if (held.device == device) flat_.slow(held.address) |= kSlowRead;
    return held.device == device;
  });
}

void SystemBus::forget_held() {
  for (const Held& held : held_) flat_.slow(held.address) |= kSlowRead;
  held_.clear();
  dropped_ = kLongAgo;
}

std::uint8_t SystemBus::peek(std::uint16_t address) const {
  const Decode& decode = decodes_[decode_[address]];
  if ((decode.plain_ram || decode.plain_rom) && decode.parts.size() == 1) {
    const Part& only = decode.parts[0];
    if (only.drives[0] == 0xFF && !of(only).wired) return flat_.cell(cell(only, BusKind::read, address));
  }
  std::uint8_t value = 0xFF;
  for (const Part& part : decode.parts) {
    const std::uint8_t lines = part.drives[0];
    if (lines == 0) continue;
    std::uint8_t answer = 0;
    if (is_memory(part)) {
      answer = byte(cell(part, BusKind::read, address));
    } else {
      answer = of(part).device->peek(reg(part, BusKind::read, address));
      if (const WiredPlace* wires = this->wires(part)) answer = wires->to_bus(answer);
    }
    value &= static_cast<std::uint8_t>(answer | ~lines);
  }
  return value;
}

std::uint8_t SystemBus::lines_at(std::uint16_t address) const {
  unsigned lines = 0;
  for (const Part& part : decodes_[decode_[address]].parts) lines |= part.drives[0];
  return static_cast<std::uint8_t>(lines);
}

std::uint8_t SystemBus::readable(std::uint16_t address, std::uint8_t kept, Cycle when) const {
  const unsigned driven = lines_at(address);
  return static_cast<std::uint8_t>((peek(address) & driven) | (keeper(kept, when) & ~driven));
}

bool SystemBus::poke(std::uint16_t address, std::uint8_t value) {
  bool held = false;
  for (const Part& part : decodes_[decode_[address]].parts) {
    if (!is_memory(part)) continue;
    const Placement& p = of(part);
    const WiredPlace* wires = this->wires(part);
    const std::uint32_t where = cell(part, part.drives[0] != 0 ? BusKind::read : BusKind::write, address);
    const std::uint8_t lines = wires == nullptr ? p.spec.data_mask : wires->lines();
    std::uint8_t& cell = byte(where);
    cell = static_cast<std::uint8_t>((cell & ~lines) | (value & lines));
    if (p.spec.kind == BusSpec::Kind::rom) patched_rom_ = true;
    known_[where] |= kPoked;
    refresh_cell(where);
    held = true;
  }
  return held;
}

ByteUse SystemBus::use(std::uint16_t address) const {
  ByteUse use;
  for (const Part& part : decodes_[decode_[address]].parts) {
    if (!is_memory(part)) continue;
    const std::uint8_t known = known_[cell(part, BusKind::read, address)];
    use.loaded = use.loaded || (known & (kLoaded | kPoked));
    use.written = use.written || (known & kWritten);
    use.read = use.read || (known & kRead);
    use.executed = use.executed || (known & kExecuted);
  }
  return use;
}

std::vector<std::string> SystemBus::answering(std::uint16_t address) const {
  std::vector<std::string> names;
  for (const Part& part : decodes_[decode_[address]].parts) {
    const bool answers = !of(part).wired || part.drives[0] != 0 || (part.takes & bit_of(BusKind::write)) != 0;
    if (answers) names.push_back(of(part).name);
  }
  return names;
}

void SystemBus::set_breakpoint(std::uint16_t address, bool on) {
  std::erase(breaks_, address);
  if (on) breaks_.push_back(address);
  refresh(address);
}

namespace {

/// Those that stand in any of the bytes. Eight at a time: a state is loaded in less than a microsecond.
std::uint8_t all_bits(std::span<const std::uint8_t> bytes) {
  std::uint64_t words = 0, word = 0;
  for (; bytes.size() >= sizeof word; bytes = bytes.subspan(sizeof word)) {
    std::memcpy(&word, bytes.data(), sizeof word);
    words |= word;
  }
  std::uint8_t all = 0;
  for (const std::uint8_t byte : bytes) all |= byte;
  for (; words != 0; words >>= 8) all |= static_cast<std::uint8_t>(words);
  return all;
}

}  // namespace

void SystemBus::archive(Archive& archive) {
  if (archive.loading()) forget_held();
  holding_ = false;
  const Fetches watched = watched_;  // by others, who are no part of the state
  watch_fetches(Fetches::none);
  if (flat_.idle_heard()) mark_idle(false);
  const bool was_patched = patched_rom_;
  archive(patched_rom_);
  for (const Placement& p : placements_) {
    if (p.device != nullptr || p.wired) continue;
    const std::size_t size = std::size_t{p.last} - p.first + 1;
    if (p.spec.kind == BusSpec::Kind::ram) {
      archive.bytes(&flat_.cell(p.first), size);
      archive.bytes(&known_[p.first], size);
      archive.bytes(&flat_.slow(p.first), size);
      if (archive.loading()) archive.require(all_bits({&flat_.slow(p.first), size}) <= kSlowAll);
    } else if (patched_rom_) {
      archive.bytes(&flat_.cell(p.first), size);
    } else if (archive.loading() && was_patched) {
      for (std::uint32_t at = p.first; at <= p.last; ++at) flat_.cell(at) = (known_[at] & kLoaded) ? image_[at] : 0xFF;
    }
  }
  for (const Bank& bank : banks_) archive_bank(archive, bank, was_patched);
  doubts_->archive(archive);
  if (archive.loading()) {
    changed_.clear();
    for (const Doubt& doubt : doubts_->list()) {
      const bool wired = doubt.cell >= kWired;
      archive.require(wired ? doubt.cell - kWired < hidden_.size()
                            : doubt.kind == Doubt::nobody || is_ram(doubt.address, doubt.cell));
      mark(doubt, true);
    }
  }
  if (flat_.idle_heard()) mark_idle(true);
  watch_fetches(watched);
  // Breakpoints belong to who debugs, not to the machine: keep today's. One that is gone leaves a slow fetch, the next.
  if (!archive.loading()) return;
  for (const std::uint16_t address : breaks_) refresh(address);
}

}  // namespace prewire
