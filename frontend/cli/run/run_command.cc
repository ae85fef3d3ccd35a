// `prewire run`: runs a machine without a window.
#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <memory>

#include "cli/commands.h"
#include "cli/rule_options.h"
#include "prewire/partner.h"
#include "prewire/stimulus.h"
#include "runner.h"
#include "shared/ending.h"
#include "shared/inputs.h"
#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kRunPurpose =
    "Runs a machine and says what one would see on it.\n"
    "That is what its digits and LEDs show, the inputs as they come, and findings: what the simulated machine does\n"
    "that a real one should not. It is no safety check of real wiring: supply off before you rewire a board.\n"
    "Ctrl-C ends the run with its summary.";
constexpr const char* kRunExamples =
    "  prewire run gauge.json\n"
    "  prewire run gauge.json --for 200ms --set FLOAT=0.5V --set FLOAT=2.5V@100ms\n"
    "  prewire run gauge.json --stimulus evening.json --for 5000cycles --trace cycles.txt\n"
    "  prewire run gauge.json --until display:LEVEL=128 --expect net:PIA.CA2=high --json";

constexpr const char* kRepeatHelp =
    "--until, --set, --stimulus, --expect, --why, --waveform-of, --coverage and --profile may be given several\n"
    "times.";

constexpr const char* kRunExitHelp =
    "Exit status:\n"
    "  0  all is well           4  machine fault: undefined opcode, finding of weight stop\n"
    "  1  internal error        5  an --expect or --until condition is not met\n"
    "  2  bad usage             6  a limit is reached\n"
    "  3  bad input           130  interrupted by Ctrl-C";

constexpr Picoseconds kUsualTime = 1'000'000'000'000;

// Of what the check found, and of findings of weight stop, standard error gets so many: the rest stands in the summary.
constexpr std::size_t kRemarks = 6;
constexpr std::size_t kStops = 3;

struct RunOptions {
  std::string machine;
  LoadOptions load;
  std::string span;
  std::vector<std::string> until, expect, sets, stimuli, why;
  std::string max_cycles, max_output;
  WatchOptions watch;
  std::vector<std::string> rules;
  std::string partner = "on";
  bool json = false, quiet = false, no_wall_time = false;
};

/// A time or a count of cycles from an option.
Moment parse_span(const std::string& option, const std::string& text) {
  const auto moment = parse_moment(text);
  if (moment && moment->count > 0) return *moment;
  throw Trouble(Exit::usage, fmt::format("{} cannot be set to that", option),
                "a time above 0, such as 200ms, or a count of cycles such as 5000cycles", text);
}

Limits parse_limits(const RunOptions& options, Limits limits) {
  if (!options.max_cycles.empty()) limits.cycles = parse_cycles("--max-cycles", options.max_cycles);
  if (!options.max_output.empty()) limits.output = parse_size("--max-output", options.max_output);
  return limits;
}

std::vector<Condition> parse_conditions(const std::string& option, const std::vector<std::string>& texts) {
  std::vector<Condition> conditions;
  for (const std::string& text : texts) conditions.push_back(parse_condition(option, text));
  return conditions;
}

/// What the check of the description had to say, a line each.
void show_remarks(const Machine& machine) {
  bool any = false;
  std::size_t left = 0;
  for (const Fault& remark : machine.remarks()) {
    if (remark.weight == Weight::hint) continue;
    if (++left > kRemarks) continue;
    Fault brief = remark;
    brief.expected = brief.found = brief.hint = "";
    message(to_string(brief));
    any = true;
  }
  if (left > kRemarks) message(fmt::format("prewire: and {} more\n", left - kRemarks));
  if (any) message("prewire: `prewire check` says more about these\n");
}

/// For whoever looks at standard error only.
void show_failure(const Machine& machine, const Outcome& outcome) {
  const auto say = [](const std::string& what, const std::string& expected = {}, const std::string& found = {}) {
    message(Trouble(Exit::ok, what, expected, found).what());
  };
  const bool as_planned =
      outcome.ending == Ending::condition || (outcome.ending == Ending::time_over && !outcome.waited);
  if (!as_planned) say(outcome.why);
  std::size_t stops = 0;
  for (const Finding& finding : machine.findings()) {
    if (finding.weight != Weight::stop || !finding.leads || ++stops > kStops) continue;
    say(fmt::format("{} [{}]", finding.message, finding.id));
  }
  for (const Outcome::Expectation& expectation : outcome.expectations) {
    if (!expectation.met) say("an expectation is not met", expectation.text, expectation.found);
  }
}

