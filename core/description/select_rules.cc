// Selects that wires make, over all addresses.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bitset>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "description/circuit.h"
#include "description/select_logic.h"
#include "description/values.h"
#include "description/wires.h"
#include "units/text.h"

namespace prewire {

namespace {

using Addresses = std::bitset<65536>;

/// "$4000-$5FFF and $C000", at most a few.
std::string ranges_of(const Addresses& addresses) {
  constexpr std::size_t kMost = 4;
  std::vector<std::string> list;
  std::size_t more = 0;
  for (std::uint32_t at = 0; at < 65536;) {
    if (!addresses[at]) {
      ++at;
      continue;
    }
    const auto first = static_cast<std::uint16_t>(at);
    while (at < 65536 && addresses[at]) ++at;
    if (list.size() < kMost)
      list.push_back(format_range({first, static_cast<std::uint16_t>(at - 1)}));
    else
      ++more;
  }
  if (more > 0) list.push_back(fmt::format("{} more", counted(more, "range")));
  return list_of(list);
}

/// What a chip does in any state of the lines that change now and then.
struct Reach {
  Addresses read, written, idle, early, stale;

  void take(const WiredPlace& place) {
    for (std::uint32_t i = 0; i < 65536; ++i) {
      const BusMode& mode = place.mode(static_cast<std::uint16_t>(i));
      if (!mode.any()) continue;
      const std::uint8_t write = bit_of(BusKind::write), dead = bit_of(BusKind::idle);
      if (mode.reads()) read.set(i);
      if ((mode.takes & write) != 0) written.set(i);
      if (mode.drives[static_cast<std::size_t>(BusKind::idle)] != 0 || (mode.takes & dead) != 0) idle.set(i);
      if ((mode.early & write) != 0) early.set(i);
      if ((mode.stale & write) != 0) stale.set(i);
    }
  }
};

class SelectRules {
 public:
  SelectRules(const Circuit& circuit, const std::vector<Window>& windows, FaultList& faults)
      : circuit_(circuit), windows_(windows), faults_(faults), logic_(circuit.spec(), circuit.nets()) {}

  void check() {
    if (logic_.chips().empty()) return;
    std::vector<int> refused;
    for (const SelectLogic::Refusal& refusal : logic_.refusals()) {
      refuse(refusal);
      refused.push_back(refusal.pin.chip);
    }
    reach_.resize(logic_.chips().size());
    for (const std::vector<Logic>& state : logic_.states()) {
      const std::vector<WiredPlace> places = logic_.places(state);
      for (std::size_t i = 0; i < places.size(); ++i) reach_[i].take(places[i]);
      find_fights(places);
    }
    check_fights();
    for (std::size_t i = 0; i < reach_.size(); ++i) {
      const int chip = logic_.chips()[i];
      if (std::find(refused.begin(), refused.end(), chip) != refused.end()) continue;
      check_data(chip);
      check_reach(chip, reach_[i]);
    }
  }

 private:
  const ChipSpec& spec_of(int chip) const { return circuit_.spec().chips[static_cast<std::size_t>(chip)]; }
  /// Where the file wires a bus pin of a chip.
  Place place_of(PinRef ref) const {
    const NetSpec* net = circuit_.nets().at(ref);
    return net == nullptr ? circuit_.chip_place(ref.chip) : circuit_.place(*net);
  }

  void refuse(const SelectLogic::Refusal& refusal) {
    std::string chain = circuit_.name(refusal.pin);
    for (const PinRef ref : refusal.chain) chain += " from " + circuit_.name(ref);
    faults_.add(
        "select-no-logic", Weight::stop, place_of(refusal.pin),
        fmt::format("{} cannot be traced to the processor's lines: {}", circuit_.name(refusal.pin), refusal.why),
        "gates and decoders between the processor and the chip; besides them latches, ports and contacts that the "
        "program or a person moves",
        chain, "let gates alone make the select, or place the chip by \"at\"");
  }

  // Two at a time
  // -------------------------------------------------------------------------------------------------------

  static constexpr std::size_t kMostFights = 100;  // nobody reads more, and each takes 8 KiB

  /// Addresses at which both of a pair can be read, on the same lines, however the other lines stand.
  struct Fight {
    std::string one, other;
    Place place;
    Addresses where;
  };

