// All verdicts as a file, in the forms of the trade.
#pragma once

#include <string>
#include <vector>

#include "test_line.h"

namespace prewire::front::cli {

std::string junit_file(const std::vector<TestLine>& lines);
std::string csv_file(const std::vector<TestLine>& lines);
std::string html_file(const std::vector<TestLine>& lines);

// How they begin: only older ones are replaced.
inline constexpr const char* kJunitMark =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"prewire test\"";
inline constexpr const char* kCsvMark = "file,check,machine,tags,verdict,cycles,seconds,why\r\n";
inline constexpr const char* kHtmlMark = "<!DOCTYPE html>\n<!-- prewire test -->\n";

}  // namespace prewire::front::cli
