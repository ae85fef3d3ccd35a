#include "class_table.h"

#include <fmt/format.h>

#include <algorithm>

#include "prewire/text.h"

namespace prewire::front::cli {

Verdict::Kind ClassCell::kind() const {
  if (sum.errors > 0 || sum.all() == 0) return Verdict::Kind::error;
  return sum.failed > 0 ? Verdict::Kind::failed : Verdict::Kind::passed;
}

ClassTable::ClassTable(const ClassPlan& plan)
    : plan_(plan), cells_(plan.students.size(), std::vector<ClassCell>(plan.columns.size())) {}

void ClassTable::add(const Task& task, TestLine line) {
  ClassCell& cell = cells_[task.row][task.column];
  count_in(cell.sum, line.kind);
  cell.lines.push_back(lines_.size());
  lines_.push_back(std::move(line));
}

std::int64_t ClassTable::points(std::size_t row, std::size_t column) const {
  return cells_[row][column].kind() == Verdict::Kind::passed ? plan_.columns[column].points : 0;
}

void ClassTable::count(std::size_t row, std::size_t column, ClassSum& sum) const {
  const Verdict::Kind kind = cells_[row][column].kind();
  ++(kind == Verdict::Kind::passed ? sum.passed : kind == Verdict::Kind::failed ? sum.failed : sum.errors);
  sum.points += points(row, column);
  sum.of += plan_.columns[column].points;
}

ClassSum ClassTable::of_student(std::size_t row) const {
  ClassSum sum;
  for (std::size_t column = 0; column < plan_.columns.size(); ++column) count(row, column, sum);
  return sum;
}

ClassSum ClassTable::of_column(std::size_t column) const {
  ClassSum sum;
  for (std::size_t row = 0; row < plan_.students.size(); ++row) count(row, column, sum);
  return sum;
}

ClassSum ClassTable::of_all() const {
  ClassSum sum;
  for (std::size_t row = 0; row < plan_.students.size(); ++row) {
    for (std::size_t column = 0; column < plan_.columns.size(); ++column) count(row, column, sum);
  }
  return sum;
}

std::size_t ClassTable::complete() const {
  std::size_t count = 0;
  for (std::size_t row = 0; row < plan_.students.size(); ++row) {
    count += of_student(row).passed == plan_.columns.size() ? 1 : 0;
  }
  return count;
}

std::string class_csv(const ClassTable& table) {
  std::string text = kClassCsvMark;
  for (const ClassColumn& column : table.columns()) text += ',' + csv_cell(column.title);
  text += "\r\n";
  const auto add = [&](const std::string& name, const ClassSum& sum) {
    text += fmt::format("{},{},{},{},{},{}", csv_cell(name), sum.points, sum.of, sum.passed, sum.failed, sum.errors);
  };
  for (std::size_t row = 0; row < table.students().size(); ++row) {
    add(table.students()[row], table.of_student(row));
    for (std::size_t column = 0; column < table.columns().size(); ++column) {
      text += fmt::format(",{}", table.points(row, column));
    }
    text += "\r\n";
  }
  add("(all)", table.of_all());
  for (std::size_t column = 0; column < table.columns().size(); ++column) {
    text += fmt::format(",{}", table.of_column(column).points);
  }
  return text + "\r\n";
}

std::string class_text(const ClassTable& table, bool only_incomplete) {
  std::string text;
  for (std::size_t row = 0; row < table.students().size(); ++row) {
    const ClassSum sum = table.of_student(row);
    const std::size_t checks = table.columns().size();
    if (only_incomplete && sum.passed == checks) continue;
    text += fmt::format("{}: {} of {}, {} of {}\n", printable(table.students()[row]), sum.points,
                        counted(sum.of, "point"), sum.passed, counted(checks, "check"));
  }
  const std::size_t students = table.students().size();
  return text + fmt::format("{}: {} with all checks passed\n", counted(students, "student"), table.complete());
}

}  // namespace prewire::front::cli
