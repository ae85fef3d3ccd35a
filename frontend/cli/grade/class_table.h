// What each student has reached: a row for each, a column for each check.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "cli/test/test_line.h"
#include "submissions.h"

namespace prewire::front::cli {

/// One check of one student: all its machines and seeds.
struct ClassCell {
  TestSum sum;
  std::vector<std::size_t> lines;  ///< count in `ClassTable::lines`

  /// The worst of it; an error too if nothing of it has run.
  Verdict::Kind kind() const;
};

/// What a row, a column or the class comes to.
struct ClassSum {
  std::size_t passed = 0, failed = 0, errors = 0;
  std::int64_t points = 0, of = 0;
};

class ClassTable {
 public:
  explicit ClassTable(const ClassPlan& plan);
  void add(const Task& task, TestLine line);

  const std::vector<ClassColumn>& columns() const { return plan_.columns; }
  const std::vector<std::string>& students() const { return plan_.students; }
  const ClassCell& cell(std::size_t row, std::size_t column) const { return cells_[row][column]; }
  const std::vector<TestLine>& lines() const { return lines_; }
  /// Points are for a check that passes with all machines and seeds.
  std::int64_t points(std::size_t row, std::size_t column) const;
  ClassSum of_student(std::size_t row) const;
  ClassSum of_column(std::size_t column) const;
  ClassSum of_all() const;
  /// Students who pass everything.
  std::size_t complete() const;

 private:
  void count(std::size_t row, std::size_t column, ClassSum& sum) const;

  const ClassPlan& plan_;
  std::vector<std::vector<ClassCell>> cells_;
  std::vector<TestLine> lines_;
};

/// RFC 4180: a line for each student, then one of sums. No cell is a formula to a spreadsheet.
std::string class_csv(const ClassTable& table);
/// For a terminal.
std::string class_text(const ClassTable& table, bool only_incomplete);
/// A page for a browser, in one file.
std::string class_page(const ClassTable& table);

inline constexpr const char* kClassCsvMark = "student,points,of,passed,failed,errors";
inline constexpr const char* kClassPageMark = "<!DOCTYPE html>\n<!-- prewire grade -->\n";

}  // namespace prewire::front::cli
