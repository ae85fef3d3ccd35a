// Runs one lab check.
#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <map>
#include <utility>

#include "lab/agenda.h"
#include "lab/inputs.h"
#include "lab/judging.h"
#include "lab/plan.h"
#include "lab/rewire.h"
#include "machine/inside.h"
#include "prewire/partner.h"
#include "units/text.h"

namespace prewire {

namespace check_run {

using Kind = ExpectationPlan::Kind;

constexpr std::size_t kWay = 8;
constexpr std::string_view kUndefined = "undefined-opcode";

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
  Impl(const LabCheck& the_check, const Description& the_description, const CheckLimits& most)
      : check(the_check),
        description(the_description),
        plan(the_check.plan()),
        limits{std::min(most.cycles, plan.limits.cycles), std::min(most.wall, plan.limits.wall),
               std::min(most.output, plan.limits.output), most.stop},
        machine(rewired(plan, description)),
        inputs(inputs_of(plan, machine.timebase())),
        partner(wants_partner(plan) ? std::make_unique<Partner>(machine) : nullptr),
        eye(machine, inputs),
        glance(std::max<Cycle>(1, machine.timebase().cycles(Eye::kGlance))) {
    machine.heed(limits.stop);
    std::vector<Fault> faults;
    agenda = make_agenda(plan, machine, inputs, eye, faults);
    if (!faults.empty()) throw InputError(std::move(faults));
    schedule(machine, inputs, 0, faults);
    if (!faults.empty()) throw InputError(std::move(faults));
    begin();
  }
  ~Impl() override { machine.unwatch(*this); }

