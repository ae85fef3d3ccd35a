#include "test_files.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

#include "prewire/text.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace fs = std::filesystem;

namespace {

constexpr std::string_view kEnding = ".check.json";
constexpr std::size_t kMostFiles = 100'000;

struct Found {
  std::string file;
  std::optional<Fault> fault{};
};

/// Check files of a folder, in order of their paths. Links to folders are not followed, and a file that is a link must
/// lead to one in the folder: what was handed in does not get to read elsewhere.
void search(const fs::path& folder, std::vector<Found>& files) {
  std::error_code error;
  const fs::path top = fs::canonical(folder, error);
  const std::size_t first = files.size();
  fs::recursive_directory_iterator walk(folder, fs::directory_options::skip_permission_denied, error);
  for (; !error && walk != fs::recursive_directory_iterator(); walk.increment(error)) {
    const fs::path& path = walk->path();
    if (!path.filename().native().ends_with(kEnding)) continue;
    std::error_code ignored;
    if (walk->is_directory(ignored)) continue;
    if (files.size() >= kMostFiles) {
      throw Trouble(Exit::input, fmt::format("there are too many check files under {}", folder.string()),
                    fmt::format("at most {}", kMostFiles), "more", "test parts of the folder");
    }
    Found found{path.lexically_normal().string()};
    const fs::path real = fs::canonical(path, ignored);
    const bool inside = !ignored && std::mismatch(top.begin(), top.end(), real.begin(), real.end()).first == top.end();
    if (!inside) {
      found.fault = Fault{.id = "check-place",
                          .place = {.file = found.file},
                          .what = "the check file is a link out of the folder",
                          .expected = fmt::format("a file under \"{}\"", folder.string()),
                          .found = "a symbolic link",
                          .hint = "copy it there"};
    } else if (!fs::is_regular_file(real, ignored)) {
      found.fault = Fault{.id = "check-place",
                          .place = {.file = found.file},
                          .what = "this is no file",
                          .expected = "a check file",
                          .found = "something else"};
    }
    files.push_back(std::move(found));
  }
  if (error) {
    throw Trouble(Exit::input, fmt::format("the folder {} cannot be searched", folder.string()), "", error.message(),
                  "check the permissions");
  }
  std::sort(files.begin() + static_cast<std::ptrdiff_t>(first), files.end(),
            [](const Found& a, const Found& b) { return a.file < b.file; });
}

std::vector<Found> find_files(const std::vector<std::string>& paths) {
  std::vector<Found> files;
  for (const std::string& path : paths) {
    std::error_code error;
    const fs::file_status status = fs::status(path, error);
    if (fs::is_directory(status)) {
      search(path, files);
    } else if (fs::is_regular_file(status)) {
      files.push_back({path});
    } else {
      throw Trouble(Exit::input, "there is nothing to test", "a check file, or a folder", path,
                    fs::exists(status) ? "this is no file" : "no such file: check the path");
    }
  }
  return files;
}

bool chosen(const LabCheck& check, const Selection& selection) {
  if (!selection.filter.empty() && !fits(selection.filter, check.name())) return false;
  if (selection.tags.empty()) return true;
  return std::any_of(selection.tags.begin(), selection.tags.end(), [&](const std::string& tag) {
    return std::find(check.tags().begin(), check.tags().end(), tag) != check.tags().end();
  });
}

/// With each seed, if there are any.
void add(const std::string& file, const ReadCheck& read, const Selection& selection, std::vector<Task>& tasks) {
  const LabCheck& check = read.check;
  const auto add_one = [&](const LabCheck& one, std::optional<std::uint64_t> seed) {
    Task task{file, one, read.faults};
    task.seed = seed;
    const std::string root = selection.root.empty() ? "" : fmt::format(" --root {}", in_shell(selection.root.string()));
    task.again = fmt::format("prewire test {}{}{}", in_shell(file), choosing(task), root);
    tasks.push_back(std::move(task));
  };
  if (!selection.seeds) return add_one(check, std::nullopt);
  for (std::uint64_t seed = selection.seeds->first; seed <= selection.seeds->second; ++seed) {
    add_one(check.with_seed(seed), seed);
  }
}

}  // namespace

std::string Task::name() const {
  if (!check) return "";
  return seed ? fmt::format("{} (seed {})", check->name(), *seed) : check->name();
}

std::string in_shell(std::string_view text) {
  const bool plain = printable(text) == text;
  std::string quoted = plain ? "'" : "$'";
  for (const char c : text) {
    if (plain) {
      quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
    } else if (c < ' ' || c > '~' || c == '\'' || c == '\\') {
      quoted += fmt::format("\\x{:02X}", static_cast<unsigned char>(c));
    } else {
      quoted += c;
    }
  }
  return quoted + "'";
}

std::string choosing(const Task& task) {
  // No pattern has a way to write a star, so ? stands for it.
  std::string pattern = task.check ? task.check->name() : "*";
  std::replace(pattern.begin(), pattern.end(), '*', '?');
  const std::string seed = task.seed ? fmt::format(" --seeds {}", *task.seed) : "";
  return fmt::format(" --filter {}{}", in_shell(pattern), seed);
}

bool fits(std::string_view pattern, std::string_view name) {
  std::size_t at = 0, in = 0, star = std::string_view::npos, retry = 0;
  while (in < name.size()) {
    if (at < pattern.size() && pattern[at] == '*') {
      star = at++;
      retry = in;
    } else if (at < pattern.size() && (pattern[at] == '?' || pattern[at] == name[in])) {
      ++at;
      ++in;
    } else if (star != std::string_view::npos) {
      at = star + 1;
      in = ++retry;
    } else {
      return false;
    }
  }
  while (at < pattern.size() && pattern[at] == '*') ++at;
  return at == pattern.size();
}

std::vector<Task> find_tasks(const std::vector<std::string>& paths, const Selection& selection) {
  const std::vector<Found> files = find_files(paths);
  if (files.empty()) {
    throw Trouble(Exit::input, "there are no check files", "files whose names end in .check.json",
                  fmt::format("{}", fmt::join(paths, ", ")), "docs/lab-checks.md describes them");
  }
  std::vector<Task> tasks;
  std::vector<std::string> names;
  for (const Found& found : files) {
    // A faulty file has no names: whatever is chosen, its faults are told.
    if (found.fault) {
      tasks.push_back({found.file, std::nullopt, {*found.fault}});
      continue;
    }
    try {
      for (const ReadCheck& each : read_each_check(found.file)) {
        names.push_back(each.check.name());
        if (chosen(each.check, selection)) add(found.file, each, selection, tasks);
      }
    } catch (const InputError& error) {
      tasks.push_back({found.file, std::nullopt, error.faults()});
    }
  }
  if (tasks.empty()) {
    throw Trouble(Exit::input, "no check is chosen", "a check with that name or tag",
                  selection.filter.empty() ? fmt::format("{}", fmt::join(selection.tags, ", ")) : selection.filter,
                  meant(selection.filter, names,
                        fmt::format("{} {} other names or tags", counted(names.size(), "check"),
                                    names.size() == 1 ? "has" : "have")));
  }
  for (std::size_t i = 0; i < tasks.size(); ++i) tasks[i].number = i + 1;
  return share_of(std::move(tasks), selection);
}

}  // namespace prewire::front::cli
