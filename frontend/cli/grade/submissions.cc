#include "submissions.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <optional>
#include <system_error>
#include <utility>

#include "prewire/description.h"
#include "prewire/text.h"
#include "shared/output.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kMostStudents = 100'000;
constexpr const char* kPlace = "submission-place";

struct Submission {
  std::string name;
  fs::path folder;
  bool link = false;
};

bool lies_in(const fs::path& inner, const fs::path& outer) {
  return std::mismatch(outer.begin(), outer.end(), inner.begin(), inner.end()).first == outer.end();
}

/// Checks that lie among the submissions could be read by an INCLUDE, and checks of a student's could be taken for the
/// lab's.
void keep_apart(const ClassOptions& options) {
  std::error_code error;
  for (const std::string& folder : {options.lab, options.submissions}) {
    if (fs::is_directory(folder, error)) continue;
    throw Trouble(Exit::input, "this is no folder", "the folder of the lab, then that of the submissions", folder,
                  fs::exists(folder, error) ? "" : "no such folder: check the path");
  }
  const fs::path lab = fs::canonical(options.lab, error), submissions = fs::canonical(options.submissions, error);
  if (!lies_in(lab, submissions) && !lies_in(submissions, lab)) return;
  throw Trouble(Exit::input, "the lab and the submissions are not apart", "two folders, neither in the other",
                fmt::format("{} and {}", options.lab, options.submissions),
                "nobody who hands something in may read or bring checks: move one of them");
}

/// Folders in order of their names; what else lies there is told, and passed over.
std::vector<Submission> find_submissions(const ClassOptions& options) {
  std::vector<Submission> found;
  std::vector<std::string> others;
  std::error_code error;
  fs::directory_iterator entries(options.submissions, error);
  for (; !error && entries != fs::directory_iterator(); entries.increment(error)) {
    Submission submission{entries->path().filename().string(), entries->path()};
    if (submission.name.starts_with('.')) continue;
    std::error_code ignored;
    const fs::file_status status = entries->symlink_status(ignored);
    submission.link = fs::is_symlink(status);
    if (!submission.link && !fs::is_directory(status)) {
      others.push_back(submission.name);
      continue;
    }
    if (!options.student.empty() && !fits(options.student, submission.name)) continue;
    if (found.size() >= kMostStudents) {
      throw Trouble(Exit::input, "there are too many submissions", fmt::format("at most {}", kMostStudents), "more",
                    "");
    }
    found.push_back(std::move(submission));
  }
  if (error) {
    throw Trouble(Exit::input, "the submissions cannot be looked through", "a folder that can be read",
                  fmt::format("{}: {}", options.submissions, error.message()), "check the permissions");
  }
  if (found.empty()) {
    throw Trouble(Exit::input, "nobody has handed anything in", "a folder for each student",
                  options.student.empty() ? options.submissions : options.student, "");
  }
  std::sort(others.begin(), others.end());
  for (const std::string& name : others) message(fmt::format("prewire: {}: this is no folder\n", printable(name)));
  std::sort(found.begin(), found.end(), [](const Submission& a, const Submission& b) { return a.name < b.name; });
  return found;
}

/// Some check of the lab: each machine and seed is a task.
struct Column {
  std::vector<const Task*> tasks;
};

class ClassPlanner {
 public:
  ClassPlanner(const ClassOptions& options, const std::vector<Task>& lab) : options_(options) {
    std::vector<Fault> faults;
    for (const Task& task : lab) {
      for (const Fault& fault : task.faults) {
        // The same for each machine and seed.
        const bool told = std::any_of(faults.begin(), faults.end(),
                                      [&](const Fault& other) { return to_string(other) == to_string(fault); });
        if (!told) faults.push_back(fault);
      }
      if (task.check) take(task, faults);
    }
    if (!faults.empty()) throw InputError(std::move(faults));
    for (const std::string& name : options.given) {
      const bool named = std::any_of(programs_.begin(), programs_.end(), [&](const auto& machine) {
        return std::find(machine.second.begin(), machine.second.end(), name) != machine.second.end();
      });
      if (named) continue;
      std::vector<std::string> names;
      for (const auto& [machine, programs] : programs_) names.insert(names.end(), programs.begin(), programs.end());
      throw Trouble(Exit::input, "--given names no program of the lab", "a program as a machine file names it", name,
                    meant(name, names, ""));
    }
  }

  ClassPlan plan(const std::vector<Submission>& submissions) {
    ClassPlan plan;
    for (const Column& column : columns_) {
      const LabCheck& check = *column.tasks.front()->check;
      plan.columns.push_back({check.title(), check.points()});
    }
    name_apart(plan);
    for (const Submission& submission : submissions) {
      for (std::size_t i = 0; i < columns_.size(); ++i) add(submission, i, plan);
      plan.students.push_back(submission.name);
    }
    return plan;
  }

 private:
  void take(const Task& task, std::vector<Fault>& faults) {
    const LabCheck& check = *task.check;
    if (columns_.empty() || columns_.back().tasks.front()->file != task.file ||
        columns_.back().tasks.front()->check->title() != check.title()) {
      columns_.emplace_back();
    }
    columns_.back().tasks.push_back(&task);
    try {
      const fs::path machine = machine_file(check, task.file);
      const auto [place, fresh] = programs_.try_emplace(machine.string());
      if (fresh) place->second = programs_of(machine);
    } catch (const InputError& error) {
      faults.insert(faults.end(), error.faults().begin(), error.faults().end());
    }
  }