  void find_fights(const std::vector<WiredPlace>& places) {
    std::vector<Fight> now;
    const auto add = [&](std::string one, std::string other, int chip, const Addresses& where) {
      if (where.any()) now.push_back({std::move(one), std::move(other), circuit_.chip_place(chip), where});
    };
    // Where each drives each data line.
    std::vector<std::array<Addresses, 8>> driven(places.size());
    for (std::size_t i = 0; i < places.size(); ++i) {
      for (std::uint32_t at = 0; at < 65536; ++at) {
        const unsigned lines = places[i].mode(static_cast<std::uint16_t>(at)).drives[0];
        for (std::size_t bit = 0; lines >> bit != 0; ++bit) driven[i][bit][at] = (lines >> bit & 1) != 0;
      }
    }
    for (std::size_t i = 0; i < places.size(); ++i) {
      const WiredPlace& place = places[i];
      const std::string& name = spec_of(place.chip).name;
      for (std::size_t j = 0; j < i && now.size() < kMostFights; ++j) {
        Addresses where;
        for (std::size_t bit = 0; bit < 8; ++bit) where |= driven[i][bit] & driven[j][bit];
        add(spec_of(places[j].chip).name, name, place.chip, where);
      }
      for (const Window& window : windows_) {
        if (window.wired || !window.bus.reads) continue;
        Addresses where;
        for (std::uint32_t at = window.decoded.first; at <= window.decoded.last; ++at) {
          if ((place.mode(static_cast<std::uint16_t>(at)).drives[0] & window.bus.data_mask) != 0) where.set(at);
        }
        add(window.name, name, place.chip, where);
      }
    }
    if (std::exchange(looked_, true)) {
      for (Fight& fight : fights_) {
        const auto again = std::find_if(now.begin(), now.end(), [&](const Fight& other) {
          return other.one == fight.one && other.other == fight.other;
        });
        fight.where = again == now.end() ? Addresses() : fight.where & again->where;
      }
    } else {
      fights_ = std::move(now);
    }
  }

  void check_fights() {
    for (const Fight& fight : fights_) {
      if (fight.where.none()) continue;
      faults_.add(
          "decode-overlap", Weight::stop, fight.place,
          fmt::format("{} and {} both answer at {}", fight.one, fight.other, ranges_of(fight.where)),
          "one chip for each address that can be read", "two that drive the data bus in one cycle",
          "bits that differ fight, and the low one wins: give each an output of the decoder of its own, or let one "
          "more address line tell them apart");
    }
  }

  // One chip
  // ------------------------------------------------------------------------------------------------------------

  void check_data(int chip) {
    const ChipType& type = circuit_.type(chip);
    std::vector<std::string> open, crossed, lines;
    std::optional<PinRef> first_crossed, first_open;
    std::array<bool, 8> used{};
    for (int at = 0; at < static_cast<int>(type.pins.size()); ++at) {
      const PinRef ref{chip, at};
      const PinSpec& what = circuit_.pin(ref);
      if (what.role != BusRole::data) continue;
      const int line = logic_.data_line(ref);
      if (line < 0) {
        open.emplace_back(what.name);
        if (!first_open) first_open = ref;
        continue;
      }
      // Half a byte may be either half.
      const bool half = spec_of(chip).bus.data_mask != 0xFF;
      const bool straight = half ? line % 4 == what.bit % 4 : line == what.bit;
      if (straight && !std::exchange(used[static_cast<std::size_t>(line)], true)) continue;
      crossed.emplace_back(what.name);
      lines.push_back(fmt::format("D{}", line));
      if (!first_crossed) first_crossed = ref;
    }
    const std::string& name = spec_of(chip).name;
    if (!open.empty()) {
      faults_.add(
          "open-data-line", Weight::warn, place_of(*first_open),
          fmt::format("{} of {} {} on no data line of the processor", pin_list(open), name,
                      open.size() == 1 ? "is" : "are"),
          "each data pin on one of CPU.D0..D7", "",
          "the bits that come through are what the bus kept, or whatever the open pin picks up: look for the wire "
          "that is missing");
    }
    if (crossed.empty()) return;
    const bool ram = spec_of(chip).bus.kind == BusSpec::Kind::ram;
    faults_.add("data-lines-crossed", ram ? Weight::hint : Weight::warn, place_of(*first_crossed),
                fmt::format("data lines of {} are crossed: {} on {}", name, pin_list(crossed), pin_list(lines)),
                "each data pin on the line of its own number", "",
                ram ? "a RAM gives back what it was given all the same; but one wires them straight, and a ROM in its "
                      "place would not work"
                    : "bits change places in each byte that is read or written: swap these wires");
  }

