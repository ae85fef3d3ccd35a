// Runs one lab check.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "lab/inputs.h"
#include "lab/judging.h"
#include "lab/meters.h"
#include "lab/plan.h"
#include "lab/rewire.h"
#include "machine/inside.h"
#include "prewire/partner.h"
#include "units/text.h"

namespace prewire {

namespace check_run {

using Kind = ExpectationPlan::Kind;
using Course = StateTracker::Mode;

constexpr std::size_t kWay = 8;
constexpr std::string_view kUndefined = "undefined-opcode";
constexpr Picoseconds kUsualLength = 1'000'000'000'000;

/// One expectation, what judges it, and where that gets to know things from.
struct Item {
  enum class Feed : std::uint8_t {
    eye,           ///< the timeline of what a person sees
    edges,         ///< each change of a net
    sample,        ///< one look at one moment
    instructions,  ///< before each instruction
    places,        ///< when the program gets to `address`, or to `other`
    findings,
    stop,
  };
  const ExpectationPlan* plan = nullptr;
  Feed feed = Feed::eye;
  std::unique_ptr<Tracker> tracker;
  StateTracker* state = nullptr;  // `tracker`, by its true type, as are these
  NetMeter* net_meter = nullptr;
  CountMeter* count = nullptr;
  GapMeter* gap = nullptr;
  OccurTracker* occur = nullptr;
  std::optional<EdgeStarter> starter;
  NetId net = -1;
  std::uint16_t address = 0, other = 0;  // of memory or of places; an empty stack
  std::size_t reg = 0;
  std::optional<std::int64_t> value{};  // at the last look, of an item that hears of instructions
  std::string sight{};                  // what the display or LED shows: its text, "on" or "off"
  bool told = false;                    // its failure has been seen to

