#include "prewire/waveform.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <iterator>
#include <optional>
#include <set>
#include <tuple>
#include <utility>

#include "prewire/machine.h"
#include "prewire/text.h"

namespace prewire {

namespace {

constexpr std::size_t kWord = SIZE_MAX;  // a change of all bits of a signal
constexpr std::size_t kFewest = 3;       // numbered nets that make a bus; CA1 and CA2 are none
constexpr std::string_view kBoard = "board";

char letter(const NetState& state) {
  if (state.strength == Strength::contended) return 'x';
  switch (state.level) {
    case Level::low: return '0';
    case Level::high: return '1';
    case Level::floating: return 'z';
    case Level::unknown: break;
  }
  return 'x';
}

std::string binary(unsigned value, int width) { return fmt::format("{:0{}b}", value, width); }

/// "PA0" into "PA" and 0; empty if there is no such number.
std::optional<std::pair<std::string, int>> numbered(std::string_view name) {
  std::size_t digits = 0;
  while (digits < name.size() && std::isdigit(static_cast<unsigned char>(name[name.size() - 1 - digits]))) ++digits;
  if (digits == 0 || digits > 3 || digits == name.size()) return std::nullopt;
  const std::string_view number = name.substr(name.size() - digits);
  if (digits > 1 && number[0] == '0') return std::nullopt;
  int value = 0;
  for (const char digit : number) value = value * 10 + (digit - '0');
  return std::pair(std::string(name.substr(0, name.size() - digits)), value);
}

/// A simple identifier (clause 2.7): letters, digits and underscores, no digit first.
std::string identifier(std::string_view name) {
  std::string result;
  // What tells the two inputs of a comparator or converter apart.
  std::string_view sign;
  if (name.size() > 1 && (name.back() == '+' || name.back() == '-')) {
    sign = name.back() == '+' ? "_plus" : "_minus";
    name.remove_suffix(1);
  }
  for (const char c : name) result += std::isalnum(static_cast<unsigned char>(c)) ? c : '_';
  result += sign;
  if (result.empty() || std::isdigit(static_cast<unsigned char>(result[0]))) result.insert(0, "pin");
  return result;
}

/// "PIA.PA0" into "PIA" and "PA0"; a label has no scope.
std::pair<std::string, std::string> split(std::string_view name) {
  const auto dot = name.find('.');
  if (dot == std::string_view::npos) return {"", std::string(name)};
  return {std::string(name.substr(0, dot)), std::string(name.substr(dot + 1))};
}

}  // namespace

/// Finds out which signals there are.
class WaveformSignals {
 public:
  explicit WaveformSignals(Waveform& wave) : wave_(wave), machine_(wave.machine_), nets_(machine_.nets()) {
    chips_ = machine_.chips();
    chips_.push_back(machine_.processor());
  }

  void add_all() {
    for (const NetView& net : nets_) {
      if (!net.rail) wanted_.push_back({std::string(net.name), &net});
    }
    for (const ChipView& chip : chips_) add_events(chip);
    make();
  }

  void add(const std::vector<std::string>& chosen) {
    std::vector<Fault> faults;
    for (const std::string& name : chosen) {
      if (add_bus_part(name) || add_chip(name) || add_event(name) || add_numbered(name)) continue;
      if (machine_.net_trouble(name).empty()) {
        wanted_.push_back({name, net_of(name)});
        continue;
      }
      Fault fault;
      fault.id = "unknown-signal";
      fault.what = "there is nothing of that name to show";
      fault.expected = "a net, a pin, pins such as PIA.PA, a chip, or an event of one";
      fault.found = name;
      fault.hint = machine_.net_trouble(name);
      faults.push_back(std::move(fault));
    }
    if (!faults.empty()) throw InputError(std::move(faults));
    make();
  }

 private:
  struct Wanted {
    std::string name;    // as it is shown
    const NetView* net;  // null: a pin that is on no net
  };

  bool is_processor(const ChipView& chip) const { return chip.name == machine_.processor().name; }

