// `prewire grade`: the lab's checks with the programs of a class.
#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <memory>
#include <vector>

#include "class_table.h"
#include "cli/commands.h"
#include "cli/test/test_options.h"
#include "cli/test/test_tables.h"
#include "shared/ending.h"
#include "shared/known_chips.h"
#include "submissions.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kGradePurpose =
    "Runs the checks of a lab with what each student of a class has handed in.\n"
    "LAB holds machines and checks, SUBMISSIONS a folder for each student with the programs that the machines name.\n"
    "Links are not followed, nothing outside a student's folder is read, and nothing in it is written.";
constexpr const char* kGradeExamples =
    "  prewire grade lab submissions\n"
    "  prewire grade lab submissions --html class.html --csv marks.csv --max-wall 10s\n"
    "  prewire grade lab submissions --student ann --filter 'shows the level'\n"
    "  prewire grade lab submissions --shard 2/8 --csv marks-2.csv --quiet";
constexpr const char* kGradeExitHelp =
    "Exit status:\n"
    "  0  everybody passes      5  a check fails\n"
    "  1  internal error        6  the memory is used up\n"
    "  2  bad usage           130  interrupted by Ctrl-C\n"
    "  3  bad input, or a check that cannot run: a program is missing or faulty";

struct GradeOptions : CheckOptions {
  ClassOptions of_class;
  LoadOptions load;
};

Exit grade(const GradeOptions& options, const Limits& given, Output& out) {
  check_report_names(options);
  const Selection selection = selection_of(options);
  TestPlan checks = plan_of(options, given);
  checks.boards = options.load.boards;
  const Registry& registry = known_chips();
  const ClassPlan plan = plan_class(options.of_class, selection);
  spdlog::info("{} checks on {} threads", plan.tasks.size(), checks.jobs);
  const MindsEnding minds;
  ReportFiles files(options, {kJunitMark, kClassCsvMark, kClassPageMark});
  const auto report = report_for(options, out);
  ClassTable table(plan);
  report->begin(plan.tasks.size());
  const bool all = run_tasks(plan.tasks, registry, checks, [&](const Verdict& verdict) {
    TestLine line = test_line(verdict, options.wall_time);
    report->verdict(verdict, line);
    table.add(*verdict.task, std::move(line));
  });
  report->end(table.lines());
  if (!options.tap && !options.json) out.print(class_text(table, options.quiet));
  out.flush();
  files.fill([&] { return junit_file(table.lines()); }, [&] { return class_csv(table); },
             [&] { return class_page(table); });
  return exit_of(table.lines(), all);
}

}  // namespace

Command add_grade(CLI::App& program) {
  CLI::App* app = add_command(program, "grade", kGradePurpose, kGradeExamples);
  const auto options = std::make_shared<GradeOptions>();
  app->add_option("LAB", options->of_class.lab, "folder with machines and checks")->type_name("")->required();
  app->add_option("SUBMISSIONS", options->of_class.submissions, "folder with a folder for each student")
      ->type_name("")
      ->required();
  add_check_options(
      *app, *options,
      {.csv = "write a table, too: a line for each student, and sums",
       .shard = "the K-th of N shares of the students, for several computers",
       .how =
           [&] {
             app->add_option("--student", options->of_class.student, "only those whose folder's name fits the pattern")
                 ->type_name("PATTERN");
             app->add_option("--given", options->of_class.given,
                             "a program that the lab brings, not the students; may be\ngiven several times")
                 ->type_name("FILE")
                 ->allow_extra_args(false);
             add_boards_option(*app, options->load);
             add_chips_option(*app);
           },
       .output = [] {}});
  app->footer(kGradeExitHelp);
  return {app, [options](Output& out, const Limits& limits) { return grade(*options, limits, out); }, true};
}

}  // namespace prewire::front::cli
