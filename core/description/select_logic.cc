#include "description/select_logic.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <utility>

#include "bus/mix.h"

namespace prewire {

namespace {

bool is_input(const PinSpec& pin) { return pin.kind == PinKind::input || (drives(pin.kind) && pin.listens); }

/// Digits of "A12", or -1.
int line_number(std::string_view name, char letter, int lines) {
  if (name.size() < 2 || name.size() > 3 || name[0] != letter) return -1;
  int number = 0;
  for (const char c : name.substr(1)) {
    if (c < '0' || c > '9') return -1;
    number = number * 10 + (c - '0');
  }
  return number < lines ? number : -1;
}

int own_data_line(const MachineSpec& spec, PinRef ref) {
  return ref.chip >= 0 ? -1 : line_number(spec.cpu->chip.pins[static_cast<std::size_t>(ref.pin)].name, 'D', 8);
}

/// The data line of the processor that is on a net, or -1.
int data_line_on(const MachineSpec& spec, const Nets& nets, PinRef ref) {
  const NetSpec* net = nets.at(ref);
  if (net == nullptr) return -1;
  for (const PinRef other : net->pins) {
    if (const int line = own_data_line(spec, other); line >= 0) return line;
  }
  return -1;
}

}  // namespace

namespace levels {

/// A level for each value of the address lines in `support`, in ascending order.
struct Table {
  std::uint16_t support = 0;
  std::vector<Logic> values;