  const NetView* net_of(std::string_view name) const {
    for (const NetView& net : nets_) {
      if (net.name == name) return &net;
      for (const NetView::Pin& pin : net.pins) {
        if (pin_name(pin) == name) return &net;
      }
    }
    return nullptr;
  }
  std::string pin_name(const NetView::Pin& pin) const {
    const ChipView& chip = pin.chip < 0 ? chips_.back() : chips_[static_cast<std::size_t>(pin.chip)];
    return fmt::format("{}.{}", chip.name, chip.type->pins[static_cast<std::size_t>(pin.pin)].name);
  }

  void add_part(Waveform::BusPart part, std::string_view name, int width) {
    for (const auto& [known, signal] : wave_.bus_) {
      if (known == part) return;
    }
    wave_.bus_.emplace_back(part, wave_.signals_.size());
    Waveform::Signal signal;
    signal.scope = machine_.processor().name;
    signal.name = name;
    signal.high = width - 1;
    signal.bits = std::string(static_cast<std::size_t>(width), 'x');
    wave_.signals_.push_back(std::move(signal));
  }

  /// The processor's address and data lines and what it says about them are known at each cycle, wired or not.
  bool add_bus_part(std::string_view name) {
    const ChipView processor = machine_.processor();
    const auto parts = split(name);
    const std::string &chip = parts.first, &part = parts.second;
    const bool all = name == processor.name;
    if (!all && chip != processor.name) return false;
    bool any = false;
    const auto offer = [&](Waveform::BusPart which, std::string_view as, std::string_view pin, int width) {
      if ((!all && part != as) || processor.type->pin(pin) < 0) return;
      add_part(which, as, width);
      any = true;
    };
    offer(Waveform::BusPart::address, "A", "A0", 16);
    offer(Waveform::BusPart::data, "D", "D0", 8);
    offer(Waveform::BusPart::rw, "R/W", "R/W", 1);
    offer(Waveform::BusPart::vma, "VMA", "VMA", 1);
    offer(Waveform::BusPart::ba, "BA", "BA", 1);
    offer(Waveform::BusPart::bs, "BS", "BS", 1);
    return any && !all;
  }

  /// Pins of a chip that are wired, but for what is known better.
  bool add_chip(std::string_view name) {
    for (const ChipView& chip : chips_) {
      if (chip.name != name) continue;
      for (const PinSpec& pin : chip.type->pins) {
        const std::string full = fmt::format("{}.{}", chip.name, pin.name);
        const NetView* net = net_of(full);
        const bool known =
            is_processor(chip) && (pin.name == "R/W" || pin.name == "VMA" || pin.name == "BA" || pin.name == "BS");
        if (net != nullptr && !net->rail && !known) wanted_.push_back({full, net});
      }
      add_events(chip);
      return true;
    }
    return false;
  }

  void add_events(const ChipView& chip) {
    for (const std::string_view event : chip.type->events) events_.insert(fmt::format("{}.{}", chip.name, event));
  }

  bool add_event(std::string_view name) {
    for (const ChipView& chip : chips_) {
      for (const std::string_view event : chip.type->events) {
        if (name != fmt::format("{}.{}", chip.name, event)) continue;
        events_.emplace(name);
        return true;
      }
    }
    return false;
  }

  /// "PIA.PA" for PIA.PA0 to PIA.PA7, "ROW" for the labels ROW0 to ROW3.
  bool add_numbered(std::string_view stem) {
    std::vector<std::pair<int, std::string>> found;
    const auto offer = [&](const std::string& name) {
      const auto parts = numbered(name);
      if (parts && parts->first == stem) found.emplace_back(parts->second, name);
    };
    for (const ChipView& chip : chips_) {
      for (const PinSpec& pin : chip.type->pins) offer(fmt::format("{}.{}", chip.name, pin.name));
    }
    for (const NetView& net : nets_) {
      if (net.name.find('.') == std::string_view::npos) offer(std::string(net.name));
    }
    std::sort(found.begin(), found.end());
    for (const auto& [number, name] : found) wanted_.push_back({name, net_of(name)});
    return !found.empty();
  }

  bool analog(const NetView& net) const {
    return std::any_of(net.pins.begin(), net.pins.end(), [&](const NetView::Pin& pin) {
      if (pin.chip < 0) return false;
      const ChipType& type = *chips_[static_cast<std::size_t>(pin.chip)].type;
      return type.looks == Looks::knob || type.pins[static_cast<std::size_t>(pin.pin)].kind == PinKind::analog_in;
    });
  }

