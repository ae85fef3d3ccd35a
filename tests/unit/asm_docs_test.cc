// The sources in docs/assembler.md are sources.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "paths.h"
#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

TEST(AsmDocs, EverySourceAssembles) {
  std::ifstream in(source_folder() / "docs" / "assembler.md");
  ASSERT_TRUE(in);
  const std::string page{std::istreambuf_iterator<char>(in), {}};
  constexpr std::string_view kBegin = "```asm\n";
  int sources = 0;
  for (std::size_t at = page.find(kBegin); at != std::string::npos; at = page.find(kBegin, at)) {
    at += kBegin.size();
    const std::size_t end = page.find("```", at);
    EXPECT_EQ(faults_of(page.substr(at, end - at), "mc6800"), "") << page.substr(at, end - at);
    ++sources;
    at = end;
  }
  EXPECT_EQ(sources, 2);
}

}  // namespace
}  // namespace prewire::testing