  /// Checks of one name in different files get the file's name before theirs.
  void name_apart(ClassPlan& plan) const {
    std::map<std::string, std::size_t> count;
    for (const ClassColumn& column : plan.columns) ++count[column.title];
    for (std::size_t i = 0; i < plan.columns.size(); ++i) {
      std::string& title = plan.columns[i].title;
      if (count[title] < 2) continue;
      const fs::path file = columns_[i].tasks.front()->file;
      title = fmt::format("{}: {}", file.lexically_relative(options_.lab).string(), title);
    }
  }

  bool given(const std::string& program) const {
    return std::find(options_.given.begin(), options_.given.end(), program) != options_.given.end();
  }

  /// Programs of a task's machine that are the student's: those that are there, and the others.
  struct HandedIn {
    std::vector<std::string> there, missing;
    std::optional<std::string> link;  ///< one that is reached by a link
  };
  HandedIn handed_in(const Submission& submission, const Task& task) const {
    HandedIn result;
    for (const std::string& program : programs_.at(machine_file(*task.check, task.file).string())) {
      if (given(program)) continue;
      std::error_code error;
      fs::path path = submission.folder;
      for (const fs::path& step : fs::path(program).lexically_normal()) {
        path /= step;
        if (fs::is_symlink(fs::symlink_status(path, error))) result.link = program;
      }
      (fs::exists(fs::symlink_status(path, error)) ? result.there : result.missing).push_back(program);
    }
    return result;
  }

  void add(const Submission& submission, std::size_t column, ClassPlan& plan) const {
    const auto place = [&](const Task& from) -> Task& {
      Task& task = plan.tasks.emplace_back(from);
      task.owner = submission.name;
      task.programs = submission.folder;
      task.given = options_.given;
      task.row = plan.students.size();
      task.column = column;
      task.again = again(task);
      return task;
    };
    // Of several machines those are tried for which there is a program: the choice is the student's.
    const std::size_t before = plan.tasks.size();
    std::size_t tried = 0;
    std::vector<std::string> wanted;
    std::optional<Fault> fault;
    for (const Task* task : columns_[column].tasks) {
      const HandedIn programs = submission.link ? HandedIn{} : handed_in(submission, *task);
      for (const std::string& name : programs.missing) {
        if (std::find(wanted.begin(), wanted.end(), name) == wanted.end()) wanted.push_back(name);
      }
      if (submission.link || programs.link) {
        fault = Fault{.id = kPlace,
                      .place = {.file = submission.name},
                      .what = "links are not followed",
                      .expected = submission.link ? "a folder" : "a file",
                      .found = fmt::format("a symbolic link{}", programs.link ? ": " + *programs.link : "")};
        break;
      }
      if (programs.there.empty() && !programs.missing.empty()) continue;
      ++tried;
      Task& one = place(*task);
      if (programs.missing.empty()) continue;
      one.faults = {Fault{.id = kPlace,
                          .place = {.file = submission.name},
                          .what = "a program is missing",
                          .expected = list_of(programs.missing),
                          .found = fmt::format("only {}", list_of(programs.there)),
                          .hint = "a program that the lab brings is named by `--given`"}};
    }
    if (tried > 0 && !fault) return;
    if (!fault) {
      fault = Fault{.id = kPlace,
                    .place = {.file = submission.name},
                    .what = "no program is handed in",
                    .expected = list_of(wanted, "or"),
                    .found = "none"};
    }
    plan.tasks.erase(plan.tasks.begin() + static_cast<std::ptrdiff_t>(before), plan.tasks.end());
    place(*columns_[column].tasks.front()).faults = {*fault};
  }

  std::string again(const Task& task) const {
    std::string pattern = task.owner;
    std::replace(pattern.begin(), pattern.end(), '*', '?');
    std::string command = fmt::format("prewire grade {} {}", in_shell(options_.lab), in_shell(options_.submissions));
    for (const std::string& name : options_.given) command += fmt::format(" --given {}", in_shell(name));
    return fmt::format("{} --student {}{}", command, in_shell(pattern), choosing(task));
  }

  const ClassOptions& options_;
  std::vector<Column> columns_;
  std::map<std::string, std::vector<std::string>> programs_;  // of each machine file, as it names them
};

}  // namespace

ClassPlan plan_class(const ClassOptions& options, const Selection& selection) {
  keep_apart(options);
  Selection all = selection;
  all.shard = all.shards = 1;  // shares are of students, so that a row is whole
  const std::vector<Task> lab = find_tasks({options.lab}, all);
  ClassPlanner planner(options, lab);
  std::vector<Submission> submissions = find_submissions(options);
  submissions = share_of(std::move(submissions), selection);
  ClassPlan plan = planner.plan(submissions);
  // Numbers that no other share has: those that a whole run would count.
  std::map<std::size_t, std::size_t> in_row;
  for (Task& task : plan.tasks) {
    const std::size_t student = selection.shard - 1 + task.row * selection.shards;
    task.number = student * lab.size() + ++in_row[task.row];
  }
  return plan;
}

}  // namespace prewire::front::cli