  static Table constant(Logic value) { return {0, {value}}; }
  Logic at(std::uint16_t address) const {
    unsigned index = 0, place = 0;
    for (unsigned rest = support; rest != 0; rest &= rest - 1, ++place) {
      const unsigned line = rest & -rest;
      if ((address & line) != 0) index |= 1U << place;
    }
    return values[index];
  }
};

/// Calls `visit` with all addresses that differ in the lines of `support` only, ascending.
template <class Visit>
void each_address(std::uint16_t support, Visit visit) {
  std::uint16_t address = 0;
  do {
    visit(address);
    address = static_cast<std::uint16_t>((address - support) & support);
  } while (address != 0);
}

inline std::uint16_t joint_support(std::span<const Table* const> tables) {
  std::uint16_t support = 0;
  for (const Table* table : tables) support |= table->support;
  return support;
}

}  // namespace levels

using levels::each_address;
using levels::Table;

bool wired_to_bus(const MachineSpec& spec, const Nets& nets, int chip) {
  const ChipSpec& of = spec.chips[static_cast<std::size_t>(chip)];
  if (spec.cpu == nullptr || of.type == nullptr || !of.type->bus || of.at) return false;
  bool roles = false, any = false, data = false;
  for (int pin = 0; pin < static_cast<int>(of.type->pins.size()); ++pin) {
    const PinSpec& what = of.type->pins[static_cast<std::size_t>(pin)];
    if (what.implied != Implied::bus) continue;
    roles = roles || what.role != BusRole::none;
    any = any || nets.at({chip, pin}) != nullptr;
    data = data || (what.role == BusRole::data && data_line_on(spec, nets, {chip, pin}) >= 0);
  }
  return roles && (of.bus.required ? any : data);
}

// ---------------------------------------------------------------------------------------------------------------------
// What is there

const ChipType& SelectLogic::type(int chip) const {
  return chip < 0 ? spec_.cpu->chip : *spec_.chips[static_cast<std::size_t>(chip)].type;
}

bool SelectLogic::contact(int chip) const { return type(chip).looks == Looks::contact; }

std::optional<SelectLogic::Line> SelectLogic::line_of(PinRef ref) const {
  if (ref.chip >= 0) return std::nullopt;
  const std::string_view name = pin(ref).name;
  if (const int line = line_number(name, 'A', 16); line >= 0) return Line{Line::Kind::address, line};
  constexpr std::pair<std::string_view, Line::Kind> kNames[] = {
      {"R/W", Line::Kind::rw}, {"VMA", Line::Kind::vma}, {"E", Line::Kind::e},  {"PHI2", Line::Kind::e},
      {"Q", Line::Kind::q},    {"BA", Line::Kind::ba},   {"BS", Line::Kind::bs}};
  for (const auto& [known, kind] : kNames) {
    // E and Q of the MC6809E come from outside, and are its all the same.
    if (name == known) return Line{kind, 0};
  }
  return std::nullopt;
}

std::optional<std::int32_t> SelectLogic::rail(int net) const {
  const NetSpec& of = nets_.all()[static_cast<std::size_t>(net)];
  if (of.rail_microvolts) return of.rail_microvolts;
  for (const PinRef ref : of.pins) {
    if (pin(ref).kind == PinKind::supply) return pin(ref).microvolts;
  }
  return std::nullopt;
}

/// A TTL input gives current to whoever pulls it low, and so is high when nobody does. MOS inputs keep a charge, one
/// cannot say which.
Logic SelectLogic::open_level(PinRef ref) const {
  const ChipType& of = type(ref.chip);
  const PinLimits* limits = pin(ref).limits;
  if (of.logic || (limits != nullptr && limits->low > 0)) return Logic::high;
  const std::uint64_t number = static_cast<std::uint64_t>(ref.chip) << 8 | static_cast<std::uint64_t>(ref.pin);
  return to_logic((mix(0, number) >> 63) != 0);
}

SelectLogic::SelectLogic(const MachineSpec& spec, const Nets& nets) : spec_(spec), nets_(nets) {
  fast_.assign(nets.all().size(), 0);
  if (spec.cpu == nullptr) return;
  for (int chip = 0; chip < static_cast<int>(spec.chips.size()); ++chip) {
    if (spec.chips[static_cast<std::size_t>(chip)].type == nullptr) return;  // nothing is known for sure
    if (spec.chips[static_cast<std::size_t>(chip)].wired) chips_.push_back(chip);
  }
  find_fast();
  walk();
}

/// Nets that follow the processor, through logic and contacts.
void SelectLogic::find_fast() {
  const auto mark = [&](int net) {
    if (net < 0 || fast_[static_cast<std::size_t>(net)] != 0 || rail(net)) return false;
    return fast_[static_cast<std::size_t>(net)] = 1, true;
  };
  for (int at = 0; at < static_cast<int>(spec_.cpu->chip.pins.size()); ++at) {
    const PinRef ref{-1, at};
    if (line_of(ref) || drives(pin(ref).kind)) mark(nets_.index_at(ref));
  }
  // The other side of a contact may be an output that does not follow the processor.
  const auto driven = [&](int net) {
    if (net < 0) return false;
    const auto& pins = nets_.all()[static_cast<std::size_t>(net)].pins;
    return std::any_of(pins.begin(), pins.end(), [&](PinRef ref) { return drives(pin(ref).kind); });
  };
  for (bool more = true; more;) {
    more = false;
    for (int chip = 0; chip < static_cast<int>(spec_.chips.size()); ++chip) {
      if (type(chip).logic) {
        for (int out = 0; out < static_cast<int>(type(chip).pins.size()); ++out) {
          const int net = nets_.index_at({chip, out});
          if (!drives(pin({chip, out}).kind) || net < 0 || fast(net)) continue;
          const std::vector<int> inputs = inputs_of({chip, out});
          const bool follows = std::any_of(inputs.begin(), inputs.end(), [&](int in) {
            return fast(nets_.index_at({chip, in}));
          });
          if (follows && mark(net)) more = true;
        }
      }
      if (!contact(chip)) continue;
      for (const LinkSpec& link : type(chip).links) {
        const int a = nets_.index_at({chip, link.pin_a}), b = nets_.index_at({chip, link.pin_b});
        if ((fast(a) && !driven(b) && mark(b)) || (fast(b) && !driven(a) && mark(a))) more = true;
      }
    }
  }
}

std::vector<int> SelectLogic::inputs_of(PinRef output) const {
  const ChipType& of = type(output.chip);
  const std::uint8_t group = pin(output).group;
  std::vector<int> inputs;
  bool both_ways = false;
  for (int in = 0; in < static_cast<int>(of.pins.size()); ++in) {
    const PinSpec& what = pin({output.chip, in});
    if (in == output.pin || !is_input(what)) continue;
    if (group != 0 && what.group != 0 && what.group != group) continue;
    both_ways = both_ways || drives(what.kind);
    inputs.push_back(in);
  }
  if (!both_ways) return inputs;
  // A transceiver whose direction is tied is a row of buffers. What else is tied is tried with both levels.
  const auto tied = [&](int in) -> std::optional<Logic> {
    const int net = nets_.index_at({output.chip, in});
    if (net < 0) return Logic::high;
    const auto volts = rail(net);
    return volts ? std::optional(to_logic(*volts >= kInputHigh)) : std::nullopt;
  };
  std::vector<int> controls, kept;
  for (const int in : inputs) {
    if (tied(in)) continue;
    (drives(pin({output.chip, in}).kind) ? kept : controls).push_back(in);
  }
  const auto decides = [&](int in) {
    for (unsigned trial = 0; trial < 1U << (controls.size() + 1); ++trial) {
      std::vector<Logic> pins(of.pins.size(), to_logic((trial & 1) != 0));
      for (const int other : inputs) {
        if (const auto level = tied(other)) pins[static_cast<std::size_t>(other)] = *level;
      }
      for (std::size_t i = 0; i < controls.size(); ++i) {
        pins[static_cast<std::size_t>(controls[i])] = to_logic((trial >> (i + 1) & 1) != 0);
      }
      std::vector<Logic> other = pins;
      other[static_cast<std::size_t>(in)] = !other[static_cast<std::size_t>(in)];
      of.logic(pins);
      of.logic(other);
      if (pins[static_cast<std::size_t>(output.pin)] != other[static_cast<std::size_t>(output.pin)]) return true;
    }
    return false;
  };
  std::erase_if(kept, [&](int in) { return !decides(in); });
  kept.insert(kept.end(), controls.begin(), controls.end());
  std::sort(kept.begin(), kept.end());
  return kept;
}

/// The net and those that contacts can join with it.
std::vector<int> SelectLogic::joined(int net) const {
  std::vector<int> all{net};
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (rail(all[i])) continue;
    for (const PinRef ref : nets_.all()[static_cast<std::size_t>(all[i])].pins) {
      if (ref.chip < 0 || !contact(ref.chip)) continue;
      for (const LinkSpec& link : type(ref.chip).links) {
        if (link.pin_a != ref.pin && link.pin_b != ref.pin) continue;
        const int other = nets_.index_at({ref.chip, link.pin_a == ref.pin ? link.pin_b : link.pin_a});
        if (other >= 0 && std::find(all.begin(), all.end(), other) == all.end()) all.push_back(other);
      }
    }
  }
  return all;
}

