#include "bus/doubts.h"

#include <algorithm>
#include <span>
#include <type_traits>

namespace prewire {

namespace {

static_assert(std::has_unique_object_representations_v<Doubt>);

bool been(const Doubt& doubt, std::uint16_t pc) {
  const std::span places(doubt.places, doubt.place_count);
  return std::find(places.begin(), places.end(), pc) != places.end();
}

}  // namespace

Doubt* Doubts::find(Doubt::Kind kind, std::uint32_t cell) {
  const auto found = std::find_if(list_.begin(), list_.end(),
                                  [&](const Doubt& doubt) { return doubt.kind == kind && doubt.cell == cell; });
  return found == list_.end() ? nullptr : &*found;
}

Doubt& Doubts::open(Doubt::Kind kind, std::uint16_t address, std::uint32_t cell) {
  Doubt doubt;
  doubt.kind = kind;
  doubt.address = address;
  doubt.cell = cell;
  return list_.emplace_back(doubt);
}

void Doubts::close(const Doubt& doubt) { list_.erase(list_.begin() + (&doubt - list_.data())); }

Doubts::Verdict Doubts::wrote(Doubt& doubt, std::uint16_t pc, std::uint8_t value, Cycle now) {
  // The mark of a warm start, perhaps after all RAM was cleared.
  if (doubt.has_mark != 0 && value == doubt.mark) return Verdict::meant;
  if (doubt.written < 0) {
    doubt.written = now;
    doubt.write_pc = pc;
    doubt.value = value;
  } else if (value == doubt.old && doubt.looked != 0 && pc != doubt.write_pc) {
    return Verdict::put_back;
  }
  return Verdict::open;
}

void Doubts::looked(Doubt& doubt, std::uint16_t pc) {
  if (doubt.written >= 0 && pc != doubt.read_pc) doubt.looked = 1;
}

Doubts::Verdict Doubts::tried(Doubt& doubt, std::uint16_t pc, bool write, std::uint8_t value, Cycle now) {
  if (write) {
    if (doubt.written < 0) doubt.written = now, doubt.write_pc = pc, doubt.value = value;
    ++doubt.writes;
  } else {
    if (doubt.read < 0) doubt.read = now, doubt.read_pc = pc, doubt.old = value;
    if (doubt.written >= 0) doubt.looked = 1;
    ++doubt.reads;
  }
  // An instruction that writes back what it reads comes twice.
  constexpr Cycle kWithin = 4;
  const bool same = doubt.place_count > 0 && doubt.places[doubt.place_count - 1] == pc && now - doubt.last < kWithin;
  doubt.last = now;
  if (same) return Verdict::open;
  if (been(doubt, pc) || doubt.place_count == Doubt::kPlaces) return Verdict::fault;
  doubt.places[doubt.place_count++] = pc;
  return Verdict::open;
}

bool Doubts::goes_on(std::uint16_t pc) {
  bool any = false;
  for (Doubt& doubt : list_) {
    if (doubt.kind != Doubt::nobody || !been(doubt, pc)) continue;
    doubt.goes_on = 1;
    any = true;
  }
  return any;
}

void Doubts::archive(Archive& archive) {
  std::uint64_t count = list_.size();
  archive.count(count, sizeof(Doubt));
  archive.require(count <= kMost);
  list_.resize(count);
  archive.bytes(list_.data(), count * sizeof(Doubt));
  for (Doubt& doubt : list_) {
    archive.require(doubt.kind <= Doubt::nobody && doubt.place_count <= Doubt::kPlaces &&
                    std::max(doubt.reads, doubt.writes) <= kLongest && doubt.since() >= 0 &&
                    std::min({doubt.read, doubt.written, doubt.last}) >= -1 &&
                    std::max({doubt.read, doubt.written, doubt.last}) <= Clock::kNever);
  }
}

}  // namespace prewire