  /// Signals of all that is wanted: numbered nets of one place as a bus, the others alone.
  void make() {
    std::map<std::string, std::map<int, const Wanted*>> groups;
    std::set<std::string> seen;
    std::vector<const Wanted*> once;
    for (const Wanted& wanted : wanted_) {
      if (!seen.insert(wanted.name).second) continue;
      once.push_back(&wanted);
      if (const auto parts = numbered(wanted.name)) groups[parts->first].emplace(parts->second, &wanted);
    }
    std::erase_if(groups, [](const auto& group) {
      const auto& members = group.second;
      const auto span = static_cast<std::size_t>(members.rbegin()->first - members.begin()->first) + 1;
      return members.size() < kFewest || span != members.size();
    });
    std::set<std::string> made;
    for (const Wanted* wanted : once) {
      const auto parts = numbered(wanted->name);
      const auto group = parts ? groups.find(parts->first) : groups.end();
      if (group == groups.end()) {
        make_signal(wanted->name, 0, {wanted});
      } else if (made.insert(group->first).second) {
        std::vector<const Wanted*> bits;
        for (const auto& [number, member] : group->second) bits.insert(bits.begin(), member);
        make_signal(group->first, group->second.begin()->first, bits);
      }
      if (wanted->net != nullptr && analog(*wanted->net)) make_real(*wanted);
    }
    for (const std::string& event : events_) {
      Waveform::Signal signal = named(event);
      signal.event = true;
      signal.bits = signal.written = "0";
      wave_.events_.emplace(event, wave_.signals_.size());
      wave_.signals_.push_back(std::move(signal));
    }
  }

  Waveform::Signal named(std::string_view name) const {
    Waveform::Signal signal;
    std::tie(signal.scope, signal.name) = split(name);
    return signal;
  }

  void make_signal(std::string_view name, int low, const std::vector<const Wanted*>& bits) {
    Waveform::Signal signal = named(name);
    signal.low = low;
    signal.high = low + static_cast<int>(bits.size()) - 1;
    for (std::size_t bit = 0; bit < bits.size(); ++bit) {
      const Wanted& wanted = *bits[bit];
      const std::string net = wanted.net == nullptr ? wanted.name : std::string(wanted.net->name);
      wave_.nets_[net].push_back({wave_.signals_.size(), bit});
      signal.bits += letter(machine_.net(net).value_or(NetState{}));
    }
    wave_.signals_.push_back(std::move(signal));
  }

  void make_real(const Wanted& wanted) {
    Waveform::Signal signal = named(wanted.name);
    signal.name = identifier(signal.name) + "_volts";
    signal.real = true;
    signal.microvolts = machine_.net(wanted.net->name).value_or(NetState{}).microvolts;
    wave_.nets_[std::string(wanted.net->name)].push_back({wave_.signals_.size(), 0});
    wave_.signals_.push_back(std::move(signal));
  }