std::optional<std::pair<PinRef, std::string>> SelectLogic::carried_by(int net) const {
  for (const PinRef ref : nets_.all()[static_cast<std::size_t>(net)].pins) {
    if (ref.chip < 0) continue;
    const ChipSpec& chip = spec_.chips[static_cast<std::size_t>(ref.chip)];
    const ChipType& of = *chip.type;
    // A resistor, half a potentiometer: what is behind it?
    for (const LinkSpec& link : of.links) {
      if (contact(ref.chip) || (link.pin_a != ref.pin && link.pin_b != ref.pin)) continue;
      const int other = nets_.index_at({ref.chip, link.pin_a == ref.pin ? link.pin_b : link.pin_a});
      if (fast(other)) return std::pair(ref, chip.name + " is no logic");
    }
    if (of.logic || chip.at || chip.wired || !drives(pin(ref).kind)) continue;
    for (int in = 0; in < static_cast<int>(of.pins.size()); ++in) {
      if (pin({ref.chip, in}).listens && fast(nets_.index_at({ref.chip, in}))) {
        return std::pair(ref, chip.name + " keeps a state of its own, or takes its time");
      }
    }
  }
  return std::nullopt;
}

/// Walks back from each bus pin to the lines that decide on it.
class SelectLogic::Walk {
 public:
  Walk(SelectLogic& logic, std::size_t place) : logic_(logic), place_(place) {}

  bool from(PinRef start) {
    start_ = start;
    return net(logic_.nets_.index_at(start));
  }

 private:
  bool net(int index) {
    if (index < 0 || logic_.rail(index)) return true;
    if (!logic_.fast(index)) return slow(index);
    if (done_.contains(index)) return true;
    if (!under_way_.insert(index).second) return refuse("these gates feed themselves, and so keep a state");
    for (const int member : logic_.joined(index)) {
      if (!member_of(member)) return false;
    }
    under_way_.erase(index);
    done_.insert(index);
    return true;
  }

