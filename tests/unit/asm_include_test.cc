// INCLUDE: where files are looked for, and what is refused.
#include <gtest/gtest.h>

#include "unit/asm_testing.h"
#include "unit/machine_testing.h"

namespace prewire::testing {
namespace {

class AsmInclude : public ::testing::Test {
 protected:
  std::string run(const std::string& name = "lab.asm", const std::string& root = "") {
    try {
      AssemblyOptions options{.cpu = "mc6809", .folder = {}, .root = {}};
      if (!root.empty()) options.root = folder_.path() / root;
      return bytes_of(assemble_file(folder_.path() / name, options));
    } catch (const InputError& error) {
      std::string text;
      for (const Fault& fault : error.faults()) {
        text += fmt::format("{}:{}:{} {}: {}\n", std::filesystem::path(fault.place.file).filename().string(),
                            fault.place.line, fault.place.column, fault.id, fault.what);
      }
      return text;
    }
  }

  Folder folder_{std::string("asm-include-") + ::testing::UnitTest::GetInstance()->current_test_info()->name()};
};

TEST_F(AsmInclude, FilesBesideTheOneThatIncludes) {
  std::filesystem::create_directories(folder_.path() / "parts/deep");
  folder_.write("lab.asm", " FCB 1\n INCLUDE parts/one.asm\n INCLUDE \"parts/deep/two.asm\" text\n FCB 4\n");
  folder_.write("parts/one.asm", " FCB 2\n INCLUDE deep/three.asm\n");
  folder_.write("parts/deep/two.asm", " FCB 3\n INCLUDE ../../four.asm\n");
  folder_.write("parts/deep/three.asm", " FCB 33");
  folder_.write("four.asm", "LAST FCB 44\n FDB LAST\n");
  EXPECT_EQ(run(), "$0000: 01 02 21 03 2C 00 04 04\n");
}

TEST_F(AsmInclude, AFaultNamesTheFileAsTheSourceIsNamed) {
  std::filesystem::create_directories(folder_.path() / "parts");
  folder_.write("lab.asm", " INCLUDE parts/one.asm\n");
  folder_.write("parts/one.asm", " NOP\n FCB 300\n");
  EXPECT_EQ(run(), "one.asm:2:6 asm-range: the value does not fit into 8 bits\n");
  try {
    assemble_file(folder_.path() / "lab.asm", {.cpu = "mc6809", .folder = {}, .root = {}});
    ADD_FAILURE();
  } catch (const InputError& error) {
    EXPECT_EQ(error.faults().at(0).place.file, (folder_.path() / "parts/one.asm").string());
  }
}

TEST_F(AsmInclude, Outside) {
  std::filesystem::create_directories(folder_.path() / "lab/parts");
  folder_.write("secret.asm", " FCB 1\n");
  folder_.write("lab/lab.asm", " INCLUDE ../secret.asm\n");
  folder_.write("lab/absolute.asm", " INCLUDE " + (folder_.path() / "secret.asm").string() + "\n");
  folder_.write("lab/link.asm", " INCLUDE parts/link.asm\n");
  std::filesystem::create_symlink(folder_.path() / "secret.asm", folder_.path() / "lab/parts/link.asm");
  for (const char* name : {"lab/lab.asm", "lab/absolute.asm", "lab/link.asm"}) {
    EXPECT_EQ(run(name), std::filesystem::path(name).filename().string() +
                             ":1:10 asm-include: the file is outside the folder that may be read\n");
  }
  EXPECT_EQ(run("lab/link.asm", "."), "$0000: 01\n");
}

TEST_F(AsmInclude, Refused) {
  std::filesystem::create_directories(folder_.path() / "parts");
  folder_.write("lab.asm", " INCLUDE\n INCLUDE \"open\n INCLUDE parts\n INCLUDE nothing.asm\n NOP\n");
  EXPECT_EQ(run(),
            "lab.asm:1:9 asm-operand-missing: INCLUDE needs the name of a file\n"
            "lab.asm:2:10 asm-text: the name of the file has no end\n"
            "lab.asm:3:10 asm-include: this is a folder\n"
            "lab.asm:4:10 asm-include: the file cannot be read: No such file or directory\n");
  folder_.write("lab.asm", " INCLUDE lab.asm\n NOP\n");
  EXPECT_EQ(run(), "lab.asm:1:10 asm-include-depth: files include each other too deeply or too often\n");
  folder_.write("lab.asm", " IF 0\n");
  EXPECT_EQ(run(), "lab.asm:1:2 asm-if-open: this IF has no ENDIF\n");
  EXPECT_EQ(run("nothing.asm"), "nothing.asm:0:0 asm-unreadable: the source cannot be read\n");
  EXPECT_EQ(faults_of(" INCLUDE lab.asm\n NOP\n"), "1:10 asm-include\n");
}

}  // namespace
}  // namespace prewire::testing
