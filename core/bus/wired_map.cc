// Address maps that were found in wires: put together, and changed while the machine runs.
#include <algorithm>
#include <bitset>
#include <cstring>
#include <iterator>
#include <set>
#include <utility>

#include "bus/doubts.h"
#include "bus/system_bus.h"

namespace prewire {

void SystemBus::place(Placement placement) {
  if (placement.wired) {
    placement.bank = static_cast<int>(banks_.size());
    Bank bank;
    bank.placement = static_cast<int>(placements_.size());
    bank.first = static_cast<std::uint32_t>(hidden_.size());
    if (placement.device == nullptr) bank.size = placement.spec.size;
    hidden_.resize(hidden_.size() + bank.size);
    banks_.push_back(std::move(bank));
  }
  placements_.push_back(std::move(placement));
}

const SystemBus::Bank& SystemBus::bank_of(const Part& part) const {
  return banks_[static_cast<std::size_t>(of(part).bank)];
}

const WiredPlace* SystemBus::wires(const Part& part) const { return of(part).wired ? &bank_of(part).lines : nullptr; }

std::string SystemBus::memory_name(std::uint16_t address) const {
  for (const Part& part : decodes_[decode_[address]].parts) {
    if (is_memory(part)) return of(part).name;
  }
  return "memory";
}

int SystemBus::learn(const std::vector<WiredPlace>& places) {
  const bool first = learned_ == 0;
  auto map = std::make_unique<Map>();
  map->decode = base_;
  for (std::size_t i = 0; i < places.size(); ++i) {
    const WiredPlace& place = places[i];
    Bank& bank = banks_[i];
    if (first) {
      bank.lines.line = place.line;
      bank.lines.open_ones = place.open_ones;
    }
    std::array<std::uint16_t, kBusKinds> cells{};
    for (std::size_t kind = 0; kind < kBusKinds; ++kind) {
      const CellIndex& of_kind = place.cells[place.cells_of[kind]];
      const auto same = std::find(cells_.begin(), cells_.end(), of_kind);
      cells[kind] = static_cast<std::uint16_t>(same - cells_.begin());
      if (same == cells_.end()) cells_.push_back(of_kind);
    }
    std::map<std::pair<std::uint16_t, std::uint8_t>, std::uint16_t> joined;
    std::pair<std::uint16_t, std::uint8_t> last{0, 0};
    std::uint16_t made = 0;
    bool any = false;
    for (std::uint32_t address = 0; address < 65536; ++address) {
      const std::pair now{map->decode[address], place.mode_at[address]};
      if (!any || now != last) {
        any = true;
        last = now;
        const BusMode& mode = place.modes[now.second];
        if (!mode.any()) {
          made = now.first;
        } else if (const auto known = joined.find(now); known != joined.end()) {
          made = known->second;
        } else {
          Decode decode;
          decode.parts = decodes_[now.first].parts;
          decode.parts.push_back({bank.placement, mode.drives, mode.takes, mode.stale, cells});
          made = number_of(std::move(decode));
          joined.emplace(now, made);
        }
      }
      map->decode[address] = made;
    }
  }
  map->home.assign(hidden_.size(), -1);
  find_homes(*map);

  ++learned_;
  const auto free = std::find(maps_.begin(), maps_.end(), nullptr);
  const auto number = first ? 0 : static_cast<int>(free - maps_.begin());
  if (first) {
    known_.resize(kWired + hidden_.size());
    image_.resize(kWired + hidden_.size());
    set_aside_.assign(hidden_.size(), kAnew);
    for (std::size_t cell = 0; cell < hidden_.size(); ++cell) {
      const std::int32_t at = map->home[cell];
      noise_.push_back(static_cast<std::uint16_t>(at >= 0 ? at : static_cast<std::int32_t>(cell)));
    }
    std::set<std::uint32_t> borders(borders_.begin(), borders_.end());
    for (std::uint32_t at = 1; at < 65536; ++at) {
      if (map->decode[at] != map->decode[at - 1]) borders.insert(at);
    }
    borders_.assign(borders.begin(), borders.end());
    maps_[0] = std::move(map);
    decode_ = maps_[0]->decode.data();
    homes_ = maps_[0]->home.data();
    if (flat_.idle_heard()) mark_idle(true);
  } else if (free == maps_.end()) {
    maps_.push_back(std::move(map));
  } else {
    *free = std::move(map);
  }
  return number;
}

/// A cell stands in the flat store at the first address at which nothing but plain memory answers.
void SystemBus::find_homes(Map& map) const {
  for (std::uint32_t i = 0; i < 65536; ++i) {
    const Decode& decode = decodes_[map.decode[i]];
    if (!decode.plain) continue;
    const auto address = static_cast<std::uint16_t>(i);
    const bool fits = std::all_of(decode.parts.begin(), decode.parts.end(), [&](const Part& part) {
      if (part.drives[0] == 0) return true;
      const std::uint32_t where = cell(part, BusKind::read, address);
      return where < kWired ? where == i : map.home[where - kWired] < 0;
    });
    if (!fits) continue;
    for (const Part& part : decode.parts) {
      if (part.drives[0] == 0 || !of(part).wired) continue;
      map.home[cell(part, BusKind::read, address) - kWired] = static_cast<std::int32_t>(i);
    }
  }
}

const SystemBus::Change& SystemBus::change(int from, int to) {
  const auto [place, fresh] = changes_.try_emplace({from, to});
  Change& change = place->second;
  if (!fresh) return change;
  const Map& old = *maps_[static_cast<std::size_t>(from)];
  const Map& now = *maps_[static_cast<std::size_t>(to)];
  std::bitset<65537> touched;
  for (const Bank& bank : banks_) {
    for (std::uint32_t i = bank.first; i < bank.first + bank.size; ++i) {
      const std::int32_t a = old.home[i], b = now.home[i];
      if (a == b) continue;
      if (a >= 0) touched.set(static_cast<std::size_t>(a));
      if (b >= 0) touched.set(static_cast<std::size_t>(b));
      const auto goes_on = [](std::int32_t end, std::uint32_t count, std::int32_t next) {
        return end < 0 ? next < 0 : end + static_cast<std::int32_t>(count) == next;
      };
      if (!change.moves.empty()) {
        Move& last = change.moves.back();
        if (last.cell >= bank.first && last.cell + last.count == i && goes_on(last.from, last.count, a) &&
            goes_on(last.to, last.count, b)) {
          ++last.count;
          continue;
        }
      }
      change.moves.push_back({i, 1, a, b, bank.lines.lines()});
    }
  }
  for (std::uint32_t at = 0; at < 65536; ++at) {
    if (old.decode[at] != now.decode[at]) touched.set(at);
  }
  // Memory that comes back brings its slow bits with it; those of other addresses are worked out.
  for (const Move& move : change.moves) {
    if (move.to < 0) continue;
    for (std::uint32_t i = 0; i < move.count; ++i) {
      const auto at = static_cast<std::uint32_t>(move.to) + i;
      if (decodes_[now.decode[at]].parts.size() == 1) touched.reset(at);
    }
  }
  for (std::uint32_t at = 0; at < 65536;) {
    if (!touched[at]) {
      ++at;
      continue;
    }
    const std::uint32_t first = at;
    while (touched[at] && now.decode[at] == now.decode[first]) ++at;
    change.touched.emplace_back(first, at);
  }
  return change;
}

void SystemBus::use_map(int number) {
  if (number == map_) return;
  forget_held();
  const Change& change = this->change(map_, number);
  for (const Move& move : change.moves) {
    if (move.from < 0) continue;
    const std::uint8_t* from = flat_.bytes() + move.from;
    // Lines of others come along; they mean nothing.
    std::memcpy(&hidden_[move.cell], from, move.count);
    std::memcpy(&set_aside_[move.cell], from + Flat::kSlow, move.count);
  }
  std::erase_if(changed_, [&](const Changed& old) { return old.mark + static_cast<Cycle>(kTrail) < clock_.mark(); });
  // The cycle in progress still saw the old one if it is at its end.
  changed_.push_back({clock_.mark() - (clock_.moment < clock_.fall() ? 1 : 0), map_});
  dropped_ = clock_.mark();
  map_ = number;
  const Map& now = *maps_[static_cast<std::size_t>(number)];
  decode_ = now.decode.data();
  homes_ = now.home.data();
  for (const Move& move : change.moves) {
    if (move.to < 0) continue;
    std::uint8_t* to = flat_.bytes() + move.to;
    if (move.lines == 0xFF) {
      std::memcpy(to, &hidden_[move.cell], move.count);
    } else {
      for (std::uint32_t i = 0; i < move.count; ++i) {
        to[i] = static_cast<std::uint8_t>((to[i] & ~move.lines) | (hidden_[move.cell + i] & move.lines));
      }
    }
    bring_back(move);
  }
  for (const auto& [first, end] : change.touched) {
    const Decode& decode = decodes_[decode_[first]];
    if (!decode.plain && watched_ == Fetches::none) {
      std::memset(&flat_.slow(first), decode.idle ? kSlowAll | kSlowIdle : kSlowAll, end - first);
      continue;
    }
    for (std::uint32_t at = first; at < end; ++at) refresh(static_cast<std::uint16_t>(at));
  }
  for (const std::uint16_t address : breaks_) refresh(address);
}

/// The slow bits of cells that have come to stand somewhere. They may say slow where fast would do: the next access
/// sees to that.
void SystemBus::bring_back(const Move& move) {
  const auto first = static_cast<std::uint32_t>(move.to);
  const Decode& decode = decodes_[decode_[first]];
  if (decode.parts.size() != 1) return;
  const std::uint8_t* kept = &set_aside_[move.cell];
  const bool anew = std::any_of(kept, kept + move.count, [](std::uint8_t bits) { return (bits & kAnew) != 0; });
  if (anew || watched_ != Fetches::none) {
    for (std::uint32_t i = 0; i < move.count; ++i) refresh(static_cast<std::uint16_t>(first + i));
    return;
  }
  std::uint8_t* slow = &flat_.slow(first);
  for (std::uint32_t i = 0; i < move.count; ++i) {
    const Decode& at = decodes_[decode_[first + i]];
    slow[i] =
        static_cast<std::uint8_t>((kept[i] & kSlowAll) | (at.plain_ram ? 0 : kSlowWrite) | (at.idle ? kSlowIdle : 0));
  }
}

std::optional<SystemBus::Past> SystemBus::before_change(std::uint16_t address, Cycle mark) const {
  const auto change =
      std::find_if(changed_.begin(), changed_.end(), [&](const Changed& changed) { return changed.mark >= mark; });
  if (change == changed_.end()) return std::nullopt;
  std::uint8_t value = 0xFF;
  for (const Part& part : decodes_[maps_[static_cast<std::size_t>(change->map)]->decode[address]].parts) {
    if (part.drives[0] == 0 || !is_memory(part)) continue;
    value &= static_cast<std::uint8_t>(byte(cell(part, BusKind::read, address)) | ~part.drives[0]);
  }
  return Past{value, change->mark};
}

void SystemBus::forget_maps() {
  changes_.clear();
  for (std::size_t i = 0; i < maps_.size(); ++i) {
    const auto number = static_cast<int>(i);
    const bool used = number == map_ || std::any_of(changed_.begin(), changed_.end(),
                                                    [&](const Changed& changed) { return changed.map == number; });
    if (!used) maps_[i] = nullptr;
  }
}

void SystemBus::mark_idle(bool on) {
  for (std::uint32_t at = 0; at < 65536; ++at) {
    if (!decodes_[decode_[at]].idle) continue;
    std::uint8_t& slow = flat_.slow(at);
    slow = static_cast<std::uint8_t>(on ? slow | kSlowIdle : slow & ~kSlowIdle);
  }
}

void SystemBus::archive_bank(Archive& archive, const Bank& bank, bool was_patched) {
  const Placement& p = placements_[static_cast<std::size_t>(bank.placement)];
  if (bank.size == 0) return;
  const bool ram = p.spec.kind == BusSpec::Kind::ram;
  const std::uint8_t lines = bank.lines.lines();
  std::vector<std::uint8_t> cells(bank.size, 0xFF);
  const auto put = [&](std::uint32_t i, std::uint8_t value) {
    std::uint8_t& cell = byte(kWired + bank.first + i);
    cell = static_cast<std::uint8_t>((cell & ~lines) | (value & lines));
  };
  if (ram || patched_rom_) {
    for (std::uint32_t i = 0; i < bank.size; ++i) {
      cells[i] = static_cast<std::uint8_t>(byte(kWired + bank.first + i) & lines);
    }
    archive.bytes(cells.data(), bank.size);
  } else if (archive.loading() && was_patched) {
    for (std::uint32_t i = 0; i < bank.size; ++i) {
      const std::uint32_t where = kWired + bank.first + i;
      if (known_[where] & kLoaded) cells[i] = image_[where];
    }
  } else {
    return;
  }
  if (ram) archive.bytes(&known_[kWired + bank.first], bank.size);
  if (!archive.loading()) return;
  for (std::uint32_t i = 0; i < bank.size; ++i) {
    put(i, cells[i]);
    refresh_cell(kWired + bank.first + i);
  }
}

}  // namespace prewire