  bool member_of(int index) {
    if (logic_.rail(index)) return true;
    if (!logic_.fast(index)) return slow(index);
    for (const PinRef ref : logic_.nets_.all()[static_cast<std::size_t>(index)].pins) {
      const PinSpec& what = logic_.pin(ref);
      if (ref.chip >= 0 && logic_.contact(ref.chip)) {
        const auto& links = logic_.type(ref.chip).links;
        for (int link = 0; link < static_cast<int>(links.size()); ++link) {
          const LinkSpec& of = links[static_cast<std::size_t>(link)];
          if (of.pin_a == ref.pin || of.pin_b == ref.pin) add({-1, ref.chip, link});
        }
      }
      if (logic_.line_of(ref) || !drives(what.kind)) continue;
      chain_.push_back(ref);
      if (ref.chip < 0) {
        return refuse(own_data_line(logic_.spec_, ref) >= 0
                          ? "what is on a data line comes too late to select a chip"
                          : "only address lines, R/W, VMA, E, Q, BA and BS can select a chip");
      }
      const ChipType& type = logic_.type(ref.chip);
      if (!type.logic) {
        return refuse(logic_.spec_.name_of(ref.chip) + " drives the same wire as the logic that selects");
      }
      auto& gates = logic_.gates_[place_];
      const auto same = [&](PinRef gate) { return gate.chip == ref.chip && gate.pin == ref.pin; };
      if (std::none_of(gates.begin(), gates.end(), same)) gates.push_back(ref);
      for (const int in : logic_.inputs_of(ref)) {
        if (!net(logic_.nets_.index_at({ref.chip, in}))) return false;
      }
      chain_.pop_back();
    }
    return true;
  }

  bool slow(int index) {
    if (const auto carrier = logic_.carried_by(index)) {
      chain_.push_back(carrier->first);
      return refuse(carrier->second);
    }
    add({index, -1, -1});
    return true;
  }

  void add(const Slow& line) {
    if (std::find(logic_.slow_.begin(), logic_.slow_.end(), line) == logic_.slow_.end()) logic_.slow_.push_back(line);
  }

  bool refuse(std::string why) {
    logic_.refusals_.push_back({start_, chain_, std::move(why)});
    return false;
  }

  SelectLogic& logic_;
  const std::size_t place_;
  PinRef start_;
  std::vector<PinRef> chain_;
  std::set<int> under_way_, done_;
};

void SelectLogic::walk() {
  gates_.resize(chips_.size());
  refused_.resize(chips_.size());
  for (std::size_t place = 0; place < chips_.size(); ++place) {
    const int chip = chips_[place];
    Walk walk(*this, place);
    for (int at = 0; at < static_cast<int>(type(chip).pins.size()) && refused_[place] == 0; ++at) {
      const BusRole role = pin({chip, at}).role;
      if (role == BusRole::none || role == BusRole::data) continue;
      if (!walk.from({chip, at})) refused_[place] = 1;
    }
  }
}

std::vector<PinRef> SelectLogic::gates(int chip) const {
  const auto place = std::find(chips_.begin(), chips_.end(), chip);
  return place == chips_.end() ? std::vector<PinRef>() : gates_[static_cast<std::size_t>(place - chips_.begin())];
}

// ---------------------------------------------------------------------------------------------------------------------
// What it does

/// The levels of nets in one kind of cycle, at one moment of it, for all addresses.
class SelectLogic::Evaluation {
 public:
  struct Moment {
    bool rw = true, vma = true, e = true, q = false, bs = false;
  };

  Evaluation(const SelectLogic& logic, std::span<const Logic> slow, const Moment& moment)
      : logic_(logic), moment_(moment), tables_(logic.nets_.all().size()), known_(tables_.size(), 0) {
    for (std::size_t i = 0; i < logic.slow_.size(); ++i) {
      const Slow& line = logic.slow_[i];
      if (line.net >= 0) {
        levels_[line.net] = slow[i];
      } else if (slow[i] == Logic::high) {
        closed_.emplace(line.chip, line.link);
      }
    }
  }

  const Table& net(int index) {
    static const Table kOpen = Table::constant(Logic::off);
    if (index < 0) return kOpen;
    const auto at = static_cast<std::size_t>(index);
    if (known_[at] == 0) {
      known_[at] = 1;  // a ring was refused before
      tables_[at] = find(index);
    }
    return tables_[at];
  }

