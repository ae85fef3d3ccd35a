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

void SystemBus::place(Placement placement) { placements_.push_back(std::move(placement)); }

void SystemBus::set_keeper(KeeperPolicy policy, std::uint64_t seed) {
  policy_ = policy;
  seed_ = seed;
}

void SystemBus::finish() {
  decodes_.assign(1, Decode{});  // nobody answers
  std::map<std::vector<int>, std::uint8_t> known_sets{{{}, 0}};
  std::set<std::uint32_t> borders{0, 65536};  // where a window begins, or has ended
  for (const Placement& p : placements_) {
    borders.insert({p.first + 0U, p.last + 1U, p.mirror_first + 0U, p.mirror_last + 1U});
  }
  borders_.assign(borders.begin(), borders.end());
  for (auto border = borders.begin(); *border < 65536; ++border) {
    const std::uint32_t address = *border;
    std::vector<int> set;
    for (std::size_t i = 0; i < placements_.size(); ++i) {
      const Placement& p = placements_[i];
      if ((address >= p.first && address <= p.last) || (address >= p.mirror_first && address <= p.mirror_last)) {
        set.push_back(static_cast<int>(i));
      }
    }
    // At most 255 different sets: the map of a board with a few dozen chips has far fewer.
    const auto [place, fresh] = known_sets.try_emplace(set, static_cast<std::uint8_t>(decodes_.size()));
    std::fill(&decode_[address], decode_.data() + *std::next(border), place->second);
    if (!fresh) continue;
    Decode decode;
    decode.placements = set;
    unsigned lines = 0;
    bool memory = true, ram = true, overlap = false;
    for (int i : set) {
      const Placement& p = placements_[i];
      overlap = overlap || (lines & p.spec.data_mask) != 0;
      lines |= p.spec.data_mask;
      memory = memory && p.device == nullptr;
      ram = ram && p.spec.kind == BusSpec::Kind::ram;
    }
    if (set.size() == 1 && !memory && lines == 0xFF && placements_[set[0]].spec.reads &&
        placements_[set[0]].spec.writes) {
      soles_[decodes_.size()] = {placements_[set[0]].device, placements_[set[0]].spec.size - 1U};
    }
    decode.plain_ram = memory && ram && !overlap && lines == 0xFF;
    decode.plain_rom = memory && !ram && set.size() == 1 && lines == 0xFF;
    decodes_.push_back(decode);
  }
  // Nothing is known of any byte yet.
  for (std::uint32_t address = 0; address < 65536; ++address) flat_.slow(address) = kSlowAll;
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

std::uint16_t SystemBus::cell(const Placement& placement, std::uint16_t address) const {
  return static_cast<std::uint16_t>(cell_of(placement.first, placement.spec.size, address));
}

void SystemBus::refresh(std::uint16_t address) {
  const Decode& decode = decodes_[decode_[address]];
  std::uint8_t slow = kSlowAll;
  const std::uint8_t known = known_[address];
  bool at_home = true;
  for (int i : decode.placements) at_home = at_home && cell(placements_[i], address) == address;
  if ((decode.plain_ram || decode.plain_rom) && at_home) {
    const bool sure = decode.plain_rom || (known & (kLoaded | kPoked | kWritten)) != 0;
    if (sure && (known & kExecuted)) slow &= ~kSlowFetch;
    if (sure && (known & kRead)) slow &= ~kSlowRead;
    if (decode.plain_ram && (known & kWritten)) slow &= ~kSlowWrite;
    if (known & kDoubted) slow = kSlowAll;
  }
  if (breakpoint(address)) slow |= kSlowFetch;
  flat_.slow(address) = slow | watched(address);
}

void SystemBus::load(std::uint16_t address, std::uint8_t value) {
  for (int i : decodes_[decode_[address]].placements) {
    const Placement& p = placements_[i];
    if (p.device != nullptr) continue;
    const std::uint16_t where = cell(p, address);
    image_[where] = static_cast<std::uint8_t>((image_[where] & ~p.spec.data_mask) | (value & p.spec.data_mask));
    known_[where] |= kLoaded;
  }
}

void SystemBus::power_on() {
  forget_held();
  holding_ = false;
  open_fetch_ = {};
  doubts_->clear();
  for (const Placement& p : placements_) {
    if (p.device != nullptr) continue;
    for (std::uint32_t address = p.first; address <= p.last; ++address) {
      const auto at = static_cast<std::uint16_t>(address);
      std::uint8_t value = 0xFF;  // an erased ROM
      if (p.spec.kind == BusSpec::Kind::ram) {
        if (p.power_up == PowerUp::zeros) value = 0;
        if (p.power_up == PowerUp::random) value = static_cast<std::uint8_t>(mix(seed_, at) >> 56);
        known_[at] &= kLoaded;
      } else {
        known_[at] &= kLoaded | kRead | kExecuted;
      }
      if (known_[at] & kLoaded) value = image_[at];
      const std::uint8_t lines = p.spec.data_mask;
      flat_.cell(at) = static_cast<std::uint8_t>((flat_.cell(at) & ~lines) | (value & lines));
      refresh(at);
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
  unsigned driven = 0, contended = 0;
  std::uint8_t value = 0xFF;
  for (int i : decode.placements) {
    const Placement& p = placements_[i];
    if (!p.spec.reads) continue;
    const std::uint8_t lines = p.spec.data_mask;
    std::uint8_t answer;
    if (p.device != nullptr) {
      answer = p.device->read(address & (p.spec.size - 1));
    } else {
      const std::uint16_t where = cell(p, address);
      answer = flat_.cell(where);
      const bool unsure = p.spec.kind == BusSpec::Kind::ram && (known_[where] & (kLoaded | kPoked | kWritten)) == 0;
      if (unsure && access != Access::ignored) {
        if (access == Access::read) {
          unwritten_read(where, address);
        } else {
          // A program that has left its code is one case.
          findings_.report("uninitialised-fetch", Weight::warn, {.subject = where, .address = true}, [&] {
            return std::pair(fmt::format("opcode fetched from ${:04X} of {}, which nobody has written since power-on",
                                         address, p.name),
                             std::string("the program has left its code: look at the jump or return before this"));
          });
        }
      } else if ((known_[where] & kDoubted) && access == Access::read) {
        read_doubted(where);
      }
      if (!unsure || access != Access::ignored) {
        known_[where] |= access == Access::fetch ? kExecuted : kRead;
        refresh(where);
        if (where != address) refresh(address);
      }
    }
    contended |= driven & lines;
    driven |= lines;
    // Where two chips disagree the low one wins: TTL and NMOS outputs sink harder than they source.
    value &= static_cast<std::uint8_t>(answer | ~lines);
  }
  holding_ = false;  // others answer, too
  if (contended != 0) note_contention(decode, address);
  if (driven == 0xFF) return {value, true};

  const std::uint8_t held = keeper(kept, clock_.now);
  if (access == Access::fetch) {
    open_fetch_ = {address, static_cast<std::uint8_t>((value & driven) | (held & ~driven)), clock_.now};
  }
  if (access == Access::ignored) return {static_cast<std::uint8_t>((value & driven) | (held & ~driven)), false};
  if (driven == 0) {
    if (access == Access::read) {
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
        std::string("a memory that is four bits wide needs a second chip on the other data lines"));
  });
  return {static_cast<std::uint8_t>((value & driven) | (held & ~driven)), false};
}

void SystemBus::report_unwritten(std::uint16_t address, Occurrence occurrence) {
  findings_.report("uninitialised-read", Weight::warn, occurrence, [&] {
    return std::pair(fmt::format("read from ${:04X} of {}, which nobody has written since power-on", address,
                                 placements_[decodes_[decode_[address]].placements[0]].name),
                     std::string("store a value there before the program uses it"));
  });
}

void SystemBus::report_undriven(std::uint16_t address, std::uint8_t shown, Occurrence occurrence) {
  findings_.report("undriven-read", Weight::warn, occurrence, [&] {
    const Decode& decode = decodes_[decode_[address]];
    const std::string who = decode.placements.empty()
                                ? "no chip answers there"
                                : placements_[decode.placements[0]].name + " cannot be read there";
    return std::pair(fmt::format("read from ${:04X}: {}; the bus shows ${:02X}", address, who, shown),
                     std::string("compare the address with the map: `prewire check --map` lists it"));
  });
}

void SystemBus::report_untaken(std::uint16_t address, std::uint8_t value, Occurrence occurrence) {
  const Decode& decode = decodes_[decode_[address]];
  const bool rom = std::any_of(decode.placements.begin(), decode.placements.end(),
                               [&](int i) { return placements_[i].spec.kind == BusSpec::Kind::rom; });
  findings_.report(rom ? "rom-write" : "unmapped-write", Weight::warn, occurrence, [&] {
    const std::string what = decode.placements.empty() ? "no chip answers there"
                                                       : placements_[decode.placements[0]].name + " cannot be written";
    return std::pair(fmt::format("${:02X} written to ${:04X}: {}", value, address, what),
                     std::string(rom ? "the store has no effect; is the pointer or the address off?"
                                     : "compare the address with the map: `prewire check --map` lists it"));
  });
}

/// The program has read a byte that nobody has written. Whether it matters may show later.
void SystemBus::unwritten_read(std::uint16_t cell, std::uint16_t address) {
  const std::uint16_t pc = pc_();
  // A loop that reads many is one case.
  const Occurrence now{.subject = cell, .cause = pc, .address = true};
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
  doubt.old = flat_.cell(cell);
  doubt.has_mark = intent.mark.has_value() ? 1 : 0;
  doubt.mark = intent.mark.value_or(0);
  known_[cell] |= kDoubted;
  if (findings_.astray()) tell_doubts();
}

void SystemBus::write_doubted(std::uint16_t cell, std::uint8_t value) {
  decide_old();
  Doubt* doubt = doubts_->find(Doubt::unwritten, cell);
  if (doubt == nullptr) return;
  const Doubts::Verdict verdict = Doubts::wrote(*doubt, pc_(), value, clock_.now);
  if (verdict == Doubts::Verdict::open) return;
  close(*doubt);
  // What is put back is still nothing that the program has made.
  if (verdict == Doubts::Verdict::put_back) known_[cell] &= static_cast<std::uint8_t>(~(kWritten | kRead));
}

void SystemBus::read_doubted(std::uint16_t cell) {
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
  std::uint16_t home = address;
  for (int place : decodes_[decode_[address]].placements) {
    if (placements_[place].device == nullptr) home = cell(placements_[place], address);
  }
  const std::uint16_t pc = pc_();
  Doubt* doubt = doubts_->find(Doubt::nobody, home);
  if (doubt == nullptr) {
    if (!intent_(address, false).probes || doubts_->goes_on(pc)) return report();
    make_room();
    doubt = &doubts_->open(Doubt::nobody, address, home);
    mark(address, true);
  }
  const bool told = findings_.told_early(write ? doubt->written : doubt->read);
  const Doubts::Verdict verdict = Doubts::tried(*doubt, pc, write, value, clock_.now);
  if (told) report();
  if (verdict == Doubts::Verdict::fault || findings_.astray()) tell_doubts();
  if (verdict == Doubts::Verdict::fault) close(*doubt);
}

bool SystemBus::is_ram(std::uint16_t address, std::uint16_t where) const {
  const std::vector<int>& places = decodes_[decode_[address]].placements;
  return std::any_of(places.begin(), places.end(), [&](int i) {
    return placements_[i].spec.kind == BusSpec::Kind::ram && cell(placements_[i], address) == where;
  });
}

void SystemBus::mark(std::uint16_t address, bool doubted) {
  for (int i : decodes_[decode_[address]].placements) {
    const Placement& p = placements_[i];
    if (p.device != nullptr) continue;
    std::uint8_t& known = known_[cell(p, address)];
    known = static_cast<std::uint8_t>(doubted ? known | kDoubted : known & ~kDoubted);
    refresh(cell(p, address));
  }
}

void SystemBus::close(const Doubt& doubt) {
  findings_.decided(doubt.read);
  findings_.decided(doubt.written);
  const std::uint16_t address = doubt.address;
  doubts_->close(doubt);
  mark(address, false);
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
    if (doubt.kind == Doubt::unwritten) then = {.subject = doubt.cell, .cause = pc, .address = true};
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

void SystemBus::note_contention(const Decode& decode, std::uint16_t address) {
  findings_.report("bus-contention", Weight::stop, {.subject = decode_[address], .cause = decode_[address]}, [&] {
    std::string names;
    for (int i : decode.placements) {
      if (placements_[i].spec.reads) names += (names.empty() ? "" : " and ") + placements_[i].name;
    }
    return std::pair(fmt::format("{} drive the data bus at the same time (read from ${:04X})", names, address),
                     std::string("give each chip addresses of its own"));
  });
}

void SystemBus::write_any(const Decode& decode, std::uint16_t address, std::uint8_t value) {
  bool taken = false, rom = false;
  for (int i : decode.placements) rom = rom || placements_[i].spec.kind == BusSpec::Kind::rom;
  for (int i : decode.placements) {
    const Placement& p = placements_[i];
    if (p.device != nullptr) {
      if (p.spec.writes) p.device->write(address & (p.spec.size - 1), value);
      taken = taken || p.spec.writes;
      continue;
    }
    if (p.spec.kind == BusSpec::Kind::rom) continue;
    taken = true;
    if (rom) continue;  // the cell belongs to the ROM that overlaps
    const std::uint16_t where = cell(p, address);
    if (!overwritten_.any) overwritten_ = {true, where, flat_.cell(where)};
    const std::uint8_t lines = p.spec.data_mask;
    flat_.cell(where) = static_cast<std::uint8_t>((flat_.cell(where) & ~lines) | (value & lines));
    known_[where] |= kWritten;
    if (known_[where] & kDoubted) write_doubted(where, value);
    refresh(where);
  }
  if (taken) return;
  nobody(address, true, value);
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
  if ((decode.plain_ram || decode.plain_rom) && decode.placements.size() == 1) {
    const Placement& only = placements_[decode.placements[0]];
    if (only.spec.reads) return flat_.cell(cell(only, address));
  }
  std::uint8_t value = 0xFF;
  for (int i : decode.placements) {
    const Placement& p = placements_[i];
    if (!p.spec.reads) continue;
    const std::uint8_t answer =
        p.device != nullptr ? p.device->peek(address & (p.spec.size - 1)) : flat_.cell(cell(p, address));
    value &= static_cast<std::uint8_t>(answer | ~p.spec.data_mask);
  }
  return value;
}

std::uint8_t SystemBus::lines_at(std::uint16_t address) const {
  unsigned lines = 0;
  for (int i : decodes_[decode_[address]].placements) {
    if (placements_[i].spec.reads) lines |= placements_[i].spec.data_mask;
  }
  return static_cast<std::uint8_t>(lines);
}

std::uint8_t SystemBus::readable(std::uint16_t address, std::uint8_t kept, Cycle when) const {
  const unsigned driven = lines_at(address);
  return static_cast<std::uint8_t>((peek(address) & driven) | (keeper(kept, when) & ~driven));
}

bool SystemBus::poke(std::uint16_t address, std::uint8_t value) {
  bool held = false;
  for (int i : decodes_[decode_[address]].placements) {
    const Placement& p = placements_[i];
    if (p.device != nullptr) continue;
    const std::uint16_t where = cell(p, address);
    const std::uint8_t lines = p.spec.data_mask;
    flat_.cell(where) = static_cast<std::uint8_t>((flat_.cell(where) & ~lines) | (value & lines));
    if (p.spec.kind == BusSpec::Kind::rom) patched_rom_ = true;
    known_[where] |= kPoked;
    refresh(where);
    held = true;
  }
  return held;
}

ByteUse SystemBus::use(std::uint16_t address) const {
  ByteUse use;
  for (int i : decodes_[decode_[address]].placements) {
    const Placement& p = placements_[i];
    if (p.device != nullptr) continue;
    const std::uint8_t known = known_[cell(p, address)];
    use.loaded = use.loaded || (known & (kLoaded | kPoked));
    use.written = use.written || (known & kWritten);
    use.read = use.read || (known & kRead);
    use.executed = use.executed || (known & kExecuted);
  }
  return use;
}

std::vector<std::string> SystemBus::answering(std::uint16_t address) const {
  std::vector<std::string> names;
  for (int i : decodes_[decode_[address]].placements) names.push_back(placements_[i].name);
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
  const bool was_patched = patched_rom_;
  archive(patched_rom_);
  for (const Placement& p : placements_) {
    if (p.device != nullptr) continue;
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
  doubts_->archive(archive);
  if (archive.loading()) {
    for (const Doubt& doubt : doubts_->list()) {
      archive.require(doubt.kind == Doubt::nobody || is_ram(doubt.address, doubt.cell));
      mark(doubt.address, true);
    }
  }
  watch_fetches(watched);
  // Breakpoints belong to who debugs, not to the machine: keep today's. One that is gone leaves a slow fetch, the next.
  if (!archive.loading()) return;
  for (const std::uint16_t address : breaks_) refresh(address);
}

}  // namespace prewire