  /// Nothing that happens can change it, and nothing is measured.
  bool done() const { return tracker->settled() && state != nullptr; }
};

/// Sees whether an instruction begins, or an interrupt comes in its place.
struct Begins final : Observer {
  explicit Begins(const Machine& of) : machine(of) {}
  unsigned wants() const override { return kInstructions; }
  void on_instruction(const Cpu& /*cpu*/, std::uint16_t pc, int opcode, Cycle /*cycle*/) override {
    if (seen) return;
    seen = true;
    place = pc;
    interrupt = opcode < 0;
    when = machine.cycle_began();
  }
  const Machine& machine;
  bool seen = false, interrupt = false;
  std::uint16_t place = 0;
  Stamp when = 0;
};

}  // namespace check_run

using namespace check_run;

struct CheckRun::Impl final : Observer {
  Impl(const LabCheck& the_check, const Description& description, const CheckLimits& most)
      : check(the_check),
        plan(the_check.plan()),
        limits{std::min(most.cycles, plan.limits.cycles), std::min(most.wall, plan.limits.wall),
               std::min(most.output, plan.limits.output), most.stop},
        machine(rewired(plan, description)),
        inputs(inputs_of(plan, machine.timebase())),
        partner(wants_partner(plan) ? std::make_unique<Partner>(machine) : nullptr),
        eye(machine, inputs),
        glance(std::max<Cycle>(1, machine.timebase().cycles(Eye::kGlance))) {
    machine.heed(limits.stop);
    for (const PowerCycle& cycle : plan.power_cycles) {
      switches.push_back({cycle_from(stamp(cycle.at)), cycle.seed});
      if (switches.back().first == 0) {
        fault("check-when", cycle.place, "the machine has just been switched on", "a moment after power-on", "0", "");
      }
    }
    std::stable_sort(switches.begin(), switches.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    find_end();
    for (const ExpectationPlan& expectation : plan.expectations) add(expectation);
    if (!faults.empty()) throw InputError(std::move(faults));
    schedule(machine, inputs, 0, faults);
    if (!faults.empty()) throw InputError(std::move(faults));
    begin();
  }
  ~Impl() override { machine.unwatch(*this); }

  // Reading the plan --------------------------------------------------------------------------------------------------

  Stamp stamp(const Moment& moment) const { return moment.stamp(machine.timebase()); }

  void fault(std::string id, const Place& place, std::string what, std::string expected, std::string found,
             std::string hint) {
    FaultList(faults).add(std::move(id), place, std::move(what), std::move(expected), std::move(found),
                          std::move(hint));
  }

  /// The end is that of the check, or the last moment that it names.
  void find_end() {
    Stamp last = 0;
    for (const TimedInput& input : inputs) last = std::max(last, input.when);
    for (const auto& [cycle, seed] : switches) last = std::max(last, stamp_of(cycle));
    for (const ExpectationPlan& expectation : plan.expectations) last = std::max(last, window_of(expectation).second);
    if (last == 0) last = machine.timebase().stamps(kUsualLength);
    end = plan.length ? stamp(*plan.length) : last;
    end = stamp_of(cycle_from(end));
    const std::string length = plan.length ? to_string(*plan.length) : "";
    const auto too_late = [&](const Place& place, const char* what) {
      fault("check-when", place, fmt::format("{} comes after the end of the check", what),
            fmt::format("a moment within the {} of \"for\"", length), "a later one", "make \"for\" longer");
    };
    for (const TimedInput& input : inputs) {
      if (input.when > end) return too_late(input.part_place, "a stimulus");
    }
    for (const ExpectationPlan& expectation : plan.expectations) {
      if (window_of(expectation).second > end) too_late(expectation.place, "an expectation");
    }
    for (const PowerCycle& cycle : plan.power_cycles) {
      if (stamp(cycle.at) > end) too_late(cycle.place, "a power cycle");
    }
  }

  /// When an expectation begins to count, and the last moment that it needs.
  std::pair<Stamp, Stamp> window_of(const ExpectationPlan& expectation) const {
    const auto of = [&](const std::optional<Moment>& moment) { return moment ? stamp(*moment) : 0; };
    if (expectation.at) return {of(expectation.at), of(expectation.at) + of(expectation.held)};
    const Stamp from = of(expectation.from);
    if (expectation.within) return {from, from + of(expectation.within) + of(expectation.held)};
    return {from, std::max(from, of(expectation.to))};
  }

  Window window(const ExpectationPlan& expectation, Course mode) const {
    const auto [from, last] = window_of(expectation);
    const Stamp held = expectation.held ? stamp(*expectation.held) : 0;
    switch (mode) {
      case Course::at: return {expectation.at ? from : end - held, end, held};
      case Course::within: return {from, last - held, held};
      default: return {from, expectation.to ? last : end, 0};
    }
  }

  std::optional<std::uint16_t> place_of(const Named& named) {
    const auto address = machine.address_of(named.text);
    if (address) return address;
    std::vector<std::string> labels;
    for (const Image* image : machine.programs()) {
      if (image->source == nullptr) continue;
      for (const SourceMap::Symbol& symbol : image->source->symbols) {
        if (symbol.kind != SourceMap::SymbolKind::macro) labels.push_back(symbol.name);
      }
    }
    fault("unknown-place", named.place, fmt::format("there is no label {}", in_quotes(named.text)),
          labels.empty() ? "an address such as \"$F800\": the programs have no source" : "an address or a label",
          in_quotes(named.text), meant(named.text, labels, ""));
    return std::nullopt;
  }

  NetId net_of(const Named& named) {
    std::string trouble;
    const NetId net = Inside::of(machine).find_net(named.text, &trouble);
    if (net < 0) {
      fault("unknown-net", named.place, fmt::format("there is no net {}", in_quotes(named.text)),
            "a pin of this machine, or the label of a net", in_quotes(named.text), trouble);
    }
    return net;
  }

  /// The item that is about to be added hears when the program gets there.
  void visit_place(std::uint16_t address) {
    std::vector<std::size_t>& visitors = visit_at[address];
    if (visitors.empty() || visitors.back() != items.size()) visitors.push_back(items.size());
    machine.set_breakpoint(address, true);
  }

  void add(const ExpectationPlan& expectation) {
    Item item;
    item.plan = &expectation;
    if (expectation.is_state() && (expectation.kind != Kind::reached || expectation.never)) {
      add_state(expectation, item);
    } else {
      add_meter(expectation, item);
    }
    items.push_back(std::move(item));
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
        const std::vector<std::string> groups = machine.displays();
        if (std::find(groups.begin(), groups.end(), subject.text) != groups.end()) break;
        fault("unknown-display", subject.place,
              groups.empty() ? "this machine has no digits"
                             : fmt::format("there is no group of digits {}", in_quotes(subject.text)),
              one_of(groups), in_quotes(subject.text), meant(subject.text, groups, ""));
        break;
      }
      case Kind::led: {
        item.feed = Item::Feed::eye;
        item.sight = "off";
        std::vector<std::string> names;
        for (const Onlooker::Lit& led : eye.leds()) names.push_back(led.name);
        if (std::find(names.begin(), names.end(), subject.text) != names.end()) break;
        fault("unknown-led", subject.place,
              names.empty() ? "this machine has no LEDs" : fmt::format("there is no LED {}", in_quotes(subject.text)),
              one_of(names), in_quotes(subject.text), meant(subject.text, names, ""));
        break;
      }
      case Kind::net:
        item.feed = once ? Item::Feed::sample : Item::Feed::edges;
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
          fault("bad-value", subject.place, "the bytes go beyond $FFFF", "fewer bytes, or a lower address",
                std::to_string(expectation.bytes.size()), "");
        }
        break;
      }
      default: {
        item.feed = once ? Item::Feed::sample : Item::Feed::instructions;
        const auto registers = std::as_const(machine).cpu().registers();
        std::vector<std::string> names;
        for (const RegisterInfo& info : registers) names.emplace_back(info.name);
        const auto found = std::find(names.begin(), names.end(), subject.text);
        if (found == names.end()) {
          fault("unknown-register", subject.place, fmt::format("there is no register {}", in_quotes(subject.text)),
                one_of(names), in_quotes(subject.text), meant(subject.text, names, ""));
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
    const Timebase& timebase = machine.timebase();
    const auto bound = [&](const std::optional<Moment>& moment, Stamp otherwise) {
      return moment ? stamp(*moment) : otherwise;
    };
    const SpanJudge judge(bound(expectation.spans.least, 0), bound(expectation.spans.most, kEndless), timebase);
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

  void begin() {
    for (Item& item : items) {
      if (item.feed == Item::Feed::sample) samples.push_back(cycle_from(item.state->window().from));
      // A net has many names: this one is what observers are told.
      if (item.net >= 0) net_items.emplace_back(Inside::of(machine).board.net_name(item.net).data(), &item);
      if (item.feed == Item::Feed::instructions) instruction_items.push_back(&item);
      if (item.plan->kind == Kind::display || item.plan->kind == Kind::led) show(item, 0);
    }
    std::sort(samples.begin(), samples.end());
    machine.watch(*this);  // now that the items tell what `wants` says
    switched_on();
    next_look = glance;
  }

  /// Levels and values at power-on, which no change tells of.
  void switched_on() {
    for (const auto& [name, item] : net_items) {
      const Level level = Inside::of(machine).board.state(item->net).level;
      if (item->starter) item->starter->start(level);
      tell_level(*item, level, offset);
    }
    for (Item* item : instruction_items) evaluate(*item, offset);
    for (const Finding& finding : machine.findings()) {
      if (before == 0) take_finding(finding);
    }
  }

  // Values ------------------------------------------------------------------------------------------------------------

  struct Look {
    bool holds;
    std::string found;
  };

  Look look(const Item& item) const {
    const ExpectationPlan& expectation = *item.plan;
    const std::string& name = expectation.subject.text;
    const Machine& seen = machine;
    switch (expectation.kind) {
      case Kind::display:
        return {trim(item.sight) == expectation.shows, fmt::format("{} shows \"{}\"", name, trim(item.sight))};
      case Kind::led: return {(item.sight == "on") == expectation.on, fmt::format("{} is {}", name, item.sight)};
      case Kind::net: {
        const Level level = Inside::of(seen).board.state(item.net).level;
        return {level == expectation.level, fmt::format("{} is {}", name, to_string(level))};
      }
      case Kind::memory: {
        if (expectation.bytes.empty()) {
          const int value = seen.peek(item.address);
          return {expectation.bounds.hold(value), fmt::format("{} holds ${:02X} ({})", name, value, value)};
        }
        bool same = true;
        std::string there;
        for (std::size_t i = 0; i < expectation.bytes.size(); ++i) {
          const std::uint8_t value = seen.peek(static_cast<std::uint16_t>(item.address + i));
          same = same && value == expectation.bytes[i];
          there += fmt::format(" ${:02X}", value);
        }
        return {same, fmt::format("{} holds{}", name, there)};
      }
      case Kind::reg: {
        const unsigned value = seen.cpu().get(item.reg);
        const bool byte = seen.cpu().registers()[item.reg].bits == 8;
        return {expectation.bounds.hold(value), byte ? fmt::format("register {} holds ${:02X} ({})", name, value, value)
                                                     : fmt::format("register {} holds ${:04X}", name, value)};
      }
      case Kind::stack: {
        const std::uint16_t pointer = seen.cpu().get(item.reg);
        // Below where it was empty; a pointer above it wraps to a large number, which is as wrong as it looks.
        const auto depth = static_cast<std::uint16_t>(item.other - pointer);
        return {expectation.bounds.hold(depth),
                fmt::format("{} ({} is ${:04X})", counted(depth, "byte"), name, pointer)};
      }
      default: return {true, fmt::format("the program is at {}", name)};  // reached
    }
  }

  /// One number that tells whether there is something new to look at; empty where there is none.
  std::optional<std::int64_t> value_of(const Item& item) const {
    const Machine& seen = machine;
    if (item.plan->kind != Kind::memory) return seen.cpu().get(item.reg);
    if (item.plan->bytes.empty()) return seen.peek(item.address);
    return std::nullopt;
  }

  /// Texts are made only when they tell something new: this comes before each instruction.
  void evaluate(Item& item, Stamp when) {
    if (item.tracker->settled()) return;
    const auto value = value_of(item);
    if (value && value == item.value) return item.tracker->pass(when);
    item.value = value;
    show(item, when);
  }

  void show(Item& item, Stamp when) {
    const Look now = look(item);
    item.state->set(when, now.holds, now.found);
  }

  // Watching ----------------------------------------------------------------------------------------------------------

  unsigned wants() const override {
    return kFindings | (net_items.empty() ? 0U : kNets) | (instruction_items.empty() ? 0U : kInstructions);
  }

  void on_net(std::string_view net, const NetState& state, Stamp when) override {
    for (const auto& [name, item] : net_items) {
      if (name == net.data() && !item->done()) tell_level(*item, state.level, offset + when);
    }
  }

  void tell_level(Item& item, Level level, Stamp when) {
    if (item.starter) {
      if (item.starter->starts(level)) item.gap->begin(when);
    } else if (item.net_meter != nullptr) {
      item.net_meter->level(when, level);
    } else if (item.feed == Item::Feed::edges) {
      item.state->set(when, level == item.plan->level,
                      fmt::format("{} is {}", item.plan->subject.text, to_string(level)));
    }
    if (failed(item)) machine.request_stop();
  }

  void on_instruction(const Cpu& /*cpu*/, std::uint16_t /*pc*/, int /*opcode*/, Cycle /*cycle*/) override {
    for (Item* item : instruction_items) {
      if (item->tracker->settled()) continue;
      evaluate(*item, offset + machine.cycle_began());
      if (failed(*item)) machine.request_stop();
    }
  }

  void on_finding(const Finding& finding) override { take_finding(finding); }

  void take_finding(const Finding& finding) {
    const Stamp when = offset + stamp_of(finding.first);
    bool wanted = finding.id == kUndefined;  // the end of the run tells of it
    for (Item& item : items) {
      if (item.feed != Item::Feed::findings || item.plan->subject.text != finding.id) continue;
      wanted = wanted || item.plan->on;
      item.occur->occur(when, fmt::format("{} [{}]", finding.message, finding.id));
      if (failed(item) && running) machine.request_stop();
    }
    if (finding.weight == Weight::stop && !wanted && extra.size() < 20) {
      extra.push_back(
          {"no finding of weight stop", false, fmt::format("{} [{}]", finding.message, finding.id), when, plan.place});
      if (running) machine.request_stop();
    }
  }

  static bool failed(const Item& item) { return item.tracker->settled() && !item.tracker->met() && !item.told; }

  // Running -----------------------------------------------------------------------------------------------------------

  Cycle now() const { return before + machine.now(); }
  Stamp moment() const { return offset + machine.moment(); }

  bool go_on() {
    if (over) return false;
    const Cycle last = end / 4;
    Cycle target = std::min(next_look, limits.cycles);
    if (now() < last) target = std::min(target, last);
    if (next_sample < samples.size()) target = std::min(target, std::max(now(), samples[next_sample]));
    if (next_switch < switches.size()) target = std::min(target, switches[next_switch].first);
    running = true;
    Stop stop = machine.run_until(target - before);
    while (stop.reason == StopReason::breakpoint && arrive(stop)) stop = machine.run_until(target - before);
    running = false;
    const Stamp moment = this->moment();
    for (Item* item : instruction_items) evaluate(*item, moment);
    while (next_sample < samples.size() && samples[next_sample] <= now()) ++next_sample;
    for (Item& item : items) {
      if (item.tracker->settled()) continue;
      if (item.feed == Item::Feed::sample && cycle_from(item.state->window().from) <= now()) {
        const Look value = look(item);
        item.state->set(item.state->window().from, value.holds, value.found);
        item.tracker->pass(item.state->window().from + 1);
      } else if (item.feed != Item::Feed::eye && item.feed != Item::Feed::sample) {
        item.tracker->pass(moment);
      }
    }
    if (now() >= next_look) {
      eye.look();
      next_look += glance;
      take_sights(eye.take(), moment - machine.timebase().stamps(Onlooker::kSteady));
    }
    see_to_failures();
    if (stop.reason == StopReason::undefined_opcode) {
      end_with_undefined(stop);
    } else if (next_switch < switches.size() && now() >= switches[next_switch].first) {
      switch_off_and_on();
    }
    if (!over && now() >= last && (sights_settled() || now() >= last + 6 * glance)) finish();
    if (!over && now() >= limits.cycles) {
      give_up(fmt::format("the limit of {} is reached", counted(limits.cycles, "cycle")));
    }
    if (!over && bytes > limits.output) {
      give_up(fmt::format("the limit of {} of output is reached", counted(limits.output, "byte")));
    }
    return !over;
  }

  /// A breakpoint: the instruction there begins, or an interrupt comes before it. False if the run cannot go on, or has
  /// come to a failure.
  bool arrive(Stop& stop) {
    const auto visited = visit_at.find(stop.pc);
    std::vector<Look> looks;
    if (visited != visit_at.end()) {
      for (const std::size_t index : visited->second) {
        looks.push_back(items[index].state != nullptr ? look(items[index]) : Look{true, ""});
      }
    }
    Begins begins(machine);
    machine.watch(begins);
    machine.heed(nullptr);  // the breakpoint would not be told of again
    stop = machine.run_until(machine.now() + 1);
    machine.heed(limits.stop);
    machine.unwatch(begins);
    bool failure = false;
    if (begins.seen && !begins.interrupt && visited != visit_at.end()) {
      const Stamp when = offset + begins.when;
      for (std::size_t i = 0; i < looks.size(); ++i) {
        Item& item = items[visited->second[i]];
        visit(item, begins.place, looks[i], when);
        failure = failure || failed(item);
      }
    }
    return !failure && (stop.reason == StopReason::limit || stop.reason == StopReason::breakpoint);
  }

  void visit(Item& item, std::uint16_t place, const Look& now, Stamp when) {
    if (item.done()) return;
    if (item.count != nullptr) {
      item.count->arrive(when);
    } else if (item.gap != nullptr) {
      // The end first: the way from a place to itself is once around.
      if (place == item.other) item.gap->end(when);
      if (item.net < 0 && place == item.address) item.gap->begin(when);
    } else if (item.plan->kind == Kind::reached) {
      item.state->set(when, true, now.found);
      item.state->set(when, false, "");
    } else {
      item.state->visit(when, now.holds, now.found);
    }
  }

  void take_sights(std::vector<Onlooker::Event> events, Stamp known) {
    for (Onlooker::Event& event : events) {
      bytes += event.subject.size() + event.text.size() + event.hint.size() + 32;
      const bool display = event.kind == Onlooker::Event::Kind::display;
      if (display || event.kind == Onlooker::Event::Kind::led) {
        for (Item& item : items) {
          const Kind kind = display ? Kind::display : Kind::led;
          if (item.plan->kind != kind || item.plan->subject.text != event.subject) continue;
          item.sight = event.text;
          show(item, event.when);
        }
      }
      timeline.push_back(std::move(event));
    }
    for (Item& item : items) {
      if (item.feed == Item::Feed::eye) item.tracker->pass(known);
    }
  }

  bool sights_settled() const {
    return std::all_of(items.begin(), items.end(),
                       [](const Item& item) { return item.feed != Item::Feed::eye || item.tracker->settled(); });
  }

  void switch_off_and_on() {
    gather_findings();
    const std::uint64_t seed = switches[next_switch++].second.value_or(machine.seed() + 1);
    before = cycle_from(moment());
    offset = stamp_of(before);
    eye.power_cycle(seed);
    // Knobs and switches are where they were left.
    std::map<std::string, const TimedInput*> left;
    for (const TimedInput& input : inputs) {
      if (input.when <= offset && input.part != "RESET") left[input.part] = &input;
    }
    for (const auto& [part, input] : left) machine.set(part, input->value);
    std::vector<TimedInput> rest;
    for (const TimedInput& input : inputs) {
      if (input.when > offset) rest.push_back(input);
    }
    schedule(machine, rest, offset, faults);  // they were taken once, so they are now
    switched_on();
    next_look = before + glance;
  }

  /// Where the program was at the first failure.
  void see_to_failures() {
    for (Item& item : items) {
      if (!failed(item)) continue;
      item.told = true;
      bytes += item.tracker->found().size() + 64;
      take_way();
    }
    if (!extra.empty()) take_way();
  }

  void take_way() {
    if (!way.empty()) return;
    for (PastInstruction& past : machine.way_here(kWay)) {
      CheckStep step;
      if (const auto place = machine.source_at(past.pc)) {
        step.source = to_string(*place);
        step.line = place->line->text;
      }
      past.cycle += before;
      step.instruction = std::move(past);
      way.push_back(std::move(step));
    }
  }

  void end_with_undefined(const Stop& stop) {
    const std::string what = fmt::format("undefined opcode ${:02X} at ${:04X}", machine.peek(stop.pc), stop.pc);
    undefined = true;
    bool wanted = false;
    for (Item& item : items) {
      const ExpectationPlan& expectation = *item.plan;
      if (expectation.kind == Kind::finding && expectation.on && expectation.subject.text == kUndefined) wanted = true;
      if (item.feed != Item::Feed::stop) continue;
      wanted = true;
      item.occur->occur(moment(), what);
    }
    if (!wanted) extra.push_back({"no undefined opcode", false, what, moment(), plan.place});
    finish();
  }

  void gather_findings() {
    for (const Finding& finding : machine.findings()) {
      const auto same = std::find_if(findings.begin(), findings.end(), [&](const Finding& other) {
        return other.id == finding.id && other.message == finding.message;
      });
      if (same != findings.end()) {
        same->count += finding.count;
      } else {
        findings.push_back(finding);
        findings.back().first += before;
      }
    }
  }

  void finish() {
    over = true;
    if (partner) partner->conclude();
    eye.look();
    take_sights(eye.take_rest(), moment());
    for (Item& item : items) item.tracker->finish(std::min(moment(), end));
    see_to_failures();
    gather_findings();
  }

  void give_up(std::string why) {
    if (over) return;
    limit_reached = std::move(why);
    take_way();
    finish();
  }

  CheckResult take_result() {
    CheckResult result;
    std::size_t missed = 0;
    for (const Item& item : items) {
      const Tracker& tracker = *item.tracker;
      result.expectations.push_back({describe(*item.plan), tracker.met(), tracker.found(), tracker.when(),
                                     item.plan->place, tracker.smallest(), tracker.largest()});
      missed += tracker.met() ? 0 : 1;
    }
    for (const ExpectationResult& more : extra) result.expectations.push_back(more);
    missed += extra.size();
    result.limited = !limit_reached.empty();
    result.passed = missed == 0 && !result.limited && !items.empty();
    if (result.limited) {
      result.why = limit_reached;
    } else if (items.empty() && missed == 0) {
      result.why = "it expects nothing";
    } else if (missed > 0) {
      const std::size_t all = result.expectations.size();
      result.why = fmt::format("{} of {} expectation{} {} not met", missed, all, all == 1 ? "" : "s",
                               missed == 1 ? "is" : "are");
    }
    result.undefined_opcode = undefined;
    result.cycles = now();
    if (!result.passed) result.way = std::move(way);
    result.findings = std::move(findings);
    result.timeline = std::move(timeline);
    result.timebase = machine.timebase();
    return result;
  }

  LabCheck check;
  const LabCheck::Plan& plan;
  CheckLimits limits;
  std::vector<Fault> faults;
  Machine machine;
  std::vector<TimedInput> inputs;
  std::unique_ptr<Partner> partner;  // says the first things before anybody else looks
  Onlooker eye;
  const Cycle glance;

  Stamp end = 0;
  std::vector<std::pair<Cycle, std::optional<std::uint64_t>>> switches;  // off and on
  std::size_t next_switch = 0;
  std::vector<Cycle> samples;
  std::size_t next_sample = 0;
  Cycle next_look = 0;
  Cycle before = 0;  // cycles before the machine was last switched on
  Stamp offset = 0;  // the same as a stamp
  bool running = false;
  bool over = false;
  bool undefined = false;  // opcode, which has ended it

  std::vector<Item> items;
  std::vector<std::pair<const char*, Item*>> net_items;
  std::vector<Item*> instruction_items;
  std::map<std::uint16_t, std::vector<std::size_t>> visit_at;  // items, by place

  std::vector<ExpectationResult> extra;  // failures of what nobody has to write down
  std::vector<CheckStep> way;
  std::vector<Finding> findings;
  std::vector<Onlooker::Event> timeline;
  std::string limit_reached;
  std::uint64_t bytes = 0;
};

CheckRun::CheckRun(const LabCheck& check, const Description& description, const CheckLimits& limits)
    : impl_(std::make_unique<Impl>(check, description, limits)) {}
CheckRun::CheckRun(CheckRun&&) noexcept = default;
CheckRun& CheckRun::operator=(CheckRun&&) noexcept = default;
CheckRun::~CheckRun() = default;

bool CheckRun::go_on() { return impl_->go_on(); }
const CheckLimits& CheckRun::limits() const { return impl_->limits; }
void CheckRun::give_up(std::string why) { impl_->give_up(std::move(why)); }
CheckResult CheckRun::take_result() { return impl_->take_result(); }

}  // namespace prewire