 private:
  Table find(int index) {
    if (const auto volts = logic_.rail(index)) return Table::constant(to_logic(*volts >= kInputHigh));
    if (!logic_.fast(index)) {
      const auto level = levels_.find(index);
      return Table::constant(level == levels_.end() ? Logic::off : level->second);
    }
    std::vector<Table> drivers;
    std::optional<Logic> pulled;
    for (const int member : closed_with(index)) {
      if (const auto volts = logic_.rail(member)) {
        drivers.push_back(Table::constant(to_logic(*volts >= kInputHigh)));
        continue;
      }
      if (!logic_.fast(member)) {
        drivers.push_back(net(member));
        continue;
      }
      for (const PinRef ref : logic_.nets_.all()[static_cast<std::size_t>(member)].pins) {
        if (const auto line = logic_.line_of(ref)) {
          drivers.push_back(of(*line));
        } else if (ref.chip >= 0 && logic_.type(ref.chip).logic && drives(logic_.pin(ref).kind)) {
          drivers.push_back(output(ref));
        } else if (const auto level = pull(ref)) {
          // A pull-up and a pull-down: an input in between reads high.
          pulled = pulled == Logic::high ? Logic::high : *level;
        }
      }
    }
    return join(drivers, pulled.value_or(Logic::off));
  }

  /// The net and those that closed contacts join with it now. Rails end it.
  std::vector<int> closed_with(int index) const {
    std::vector<int> all{index};
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (logic_.rail(all[i])) continue;
      for (const PinRef ref : logic_.nets_.all()[static_cast<std::size_t>(all[i])].pins) {
        if (ref.chip < 0 || !logic_.contact(ref.chip)) continue;
        const auto& links = logic_.type(ref.chip).links;
        for (int link = 0; link < static_cast<int>(links.size()); ++link) {
          const LinkSpec& of = links[static_cast<std::size_t>(link)];
          if ((of.pin_a != ref.pin && of.pin_b != ref.pin) || !closed_.contains({ref.chip, link})) continue;
          const int other = logic_.nets_.index_at({ref.chip, of.pin_a == ref.pin ? of.pin_b : of.pin_a});
          if (other >= 0 && std::find(all.begin(), all.end(), other) == all.end()) all.push_back(other);
        }
      }
    }
    return all;
  }

  Table of(const Line& line) const {
    switch (line.kind) {
      case Line::Kind::address: return {static_cast<std::uint16_t>(1U << line.bit), {Logic::low, Logic::high}};
      case Line::Kind::rw: return Table::constant(to_logic(moment_.rw));
      case Line::Kind::vma: return Table::constant(to_logic(moment_.vma));
      case Line::Kind::e: return Table::constant(to_logic(moment_.e));
      case Line::Kind::q: return Table::constant(to_logic(moment_.q));
      case Line::Kind::bs: return Table::constant(to_logic(moment_.bs));
      case Line::Kind::ba: break;  // high only while the processor has no cycles
    }
    return Table::constant(Logic::low);
  }

  /// What a resistor to a rail, or one inside the pin, makes of a net that nobody drives.
  std::optional<Logic> pull(PinRef ref) const {
    if (logic_.pin(ref).pull_up > 0) return Logic::high;
    if (ref.chip < 0 || logic_.contact(ref.chip)) return std::nullopt;
    for (const LinkSpec& link : logic_.type(ref.chip).links) {
      if (link.pin_a != ref.pin && link.pin_b != ref.pin) continue;
      const int other = logic_.nets_.index_at({ref.chip, link.pin_a == ref.pin ? link.pin_b : link.pin_a});
      if (other < 0) continue;
      if (const auto volts = logic_.rail(other)) return to_logic(*volts >= kInputHigh);
    }
    return std::nullopt;
  }

  Table output(PinRef ref) {
    const ChipType& type = logic_.type(ref.chip);
    const std::vector<int> inputs = logic_.inputs_of(ref);
    std::vector<const Table*> tables;
    for (const int in : inputs) tables.push_back(&net(logic_.nets_.index_at({ref.chip, in})));
    Table made{levels::joint_support(tables), {}};
    std::vector<Logic> pins(type.pins.size());
    each_address(made.support, [&](std::uint16_t address) {
      std::fill(pins.begin(), pins.end(), Logic::high);
      for (std::size_t i = 0; i < inputs.size(); ++i) {
        const Logic level = tables[i]->at(address);
        pins[static_cast<std::size_t>(inputs[i])] = known(level) ? level : Logic::high;
      }
      type.logic(pins);
      made.values.push_back(pins[static_cast<std::size_t>(ref.pin)]);
    });
    return made;
  }

  /// The low one wins where drivers disagree, as on a board.
  static Table join(const std::vector<Table>& drivers, Logic otherwise) {
    if (drivers.size() == 1 && otherwise == Logic::off) return drivers[0];
    std::vector<const Table*> tables;
    for (const Table& driver : drivers) tables.push_back(&driver);
    Table made{levels::joint_support(tables), {}};
    each_address(made.support, [&](std::uint16_t address) {
      Logic value = Logic::off;
      for (const Table* table : tables) {
        const Logic level = table->at(address);
        if (level == Logic::low || (level == Logic::high && value != Logic::low)) value = level;
      }
      made.values.push_back(value == Logic::off ? otherwise : value);
    });
    return made;
  }

  const SelectLogic& logic_;
  const Moment moment_;
  std::map<int, Logic> levels_;
  std::set<std::pair<int, int>> closed_;
  std::vector<Table> tables_;
  std::vector<char> known_;
};