  void begin() {
    for (Item& item : agenda.items) {
      if (item.feed == Item::Feed::sample) samples.push_back(item.state->window().from / 4);
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

  /// Texts are made only when they tell something new: this comes before each instruction.
  void evaluate(Item& item, Stamp when) {
    if (item.tracker->settled()) return;
    const auto value = value_of(item, machine);
    if (value && value == item.value) return item.tracker->pass(when);
    item.value = value;
    show(item, when);
  }

  void show(Item& item, Stamp when) {
    const Look now = look(item, machine);
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
    for (Item& item : agenda.items) {
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
    const Cycle last = agenda.end / 4;
    Cycle target = std::min({next_look, limits.cycles, halt});
    if (now() < last) target = std::min(target, last);
    if (next_sample < samples.size()) target = std::min(target, std::max(now(), samples[next_sample]));
    if (next_switch < agenda.switches.size()) target = std::min(target, agenda.switches[next_switch].first);
    running = true;
    Stop stop = machine.run_until(target - before);
    while (stop.reason == StopReason::breakpoint && arrive(stop)) stop = machine.run_until(target - before);
    running = false;
    const Stamp moment = this->moment();
    for (Item* item : instruction_items) evaluate(*item, moment);
    while (next_sample < samples.size() && samples[next_sample] <= now()) ++next_sample;
    for (Item& item : agenda.items) {
      if (item.tracker->settled()) continue;
      if (item.feed == Item::Feed::sample && item.state->window().from / 4 <= now()) {
        const Look value = look(item, machine);
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
    } else if (next_switch < agenda.switches.size() && now() >= agenda.switches[next_switch].first) {
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
    const auto visited = agenda.visit_at.find(stop.pc);
    std::vector<Look> looks;
    if (visited != agenda.visit_at.end()) {
      for (const std::size_t index : visited->second) {
        looks.push_back(agenda.items[index].state != nullptr ? look(agenda.items[index], machine) : Look{true, ""});
      }
    }
    Begins begins(machine);
    machine.watch(begins);
    machine.heed(nullptr);  // the breakpoint would not be told of again
    stop = machine.run_until(machine.now() + 1);
    machine.heed(limits.stop);
    machine.unwatch(begins);
    bool failure = false;
    if (begins.seen && !begins.interrupt && visited != agenda.visit_at.end()) {
      const Stamp when = offset + begins.when;
      for (std::size_t i = 0; i < looks.size(); ++i) {
        Item& item = agenda.items[visited->second[i]];
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
        for (Item& item : agenda.items) {
          const Kind kind = display ? Kind::display : Kind::led;
          if (item.plan->kind != kind || item.plan->subject.text != event.subject) continue;
          item.sight = event.text;
          show(item, event.when);
        }
      }
      timeline.push_back(std::move(event));
    }
    for (Item& item : agenda.items) {
      if (item.feed == Item::Feed::eye) item.tracker->pass(known);
    }
  }

  bool sights_settled() const {
    return std::all_of(agenda.items.begin(), agenda.items.end(),
                       [](const Item& item) { return item.feed != Item::Feed::eye || item.tracker->settled(); });
  }

  void switch_off_and_on() {
    gather_findings();
    const std::uint64_t seed = agenda.switches[next_switch++].second.value_or(machine.seed() + 1);
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
    std::vector<Fault> none;  // they were taken once, so they are now
    schedule(machine, rest, offset, none);
    switched_on();
    next_look = before + glance;
  }

  /// Where the program was at the first failure.
  void see_to_failures() {
    for (Item& item : agenda.items) {
      if (!failed(item)) continue;
      item.told = true;
      bytes += item.tracker->found().size() + 64;
      take_way();
    }
    if (!extra.empty()) take_way();
  }

  /// What a person sees is known some time after it has begun to show: the same check is run once more, up to there.
  void find_way_of_sight() {
    Stamp first = way_end;
    for (const Item& item : agenda.items) {
      if (item.told && item.feed == Item::Feed::eye) first = std::min(first, item.tracker->when());
    }
    if (way.empty() || first >= way_end || halt != std::numeric_limits<Cycle>::max()) return;
    Impl again(check, description, limits);
    again.halt = cycle_from(first);
    while (again.now() < again.halt && again.go_on()) {
    }
    again.way.clear();
    again.take_way();
    way = std::move(again.way);
    way_end = first;
  }

  void take_way() {
    if (!way.empty()) return;
    way_end = moment();
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
    const std::string what = fmt::format("undefined opcode ${:02X} at ${:04X}", code_at(machine, stop.pc)[0], stop.pc);
    undefined = true;
    bool wanted = false;
    for (Item& item : agenda.items) {
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
    std::vector<std::int64_t> now_at;  // of those of this time that the machine was on
    for (const Finding& finding : machine.findings()) {
      const auto same = std::find_if(findings.begin(), findings.end(), [&](const Finding& other) {
        return other.id == finding.id && other.message == finding.message;
      });
      now_at.push_back(same - findings.begin());
      if (same != findings.end()) {
        same->count += finding.count;
      } else {
        findings.push_back(finding);
        findings.back().first += before;
      }
    }
    for (std::size_t i = 0; i < now_at.size(); ++i) {
      Finding& finding = findings[static_cast<std::size_t>(now_at[i])];
      const std::int64_t follows = machine.findings()[i].follows;
      finding.follows = follows < 0 ? -1 : now_at[static_cast<std::size_t>(follows)];
    }
  }

  void finish() {
    over = true;
    machine.conclude();
    if (partner) partner->conclude();
    eye.look();
    take_sights(eye.take_rest(), moment());
    for (Item& item : agenda.items) item.tracker->finish(std::min(moment(), agenda.end));
    see_to_failures();
    find_way_of_sight();
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
    for (const Item& item : agenda.items) {
      const Tracker& tracker = *item.tracker;
      result.expectations.push_back({describe(*item.plan), tracker.met(), tracker.found(), tracker.when(),
                                     item.plan->place, tracker.smallest(), tracker.largest()});
      missed += tracker.met() ? 0 : 1;
    }
    for (const ExpectationResult& more : extra) result.expectations.push_back(more);
    missed += extra.size();
    result.limited = !limit_reached.empty();
    result.passed = missed == 0 && !result.limited && !agenda.items.empty();
    if (result.limited) {
      result.why = limit_reached;
    } else if (agenda.items.empty() && missed == 0) {
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
    for (const Fault& remark : machine.remarks()) {
      if (remark.weight != Weight::hint) result.remarks.push_back(remark);
    }
    result.timeline = std::move(timeline);
    result.timebase = machine.timebase();
    return result;
  }

  LabCheck check;
  const Description description;
  const LabCheck::Plan& plan;
  CheckLimits limits;
  Machine machine;
  std::vector<TimedInput> inputs;
  std::unique_ptr<Partner> partner;  // says the first things before anybody else looks
  Onlooker eye;
  const Cycle glance;

  Agenda agenda;
  std::size_t next_switch = 0;
  std::vector<Cycle> samples;
  std::size_t next_sample = 0;
  Cycle next_look = 0;
  Cycle before = 0;  // cycles before the machine was last switched on
  Stamp offset = 0;  // the same as a stamp
  bool running = false;
  bool over = false;
  bool undefined = false;  // opcode, which has ended it

  std::vector<std::pair<const char*, Item*>> net_items;
  std::vector<Item*> instruction_items;

  std::vector<ExpectationResult> extra;  // failures of what nobody has to write down
  std::vector<CheckStep> way;
  Stamp way_end = 0;                               // the moment that it leads to
  Cycle halt = std::numeric_limits<Cycle>::max();  // where a run is asked for its way
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
const Machine& CheckRun::machine() const { return impl_->machine; }
void CheckRun::watch(Observer& observer) { impl_->machine.watch(observer); }
void CheckRun::unwatch(Observer& observer) { impl_->machine.unwatch(observer); }
void CheckRun::give_up(std::string why) { impl_->give_up(std::move(why)); }
CheckResult CheckRun::take_result() { return impl_->take_result(); }

}  // namespace prewire
