// What a class has handed in, and which checks of the lab are run with it.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "cli/test/test_files.h"

namespace prewire::front::cli {

/// A check of the lab, whatever machines it names.
struct ClassColumn {
  std::string title;
  std::int64_t points = 1;
};

struct ClassPlan {
  std::vector<ClassColumn> columns;
  std::vector<std::string> students;  ///< names of their folders, in order
  std::vector<Task> tasks;            ///< of one student after the other; rows and columns count in the above
};

struct ClassOptions {
  std::string lab, submissions;
  std::string student;             ///< a pattern for names; empty for all
  std::vector<std::string> given;  ///< programs that the lab brings
};

/// The checks in the lab, for every folder in the submissions and the share of the selection. Nothing of a submission
/// is read but the programs that the machines name, and nothing is written. Throws `Trouble` for folders that will not
/// do, `InputError` for what is wrong with the lab.
ClassPlan plan_class(const ClassOptions& options, const Selection& selection);

}  // namespace prewire::front::cli