namespace {

/// Bus pins of a chip, by what they are for, each with its levels at a moment.
struct Control {
  BusRole role = BusRole::none;
  std::uint8_t group = 0;
  Logic open = Logic::high;
  std::array<const Table*, 2 * kBusKinds + 1> at{};  // late by kind, early by kind, and `kMiddle`

  bool high(std::size_t moment, std::uint16_t address) const {
    const Logic level = at[moment]->at(address);
    return (known(level) ? level : open) == Logic::high;
  }
};
constexpr std::size_t kEarly = kBusKinds, kMiddle = 2 * kBusKinds;
constexpr std::size_t kWriteKind = static_cast<std::size_t>(BusKind::write);

class ChipEvaluation {
 public:
  ChipEvaluation(const ChipSpec& chip, std::vector<Control> controls, const std::array<std::uint8_t, 256>& lines_of)
      : bus_(chip.bus), controls_(std::move(controls)), lines_of_(lines_of) {
    for (const Control& control : controls_) {
      for (const Table* table : control.at) support_ |= table->support;
    }
    find_rest();
  }

  std::uint16_t support() const { return support_; }

  BusMode mode(std::uint16_t address, std::size_t kinds) const {
    BusMode mode;
    for (std::size_t kind = 0; kind < kBusKinds; ++kind) {
      if ((kinds >> kind & 1) == 0) continue;
      const auto bit = static_cast<std::uint8_t>(1U << kind);
      if (pulses(kind, address) && bus_.reads) mode.drives[kind] = driven(kind, address);
      if (!bus_.writes || !pulses(kind, address)) continue;
      bool stale = false;
      const bool late = taken(kind, kind, address, stale);
      const bool middle = kind == kWriteKind && taken(kMiddle, kind, address, stale);
      if (!late && !middle) continue;
      mode.takes |= bit;
      if (stale) mode.stale |= bit;
      bool any = false;
      if (!enabled_ && taken(kEarly + kind, kind, address, any)) mode.early |= bit;
    }
    return mode;
  }

 private:
  /// A strobe that a chip waits to rise rests at the level that it has most of the time.
  void find_rest() {
    for (const Control& control : controls_) {
      enabled_ = enabled_ || control.role == BusRole::enable;
      if (control.role != BusRole::write_rise) continue;
      std::size_t high = 0, all = 0;
      each_address(support_, [&](std::uint16_t address) {
        for (const std::size_t kind : {std::size_t{0}, kWriteKind}) {
          high += control.high(kind, address) ? 1 : 0;
          ++all;
        }
      });
      rests_high_ = 2 * high >= all;
    }
  }

  /// Whether E, where the chip has it, rises and falls in such a cycle.
  bool pulses(std::size_t kind, std::uint16_t address) const {
    return std::all_of(controls_.begin(), controls_.end(), [&](const Control& control) {
      return control.role != BusRole::enable || (control.high(kind, address) && !control.high(kEarly + kind, address));
    });
  }

  bool selected(std::size_t moment, std::uint16_t address) const {
    return std::all_of(controls_.begin(), controls_.end(), [&](const Control& control) {
      if (control.role == BusRole::select_high) return control.high(moment, address);
      return control.role != BusRole::select_low || !control.high(moment, address);
    });
  }

  /// Lines that it drives as E falls.
  std::uint8_t driven(std::size_t kind, std::uint16_t address) const {
    if (!selected(kind, address)) return 0;
    unsigned on = 0xFF;
    for (const Control& control : controls_) {
      const bool high = control.high(kind, address);
      if (control.role == BusRole::read_write && !high) return 0;
      if (control.role == BusRole::write_low && !high) return 0;
      if (control.role == BusRole::read_low && high) on &= ~unsigned{lines_of_[control.group]};
    }
    return static_cast<std::uint8_t>(on & lines_of_[0]);
  }