  void check_reach(int chip, const Reach& reach) {
    const std::string& name = spec_of(chip).name;
    const Addresses any = reach.read | reach.written;
    if (any.none()) return never(chip);
    const bool device = spec_of(chip).bus.kind == BusSpec::Kind::registers;
    const bool vma = circuit_.spec().cpu->chip.pin("VMA") >= 0;
    if (device && any.count() > 32768) {
      faults_.add("selected-too-often", Weight::warn, circuit_.chip_place(chip),
                  any.all() ? fmt::format("{} answers at every address", name)
                            : fmt::format("{} answers at all addresses but {}", name, ranges_of(~any)),
                  "a chip that few addresses select", fmt::format("{} addresses", any.count()),
                  any.all()
                      ? "no address line has a say in its selects: look for one that is tied or open"
                      : "is a select of the wrong polarity? Outputs of decoders are low when they select; an inverter "
                        "more or less turns that round");
    }
    if (device && vma && reach.idle.any()) {
      faults_.add(
          "select-without-vma", Weight::warn, circuit_.chip_place(chip),
          fmt::format("{} is selected without VMA: dead cycles reach it at {}", name, ranges_of(reach.idle)),
          "VMA in the select, at a high enable of the decoder or by a gate", "",
          "in cycles that the processor has no use for it leaves any address on its lines, and reading a register "
          "may clear its flags");
    }
    if (reach.stale.any()) {
      faults_.add(
          "strobe-too-early", Weight::warn, circuit_.chip_place(chip),
          fmt::format("{} takes its data at {} before the processor has put them out", name, ranges_of(reach.stale)),
          "a strobe that rises at the end of the cycle", "one that rises within it",
          "take the output that is low while it selects, so that it rises as E falls");
    }
    if (reach.early.any()) {
      faults_.add(
          "write-without-e", Weight::warn, circuit_.chip_place(chip),
          fmt::format("writes to {} are not qualified by E, at {}", name, ranges_of(reach.early)),
          "E in the select or in the write strobe", "",
          "address lines change before E rises, and not all at once: on the bench a byte may go to a wrong address "
          "on the way, now and then. Here it does not");
    }
  }

  void never(int chip) {
    std::vector<std::string> reasons;
    std::optional<PinRef> where;
    bool any = false;
    // The levels of each pin, over all states.
    std::vector<SelectLogic::Seen> all;
    for (const std::vector<Logic>& state : logic_.states()) {
      const std::vector<SelectLogic::Seen> seen = logic_.levels(chip, state);
      if (all.empty()) all = seen;
      for (std::size_t i = 0; i < all.size(); ++i) {
        all[i].low = all[i].low || seen[i].low;
        all[i].high = all[i].high || seen[i].high;
      }
    }
    for (const SelectLogic::Seen& seen : all) {
      const BusRole role = circuit_.pin(seen.pin).role;
      const bool wants_high = role == BusRole::select_high || role == BusRole::enable || role == BusRole::write_high;
      const bool wants_low = role == BusRole::select_low || role == BusRole::read_low || role == BusRole::write_low;
      const bool moves = role == BusRole::write_rise;
      any = any || wants_high || wants_low || moves;
      std::string level;
      if ((wants_high || moves) && !seen.high) level = "low";
      if ((wants_low || moves) && !seen.low) level = "high";
      if (role == BusRole::enable && seen.high) {
        if (seen.low || !steady(seen.pin)) continue;
        level = "high, with no edges";
      }
      if (level.empty()) continue;
      reasons.push_back(fmt::format("{} is always {}", circuit_.name(seen.pin), level));
      if (!where) where = seen.pin;
    }
    const std::string& name = spec_of(chip).name;
    faults_.add("never-selected", Weight::warn, where ? place_of(*where) : circuit_.chip_place(chip),
                fmt::format("no address selects {}", name), "an address at which all its selects have their level",
                reasons.empty() ? "selects that never come together while E is high" : list_of(reasons),
                reasons.empty()
                    ? "is one of the selects of the wrong polarity? Compare them with the data sheet, one by one"
                    : "follow that wire: is the select of the wrong polarity, or a line tied to the wrong rail?");
  }

  /// Whether an enable input that is high during each cycle does not follow E.
  bool steady(PinRef ref) const {
    for (const std::vector<Logic>& state : logic_.states()) {
      for (const SelectLogic::Seen& seen : logic_.levels(ref.chip, state, false)) {
        if (seen.pin.pin == ref.pin && seen.low) return false;
      }
    }
    return true;
  }

  const Circuit& circuit_;
  const std::vector<Window>& windows_;
  FaultList& faults_;
  const SelectLogic logic_;
  std::vector<Reach> reach_;  // by place in `logic_.chips()`
  std::vector<Fight> fights_;
  bool looked_ = false;
};

}  // namespace

void check_selects(const Circuit& circuit, const std::vector<Window>& windows, FaultList& faults) {
  if (circuit.spec().cpu == nullptr) return;
  SelectRules(circuit, windows, faults).check();
}

}  // namespace prewire
