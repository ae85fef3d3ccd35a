// Running a reference tool in a folder of its own.
#pragma once

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "folder_fixture.h"

namespace prewire::testing {

class AsmReference : public FolderTest {
 protected:
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(path(name), std::ios::binary) << text;
  }
  static std::string slurp(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    EXPECT_TRUE(in) << file;
    return {std::istreambuf_iterator<char>(in), {}};
  }
  /// Paths are ours, without blanks.
  static void run(const std::string& command) { ASSERT_EQ(std::system(command.c_str()), 0) << command; }
};

}  // namespace prewire::testing