  bool taken(std::size_t moment, std::size_t kind, std::uint16_t address, bool& stale) const {
    if (!selected(moment, address)) return false;
    bool any = false;
    for (const Control& control : controls_) {
      const bool high = control.high(moment, address);
      switch (control.role) {
        case BusRole::read_write:
        case BusRole::write_low:
          if (high) return false;
          any = true;
          break;
        case BusRole::write_high:
          if (!high) return false;
          any = true;
          break;
        case BusRole::write_rise:
          if (high == rests_high_) return false;
          // Back to its rest with the end of the cycle, or away from it before the data are there.
          stale = stale || (!rests_high_ && moment == kind);
          any = true;
          break;
        default: break;
      }
    }
    return any;
  }

  const BusSpec& bus_;
  const std::vector<Control> controls_;
  const std::array<std::uint8_t, 256>& lines_of_;
  std::uint16_t support_ = 0;
  bool enabled_ = false, rests_high_ = true;
};

bool spans_halves(const Table& table) { return (table.support & 0xFF) != 0 && (table.support & 0xFF00) != 0; }

/// Bits that depend on both halves of the address come last.
void add_bits(CellIndex& cells, const Table& table, Logic open, std::uint16_t bits) {
  const auto high = [&](std::uint16_t address) {
    const Logic level = table.at(address);
    return (known(level) ? level : open) == Logic::high;
  };
  const bool both = spans_halves(table);
  for (std::uint32_t i = 0; i < (both ? 65536U : 256U); ++i) {
    const auto at = static_cast<std::uint16_t>(i);
    if (both) {
      if (high(at)) cells.add_full(at, bits);
    } else if ((table.support & 0xFF00) != 0) {
      if (high(static_cast<std::uint16_t>(at << 8))) cells.add_high(static_cast<std::uint8_t>(at), bits);
    } else if (high(at)) {
      cells.add_low(static_cast<std::uint8_t>(at), bits);
    }
  }
}

}  // namespace