  Waveform& wave_;
  const Machine& machine_;
  std::vector<NetView> nets_;
  std::vector<ChipView> chips_;  // the processor last
  std::vector<Wanted> wanted_;
  std::set<std::string> events_;
};

Waveform::Waveform(const Machine& machine, const std::vector<std::string>& chosen, Write write)
    : machine_(machine), write_(std::move(write)) {
  WaveformSignals signals(*this);
  if (chosen.empty()) {
    signals.add_all();
  } else {
    signals.add(chosen);
  }
  write_header();
}

// ---------------------------------------------------------------------------------------------------------------------
// Writing

/// Identifier codes are of the printable characters from ! to ~ (clause 18.2.1).
std::string Waveform::code(std::size_t signal) const {
  std::string text;
  do {
    text += static_cast<char>('!' + signal % 94);
    signal /= 94;
  } while (signal-- > 0);
  return text;
}

void Waveform::write_header() {
  // A quarter cycle in femtoseconds, if that is a whole number: then the unit can be chosen to make all times exact,
  // and fine enough to tell what happens within one moment.
  constexpr std::int64_t kFine = 10;
  constexpr std::int64_t kQuarters = 250'000'000'000'000'000;  // femtoseconds per second times 1000, over 4
  const std::int64_t millihertz = machine_.timebase().millihertz();
  std::int64_t unit = 1;  // femtoseconds
  if (kQuarters % millihertz == 0) {
    step_ = kQuarters / millihertz;
    for (; step_ % 10 == 0 && step_ / 10 >= kFine && unit < 100'000'000'000'000; unit *= 10) step_ /= 10;
  } else {
    step_ = 0;
    unit = 1000;
  }
  const std::int64_t quarter = step_ > 0 ? step_ : kQuarters / 1000 / millihertz;
  glint_ = std::max<std::int64_t>(1, quarter / 25);
  most_glints_ = (quarter - 1) / glint_;
  static constexpr const char* kUnits[] = {"fs", "ps", "ns", "us", "ms"};
  std::size_t prefix = 0;
  for (; unit >= 1000; unit /= 1000) ++prefix;

  std::string title;
  for (const char c : printable(machine_.title())) title += c == '$' ? '_' : c;  // which would end the comment
  std::string text(kMark);
  text += fmt::format("$comment {} $end\n$version Prewire $end\n$timescale {} {} $end\n", title, unit, kUnits[prefix]);
  text += fmt::format("$scope module {} $end\n", kBoard);

  std::map<std::string, std::vector<std::size_t>> scopes;  // labels, without a scope, come first
  for (std::size_t i = 0; i < signals_.size(); ++i) scopes[signals_[i].scope].push_back(i);
  for (const auto& [scope, members] : scopes) {
    if (!scope.empty()) text += fmt::format("$scope module {} $end\n", identifier(scope));
    std::set<std::string> names;
    for (const std::size_t i : members) {
      const Signal& signal = signals_[i];
      std::string name = identifier(signal.name);
      while (!names.insert(name).second) name += '_';
      const std::size_t width = signal.real ? 64 : signal.bits.size();
      const char* kind = signal.real ? "real" : signal.event ? "event" : "wire";
      text += fmt::format("$var {} {} {} {}", kind, width, code(i), name);
      if (!signal.real && width > 1) text += fmt::format(" [{}:{}]", signal.high, signal.low);
      text += " $end\n";
    }
    if (!scope.empty()) text += "$upscope $end\n";
  }
  text += "$upscope $end\n$enddefinitions $end\n";
  write_moment(machine_.moment(), 0, text);
  text += "$dumpvars\n";
  for (std::size_t i = 0; i < signals_.size(); ++i) {
    if (!signals_[i].event) write_signal(i, text);
  }
  text += "$end\n";
  write_(text);
}

void Waveform::write_moment(Stamp when, std::int64_t glints, std::string& text) {
  // A run may be longer than what picoseconds in 64 bits tell.
  __extension__ using Wide = __int128;
  constexpr Wide kPerSecond = 1'000'000'000'000'000;  // times 1000, against millihertz
  const Wide quarters = 4 * static_cast<Wide>(machine_.timebase().millihertz());
  const Wide time = step_ > 0 ? when * static_cast<Wide>(step_) : (when * kPerSecond + quarters / 2) / quarters;
  text += fmt::format("#{}\n", time + glints * glint_);
  written_until_ = when;
}

void Waveform::write_signal(std::size_t index, std::string& text) {
  Signal& signal = signals_[index];
  if (signal.real) {
    text += fmt::format("r{:.6g} {}\n", signal.microvolts / 1e6, code(index));
    signal.written_microvolts = signal.microvolts;
    return;
  }
  if (signal.event) {
    text += fmt::format("1{}\n", code(index));
    signal.bits = signal.written;
    return;
  }
  if (signal.bits.size() == 1) {
    text += fmt::format("{}{}\n", signal.bits, code(index));
  } else {
    text += fmt::format("b{} {}\n", signal.bits, code(index));
  }
  signal.written = signal.bits;
}

/// Whether the change makes a signal what it is not.
bool Waveform::differs(const Change& change) const {
  const Signal& signal = signals_[change.signal];
  if (signal.real) return signal.microvolts != change.microvolts;
  if (change.bit == kWord) return signal.event || signal.bits != change.bits;
  return signal.bits[change.bit] != change.bits[0];
}

/// Whether there is still to be written what the change would wipe out.
bool Waveform::waits(const Change& change) const {
  const Signal& signal = signals_[change.signal];
  if (signal.real) return signal.microvolts != signal.written_microvolts;
  if (change.bit == kWord) return signal.bits != signal.written;
  return signal.bits[change.bit] != signal.written[change.bit];
}

void Waveform::apply(const Change& change) {
  Signal& signal = signals_[change.signal];
  if (signal.real) {
    signal.microvolts = change.microvolts;
  } else if (change.bit == kWord) {
    signal.bits = change.bits;
  } else {
    signal.bits[change.bit] = change.bits[0];
  }
  if (!std::exchange(signal.changed, true)) changed_.push_back(change.signal);
}

void Waveform::write_changed(Stamp when, std::int64_t glints, std::string& text) {
  bool any = false;
  for (const std::size_t index : changed_) {
    Signal& signal = signals_[index];
    signal.changed = false;
    const bool same = signal.real ? signal.microvolts == signal.written_microvolts : signal.bits == signal.written;
    if (same) continue;
    if (!std::exchange(any, true)) write_moment(when, glints, text);
    write_signal(index, text);
  }
  changed_.clear();
}

/// Writes all changes before a moment. What changes again within one moment does so a little later each time.
void Waveform::write_until(Stamp end) {
  // What the processor's bus shows is told last, and comes first.
  std::stable_sort(changes_.begin(), changes_.end(), [this](const Change& a, const Change& b) {
    const auto of_bus = [this](const Change& change) { return change.bit == kWord && !signals_[change.signal].event; };
    return a.when != b.when ? a.when < b.when : of_bus(a) && !of_bus(b);
  });
  std::string text;
  std::size_t done = 0;
  while (done < changes_.size() && changes_[done].when < end) {
    const Stamp when = changes_[done].when;
    std::int64_t glints = 0;
    for (; done < changes_.size() && changes_[done].when == when; ++done) {
      const Change& change = changes_[done];
      if (!differs(change)) continue;
      if (waits(change) && glints < most_glints_) write_changed(when, glints++, text);
      apply(change);
    }
    write_changed(when, glints, text);
  }
  changes_.erase(changes_.begin(), changes_.begin() + static_cast<std::ptrdiff_t>(done));
  if (!text.empty()) write_(text);
}

void Waveform::on_net(std::string_view net, const NetState& state, Stamp when) {
  const auto found = nets_.find(net);
  if (found == nets_.end()) return;
  // Without the processor's bus nothing that happens earlier can still be told.
  if (bus_.empty()) write_until(when);
  for (const Place& place : found->second) {
    changes_.push_back({when, place.signal, place.bit, std::string(1, letter(state)), state.microvolts});
  }
}

void Waveform::on_event(std::string_view chip, std::string_view event, std::int64_t /*value*/, Stamp when) {
  const auto found = events_.find(fmt::format("{}.{}", chip, event));
  if (found == events_.end()) return;
  if (bus_.empty()) write_until(when);
  changes_.push_back({when, found->second, kWord, "1", 0});
}

void Waveform::on_cycle(const BusCycle& cycle) {
  const Stamp valid = cycle.begin() + 1;
  for (const auto& [part, signal] : bus_) {
    const auto set = [&, index = signal](Stamp when, std::string bits) {
      changes_.push_back({when, index, kWord, std::move(bits), 0});
    };
    const auto line = [](bool high) { return std::string(1, high ? '1' : '0'); };
    switch (part) {
      case BusPart::address: set(valid, cycle.ba ? std::string(16, 'z') : binary(cycle.address, 16)); break;
      case BusPart::data: set(cycle.fall(), cycle.driven ? binary(cycle.data, 8) : std::string(8, 'z')); break;
      case BusPart::rw: set(valid, cycle.ba ? "z" : line(cycle.rw)); break;
      case BusPart::vma: set(valid, line(cycle.vma)); break;
      case BusPart::ba: set(valid, line(cycle.ba)); break;
      case BusPart::bs: set(valid, line(cycle.bs)); break;
    }
  }
  write_until(cycle.fall());
}

void Waveform::finish() {
  const Stamp end = machine_.moment();
  write_until(end + 1);
  if (written_until_ >= end) return;
  std::string text;
  write_moment(end, 0, text);
  write_(text);
}

}  // namespace prewire