Exit run(const RunOptions& options, const Limits& limits, Output& out) {
  RunPlan plan;
  plan.until = parse_conditions("--until", options.until);
  plan.expect = parse_conditions("--expect", options.expect);
  plan.limits = parse_limits(options, limits);
  check_watch_options(options.watch);
  plan.wall_time = !options.no_wall_time;
  std::optional<Moment> span;
  if (!options.span.empty()) span = parse_span("--for", options.span);
  if (!span && plan.until.empty()) span = Moment{kUsualTime, false};
  std::vector<Stimulus> stimuli;
  for (const std::string& set : options.sets) stimuli.push_back(parse_set(set));
  if (options.partner != "on" && options.partner != "off") {
    throw Trouble(Exit::usage, "--partner cannot be set to that", "on or off", options.partner);
  }
  LoadOptions load = options.load;
  load.weights = parse_rules(options.rules);
  if (options.partner == "off") {
    refuse_silent(
        load.weights, [](const Rule& rule) { return !rule.needs_partner; },
        "--rule names a rule that only the lab partner has, and --partner is off",
        "a rule that the machine has by itself", "leave out --partner off");
  }

  const Registry& registry = known_chips();
  spdlog::info("reading {}", options.machine);
  Machine machine = Machine::from_file(options.machine, registry, load);
  if (!options.quiet) show_remarks(machine);

  std::vector<Fault> faults;
  std::vector<Question> questions;
  for (const std::string& text : options.why) {
    questions.push_back(parse_question(fmt::format("--why {}", text), text, machine, faults));
  }
  std::optional<History> history;
  if (!questions.empty()) {
    history.emplace(machine);
    plan.answers = [&] {
      std::vector<Answer> answers;
      for (const Question& question : questions) {
        answers.push_back({question, history->last(question.wanted), history->begin()});
      }
      return answers;
    };
  }
  for (const std::string& file : options.stimuli) {
    spdlog::info("reading {}", file);
    try {
      const std::vector<Stimulus> more = read_stimulus_file(file);
      stimuli.insert(stimuli.end(), more.begin(), more.end());
    } catch (const InputError& error) {
      faults.insert(faults.end(), error.faults().begin(), error.faults().end());
    }
  }
  std::vector<TimedInput> inputs = timed(stimuli, machine.timebase());
  schedule(machine, inputs, 0, faults);
  for (const auto* conditions : {&plan.until, &plan.expect}) {
    for (const Condition& condition : *conditions) check_condition(condition, machine, faults);
  }
  if (!faults.empty()) throw InputError(std::move(faults));
  if (span) plan.end = cycle_from(span->stamp(machine.timebase()));
  spdlog::debug("{} inputs, {} conditions", inputs.size(), plan.until.size() + plan.expect.size());

  WatchFiles files(options.watch, machine);
  const MindsEnding minds;
  std::optional<Partner> partner;
  if (options.partner == "on") partner.emplace(machine);
  Onlooker onlooker(machine, std::move(inputs));
  const auto report = options.quiet ? no_report() : options.json ? json_report(out) : text_report(out);
  Progress progress(!options.quiet);
  spdlog::debug("the run begins");
  Runner runner(machine, plan, onlooker, *report, progress, {files, partner ? &*partner : nullptr});
  const Outcome outcome = runner.run();
  spdlog::info("end after {} cycles: {}", machine.now(), to_string(outcome.ending));
  files.finish(outcome.exit != Exit::ok);
  out.flush();
  show_failure(machine, outcome);
  return outcome.exit;
}

}  // namespace

Command add_run(CLI::App& program) {
  CLI::App* app = add_command(program, "run", kRunPurpose, kRunExamples);
  const auto options = std::make_shared<RunOptions>();
  const auto many = [&](const char* name, std::vector<std::string>& texts, const char* value, const char* help) {
    app->add_option(name, texts, help)->type_name(value)->allow_extra_args(false);
  };
  app->add_option("MACHINE", options->machine, "machine file (JSON; `prewire schema` describes it)")
      ->type_name("")
      ->required();
  app->option_defaults()->group("Course of the run");
  app->add_option("--for", options->span,
                  "end after a time such as 200ms or 5000cycles; after 1 s if there\n"
                  "is no --until either")
      ->type_name("SPAN");
  many("--until", options->until, "CONDITION", "end when it is met, or another one");
  many("--set", options->sets, "NAME=VALUE[@MOMENT]",
       "do to a part what a person would, at the start or at a moment\n"
       "such as 10ms or 1200cycles: FLOAT=2.5V@10ms, RESET=pressed");
  many("--stimulus", options->stimuli, "FILE", "the same, from a JSON file");
  many("--expect", options->expect, "CONDITION", "must be met at the end");
  many("--why", options->why, "ADDRESS|LABEL|NET", "say at the end what last wrote to the address, or changed the net");
  app->option_defaults()->group("Machine");
  add_root_option(*app, options->load);
  app->add_flag("--run-faulty", options->load.run_faulty, "run although the wiring has faults of weight stop");
  app->option_defaults()->group("Findings");
  app->add_option("--partner", options->partner,
                  "whether the lab partner looks over your shoulder: on or off;\n"
                  "without it a run is faster, and most mistakes of a program\n"
                  "are not noticed")
      ->type_name("ON|OFF");
  add_rule_option(*app, options->rules);
  app->option_defaults()->group("Output");
  auto* json = app->add_flag("--json", options->json, "timeline, findings and summary as one JSON document");
  app->add_flag("--quiet", options->quiet, "print nothing but messages about what went wrong")->excludes(json);
  app->add_flag("--no-wall-time", options->no_wall_time, "leave real time out of the summary");
  add_watch_options(*app, options->watch);
  app->option_defaults()->group(kLimitGroup);
  app->add_option("--max-cycles", options->max_cycles, "end after so many cycles; 1000000000 if not given")
      ->type_name("COUNT");
  app->add_option("--max-output", options->max_output,
                  "end after so much timeline, trace and waveform;\n64 MiB if not given")
      ->type_name("SIZE");
  app->footer(fmt::format("{}\n\n{}\n\n{}", kRepeatHelp, kConditionHelp, kRunExitHelp));
  return {app, [options](Output& out, const Limits& limits) { return run(*options, limits, out); }};
}

}  // namespace prewire::front::cli