std::vector<WiredPlace> SelectLogic::places(std::span<const Logic> slow) const {
  const bool has_vma = spec_.cpu->chip.pin("VMA") >= 0, has_bs = spec_.cpu->chip.pin("BS") >= 0;
  using Moment = Evaluation::Moment;
  constexpr std::array<Moment, kBusKinds> kKinds{Moment{}, Moment{.rw = false}, Moment{.vma = false},
                                                 Moment{.bs = true}};
  std::vector<Evaluation> moments;
  for (const Moment& late : kKinds) moments.emplace_back(*this, slow, late);
  for (Moment early : kKinds) {
    early.e = false;
    moments.emplace_back(*this, slow, early);
  }
  Moment middle = kKinds[kWriteKind];
  middle.q = true;
  moments.emplace_back(*this, slow, middle);

  std::vector<WiredPlace> places;
  for (std::size_t i = 0; i < chips_.size(); ++i) {
    const ChipSpec& chip = spec_.chips[static_cast<std::size_t>(chips_[i])];
    WiredPlace& place = places.emplace_back();
    place.chip = chips_[i];
    place.line.fill(-1);
    place.modes.emplace_back();
    place.mode_at.assign(65536, 0);
    place.cells.emplace_back();

    std::array<std::uint8_t, 256> lines_of{};  // by group; 0: all
    std::vector<Control> controls;
    std::vector<PinRef> address_pins;
    for (int at = 0; at < static_cast<int>(chip.type->pins.size()); ++at) {
      const PinRef ref{chips_[i], at};
      const PinSpec& what = pin(ref);
      if (what.role == BusRole::none) continue;
      if (what.role != BusRole::data && refused_[i] != 0) continue;  // there may be a ring
      if (what.role == BusRole::address) {
        address_pins.push_back(ref);
        continue;
      }
      if (what.role != BusRole::data) {
        Control control{what.role, what.group, open_level(ref), {}};
        for (std::size_t m = 0; m < moments.size(); ++m) control.at[m] = &moments[m].net(nets_.index_at(ref));
        controls.push_back(control);
        continue;
      }
      const int line = data_line_on(spec_, nets_, ref);
      if (line < 0 || (lines_of[0] >> line & 1) != 0) {
        if (what.kind == PinKind::input && open_level(ref) == Logic::high) {
          place.open_ones = static_cast<std::uint8_t>(place.open_ones | 1U << what.bit);
        }
        continue;
      }
      place.line[what.bit] = static_cast<std::int8_t>(line);
      const auto mask = static_cast<std::uint8_t>(1U << line);
      lines_of[0] |= mask;
      if (what.group != 0) lines_of[what.group] |= mask;
    }
    if (refused_[i] != 0) continue;
    const std::size_t kinds = 3U | (has_vma ? 4U : 0U) | (has_bs ? 8U : 0U);
    const ChipEvaluation evaluation(chip, std::move(controls), lines_of);
    std::map<BusMode, std::uint8_t> numbers{{BusMode{}, 0}};
    std::vector<std::uint8_t> found;  // by place among the addresses of the support
    each_address(evaluation.support(), [&](std::uint16_t address) {
      BusMode mode = evaluation.mode(address, kinds);
      if (!has_bs) {
        mode.drives[3] = mode.drives[0];
        mode.takes = static_cast<std::uint8_t>((mode.takes & 7U) | (mode.takes & 1U) << 3);
      }
      const auto [number, fresh] = numbers.try_emplace(mode, static_cast<std::uint8_t>(place.modes.size()));
      if (fresh) place.modes.push_back(mode);
      found.push_back(number->second);
    });
    CellIndex spread;  // of an address, its place in `found`
    unsigned weight = 1;
    for (unsigned line = 0; line < 16; ++line) {
      if ((evaluation.support() >> line & 1) == 0) continue;
      for (unsigned half = 0; half < 256; ++half) {
        if ((half >> (line % 8) & 1) == 0) continue;
        if (line < 8)
          spread.add_low(static_cast<std::uint8_t>(half), static_cast<std::uint16_t>(weight));
        else
          spread.add_high(static_cast<std::uint8_t>(half), static_cast<std::uint16_t>(weight));
      }
      weight <<= 1;
    }
    for (std::uint32_t address = 0; address < 65536; ++address) {
      place.mode_at[address] = found[spread.at(static_cast<std::uint16_t>(address))];
    }

    for (std::size_t kind = 0; kind < kBusKinds; ++kind) {
      CellIndex cells;
      for (const bool both : {false, true}) {
        for (const PinRef ref : address_pins) {
          const Table& table = moments[kind].net(nets_.index_at(ref));
          if (spans_halves(table) != both) continue;
          add_bits(cells, table, open_level(ref), static_cast<std::uint16_t>(1U << pin(ref).bit));
        }
      }
      if (kind == 0) place.cells[0] = cells;
      const auto same = std::find(place.cells.begin(), place.cells.end(), cells);
      place.cells_of[kind] = static_cast<std::uint8_t>(same - place.cells.begin());
      if (same == place.cells.end()) place.cells.push_back(std::move(cells));
    }
  }
  return places;
}

int SelectLogic::data_line(PinRef ref) const { return data_line_on(spec_, nets_, ref); }

std::vector<std::vector<Logic>> SelectLogic::states() const {
  constexpr std::size_t kFew = 5;
  const std::size_t lines = slow_.size();
  std::vector<std::vector<Logic>> list;
  if (lines <= kFew) {
    for (unsigned number = 0; number < 1U << lines; ++number) {
      auto& state = list.emplace_back();
      for (std::size_t i = 0; i < lines; ++i) state.push_back(to_logic((number >> i & 1) != 0));
    }
    return list;
  }
  list.emplace_back(lines, Logic::low);
  list.emplace_back(lines, Logic::high);
  for (std::size_t i = 0; i < std::min<std::size_t>(lines, 16); ++i) {
    list.emplace_back(lines, Logic::low)[i] = Logic::high;
    list.emplace_back(lines, Logic::high)[i] = Logic::low;
  }
  return list;
}

std::vector<SelectLogic::Seen> SelectLogic::levels(int chip, std::span<const Logic> slow, bool e) const {
  std::vector<Seen> list;
  Evaluation read(*this, slow, {.e = e}), write(*this, slow, {.rw = false, .e = e});
  for (int at = 0; at < static_cast<int>(type(chip).pins.size()); ++at) {
    const PinRef ref{chip, at};
    const BusRole role = pin(ref).role;
    if (role == BusRole::none || role == BusRole::data || role == BusRole::address) continue;
    Seen seen{ref};
    for (Evaluation* moment : {&read, &write}) {
      for (Logic level : moment->net(nets_.index_at(ref)).values) {
        if (!known(level)) level = open_level(ref);
        (level == Logic::high ? seen.high : seen.low) = true;
      }
    }
    list.push_back(seen);
  }
  return list;
}

}  // namespace prewire
