#include "lab/agenda.h"

#include <fmt/format.h>

#include <algorithm>
#include <initializer_list>
#include <string>
#include <utility>

#include "asm/vectors.h"
#include "description/fault_list.h"
#include "machine/inside.h"
#include "units/text.h"

namespace prewire {

namespace {

using Kind = ExpectationPlan::Kind;
using Course = StateTracker::Mode;

constexpr std::string_view kVectorPlace = " vector";
constexpr Picoseconds kUsualLength = 1'000'000'000'000;

/// Reads a plan as a machine understands it.
class AgendaMaker {
 public:
  AgendaMaker(const LabCheck::Plan& plan, Machine& machine, const std::vector<TimedInput>& inputs, const Onlooker& eye,
              std::vector<Fault>& faults)
      : plan_(plan), machine_(machine), inputs_(inputs), eye_(eye), faults_(faults) {}

  Agenda make() {
    for (const PowerCycle& cycle : plan_.power_cycles) {
      agenda_.switches.push_back({cycle_from(stamp(cycle.at)), cycle.seed});
      if (agenda_.switches.back().first == 0) {
        faults_.add("check-when", cycle.place, "the machine has just been switched on", "a moment after power-on", "0",
                    "");
      }
    }
    std::stable_sort(agenda_.switches.begin(), agenda_.switches.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    find_end();
    for (const ExpectationPlan& expectation : plan_.expectations) add(expectation);
    return std::move(agenda_);
  }

 private:
  Stamp stamp(const Moment& moment) const { return moment.stamp(machine_.timebase()); }

  /// The end is that of the check, or the last moment that it names.
  void find_end() {
    Stamp last = 0;
    for (const TimedInput& input : inputs_) last = std::max(last, input.when);
    for (const auto& [cycle, seed] : agenda_.switches) last = std::max(last, stamp_of(cycle));
    for (const ExpectationPlan& expectation : plan_.expectations) last = std::max(last, window_of(expectation).second);
    if (last == 0) last = machine_.timebase().stamps(kUsualLength);
    agenda_.end = plan_.length ? plan_.length->stamp_after(machine_.timebase()) : last;
    agenda_.end = stamp_of(cycle_from(agenda_.end));
    const std::string length = plan_.length ? to_string(*plan_.length) : "";
    const auto too_late = [&](const Place& place, const char* what) {
      faults_.add("check-when", place, fmt::format("{} comes after the end of the check", what),
                  fmt::format("a moment within the {} of \"for\"", length), "a later one", "make \"for\" longer");
    };
    for (const TimedInput& input : inputs_) {
      if (input.when > agenda_.end) return too_late(input.part_place, "a stimulus");
    }
    for (const ExpectationPlan& expectation : plan_.expectations) {
      if (window_of(expectation).second > agenda_.end) too_late(expectation.place, "an expectation");
    }
    for (const PowerCycle& cycle : plan_.power_cycles) {
      if (stamp(cycle.at) > agenda_.end) too_late(cycle.place, "a power cycle");
    }
  }

  /// The last quarter cycle that is not after the sum of the moments.
  Stamp before(std::initializer_list<std::optional<Moment>> moments) const {
    Moment cycles{0, true}, time{0, false};
    for (const auto& moment : moments) {
      if (!moment) continue;
      std::int64_t& sum = (moment->in_cycles ? cycles : time).count;
      sum = moment->count > kEndless - sum ? kEndless : sum + moment->count;
    }
    return cycles.stamp_before(machine_.timebase()) + time.stamp_before(machine_.timebase());
  }

  /// When an expectation begins to count, and the last moment that it needs. What is so at a moment has been so since
  /// the quarter cycle before it; what happens after a moment does so in the quarter cycle after it, or later.
  std::pair<Stamp, Stamp> window_of(const ExpectationPlan& expectation) const {
    if (expectation.at) return {before({expectation.at}), before({expectation.at, expectation.held})};
    const bool state = expectation.is_state() && expectation.at_place.text.empty();
    Stamp from = 0;
    if (expectation.from)
      from = state ? before({expectation.from}) : expectation.from->stamp_after(machine_.timebase());
    if (expectation.within) return {from, before({expectation.from, expectation.within, expectation.held})};
    return {from, std::max(from, before({expectation.to}))};
  }

  Window window(const ExpectationPlan& expectation, Course mode) const {
    const auto [from, last] = window_of(expectation);
    switch (mode) {
      case Course::at: {
        const Stamp held = expectation.at ? last - from : before({expectation.held});
        return {expectation.at ? from : agenda_.end - held, agenda_.end, held};
      }
      case Course::within: return {from, before({expectation.from, expectation.within}), before({expectation.held})};
      default: return {from, expectation.to ? last : agenda_.end, 0};
    }
  }

  std::optional<std::uint16_t> place_of(const Named& named) {
    const auto address = machine_.address_of(named.text);
    if (address) return address;
    if (named.text.ends_with(kVectorPlace)) return vector_place(named);
    std::vector<std::string> labels;
    for (const Image* image : machine_.programs()) {
      if (image->source == nullptr) continue;
      for (const SourceMap::Symbol& symbol : image->source->symbols) {
        if (symbol.kind != SourceMap::SymbolKind::macro) labels.push_back(symbol.name);
      }
    }
    faults_.add("unknown-place", named.place, fmt::format("there is no label {}", in_quotes(named.text)),
                labels.empty() ? "an address such as \"$F800\": the programs have no source" : "an address or a label",
                in_quotes(named.text), meant(named.text, labels, ""));
    return std::nullopt;
  }

  /// Where a vector points as power comes on: the first instruction of a handler, whatever its label is.
  std::optional<std::uint16_t> vector_place(const Named& named) {
    const std::string_view name(named.text.data(), named.text.size() - kVectorPlace.size());
    const assembler::Target* target = assembler::Target::find(machine_.processor().type->name);
    std::vector<std::string> names;
    for (const assembler::Vector& vector : assembler::kVectors) {
      if (vector.name.empty() || target == nullptr || !assembler::has_vector(target->family(), vector)) continue;
      if (vector.name == name) {
        return static_cast<std::uint16_t>(machine_.peek(vector.address) << 8 |
                                          machine_.peek(static_cast<std::uint16_t>(vector.address + 1)));
      }
      names.push_back(fmt::format("{}{}", vector.name, kVectorPlace));
    }
    faults_.add("unknown-place", named.place, fmt::format("the processor has no {}", in_quotes(named.text)),
                one_of(names), in_quotes(named.text), meant(named.text, names, ""));
    return std::nullopt;
  }

  NetId net_of(const Named& named) {
    std::string trouble;
    const NetId net = Inside::of(machine_).find_net(named.text, &trouble);
    if (net < 0) {
      faults_.add("unknown-net", named.place, fmt::format("there is no net {}", in_quotes(named.text)),
                  "a pin of this machine, or the label of a net", in_quotes(named.text), trouble);
    }
    return net;
  }

  /// The item that is about to be added hears when the program gets there.
  void visit_place(std::uint16_t address) {
    std::vector<std::size_t>& visitors = agenda_.visit_at[address];
    if (visitors.empty() || visitors.back() != agenda_.items.size()) visitors.push_back(agenda_.items.size());
    machine_.set_breakpoint(address, true);
  }

  void add(const ExpectationPlan& expectation) {
    Item item;
    item.plan = &expectation;
    if (expectation.is_state() && (expectation.kind != Kind::reached || expectation.never)) {
      add_state(expectation, item);
    } else {
      add_meter(expectation, item);
    }
    agenda_.items.push_back(std::move(item));
  }

  void add_state(const ExpectationPlan& expectation, Item& item) {
    const bool visits = !expectation.at_place.text.empty();
    const Course mode = expectation.never    ? Course::never
                        : expectation.within ? Course::within
                        : visits             ? Course::visits
                                             : Course::at;
    auto tracker = std::make_unique<StateTracker>(mode, window(expectation, mode));
    item.state = tracker.get();
    item.tracker = std::move(tracker);
    const bool once = mode == Course::at && !expectation.held;
    const Named& subject = expectation.subject;
    switch (expectation.kind) {
      case Kind::display: {
        item.feed = Item::Feed::eye;
        const std::vector<std::string> groups = machine_.displays();
        if (std::find(groups.begin(), groups.end(), subject.text) != groups.end()) break;
        faults_.add("unknown-display", subject.place,
                    groups.empty() ? "this machine has no digits"
                                   : fmt::format("there is no group of digits {}", in_quotes(subject.text)),
                    one_of(groups), in_quotes(subject.text), meant(subject.text, groups, ""));
        break;
      }
      case Kind::led: {
        item.feed = Item::Feed::eye;
        item.sight = "off";
        std::vector<std::string> names;
        for (const Onlooker::Lit& led : eye_.leds()) names.push_back(led.name);
        if (std::find(names.begin(), names.end(), subject.text) != names.end()) break;
        faults_.add(
            "unknown-led", subject.place,
            names.empty() ? "this machine has no LEDs" : fmt::format("there is no LED {}", in_quotes(subject.text)),
            one_of(names), in_quotes(subject.text), meant(subject.text, names, ""));
        break;
      }
      case Kind::net:
        // A look between two cycles does for a moment there.
        item.feed = once && item.state->window().from % 4 == 0 ? Item::Feed::sample : Item::Feed::edges;
        item.net = net_of(subject);
        break;
      case Kind::reached:
        item.feed = Item::Feed::places;
        item.address = place_of(subject).value_or(0);
        break;
      case Kind::memory: {
        item.feed = once ? Item::Feed::sample : Item::Feed::instructions;
        item.address = place_of(subject).value_or(0);
        if (item.address + std::max<std::size_t>(1, expectation.bytes.size()) > 0x10000) {
          faults_.add("bad-value", subject.place, "the bytes go beyond $FFFF", "fewer bytes, or a lower address",
                      std::to_string(expectation.bytes.size()), "");
        }
        break;
      }
      default: {
        item.feed = once ? Item::Feed::sample : Item::Feed::instructions;
        const auto registers = std::as_const(machine_).cpu().registers();
        std::vector<std::string> names;
        for (const RegisterInfo& info : registers) names.emplace_back(info.name);
        const auto found = std::find(names.begin(), names.end(), subject.text);
        if (found == names.end()) {
          faults_.add("unknown-register", subject.place,
                      fmt::format("there is no register {}", in_quotes(subject.text)), one_of(names),
                      in_quotes(subject.text), meant(subject.text, names, ""));
        }
        item.reg = static_cast<std::size_t>(found - names.begin());
        if (expectation.kind == Kind::stack) item.other = place_of(expectation.other).value_or(0);
        break;
      }
    }
    if (visits) {
      item.feed = Item::Feed::places;
      if (const auto place = place_of(expectation.at_place)) visit_place(*place);
    } else if (expectation.kind == Kind::reached) {
      visit_place(item.address);
    }
  }

  void add_meter(const ExpectationPlan& expectation, Item& item) {
    const Window range = window(expectation, Course::never);
    const Timebase& timebase = machine_.timebase();
    const SpanBounds& spans = expectation.spans;
    const SpanJudge judge(spans.least ? spans.least->stamp_after(timebase) : 0,
                          spans.most ? spans.most->stamp_before(timebase) : kEndless, timebase);
    const auto visits = [&](std::uint16_t& address, const Named& named) {
      const auto place = place_of(named);
      if (!place) return;
      address = *place;
      visit_place(address);
    };
    const auto keep = [&](auto tracker, auto*& as) {
      as = tracker.get();
      item.tracker = std::move(tracker);
    };
    switch (expectation.kind) {
      case Kind::frequency:
      case Kind::duty: {
        item.feed = Item::Feed::edges;
        item.net = net_of(expectation.subject);
        const bool duty = expectation.kind == Kind::duty;
        keep(std::make_unique<WaveMeter>(range, duty, expectation.bounds, timebase), item.net_meter);
        break;
      }
      case Kind::pulse:
        item.feed = Item::Feed::edges;
        item.net = net_of(expectation.subject);
        keep(std::make_unique<PulseMeter>(range, expectation.level, judge), item.net_meter);
        break;
      case Kind::reached:
        item.feed = Item::Feed::places;
        visits(item.address, expectation.subject);
        keep(std::make_unique<CountMeter>(range, expectation.bounds), item.count);
        break;
      case Kind::cycles:
        item.feed = Item::Feed::places;
        visits(item.address, expectation.subject);
        visits(item.other, expectation.other);
        keep(std::make_unique<GapMeter>(range, true, judge), item.gap);
        break;
      case Kind::latency:
        item.feed = Item::Feed::places;
        item.net = net_of(expectation.subject);
        item.starter.emplace(expectation.on);
        visits(item.other, expectation.other);
        keep(std::make_unique<GapMeter>(range, false, judge), item.gap);
        break;
      case Kind::finding:
        item.feed = Item::Feed::findings;
        keep(std::make_unique<OccurTracker>(expectation.on), item.occur);
        break;
      default:
        item.feed = Item::Feed::stop;
        keep(std::make_unique<OccurTracker>(true), item.occur);
        break;
    }
  }

  const LabCheck::Plan& plan_;
  Machine& machine_;
  const std::vector<TimedInput>& inputs_;
  const Onlooker& eye_;
  FaultList faults_;
  Agenda agenda_;
};

}  // namespace

Agenda make_agenda(const LabCheck::Plan& plan, Machine& machine, const std::vector<TimedInput>& inputs,
                   const Onlooker& eye, std::vector<Fault>& faults) {
  return AgendaMaker(plan, machine, inputs, eye, faults).make();
}

}  // namespace prewire
