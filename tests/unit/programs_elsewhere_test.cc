// A description whose programs lie in another folder, as those of a class do.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include "folder_fixture.h"
#include "prewire/chips.h"
#include "prewire/description.h"
#include "prewire/machine.h"

namespace prewire::testing {
namespace {

namespace fs = std::filesystem;

class ProgramsElsewhere : public FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    fs::create_directories(path("lab"));
    fs::create_directories(path("ann"));
    write("lab/barrel.json", R"({"machine": "barrel", "cpu": {"type": "mc6800", "clock": "1 MHz"},
      "chips": {"ROM": {"type": "2716", "at": "$F800-$FFFF"}},
      "wires": [["CPU.IRQ", "CPU.NMI", "CPU.HALT", "CPU.DBE", "+5V"], ["CPU.TSC", "GND"]],
      "program": ["barrel.asm", {"file": "monitor.asm"}]})");
    write("lab/barrel.asm", program(1));
    write("lab/monitor.asm", "        cpu mc6800\n        org $FF00\n        fcb 1\n");
    write("ann/barrel.asm", program(2));
    write("ann/monitor.asm", "        cpu mc6800\n        org $FF00\n        fcb 2\n");
  }

  static std::string program(int mark) {
    return "        cpu mc6800\n        org $F800\nstart:  ldaa #" + std::to_string(mark) +
           "\n        bra start\n        org $FFF8\n        fdb start,start,start,start\n";
  }
  void write(const std::string& name, std::string_view text) const { std::ofstream(path(name)) << text; }
  Description read(const LoadOptions& options) const {
    return Description::from_file(path("lab/barrel.json"), chips_, options);
  }
  std::string faults(const LoadOptions& options) const {
    try {
      read(options);
    } catch (const InputError& error) {
      return error.faults().front().id;
    }
    return "none";
  }

  const Registry chips_ = standard_chips();
};

TEST_F(ProgramsElsewhere, AreNamedByTheDescription) {
  EXPECT_EQ(programs_of(path("lab/barrel.json")), (std::vector<std::string>{"barrel.asm", "monitor.asm"}));
  write("lab/odd.json", R"({"program": [1, {"at": "$F800"}, "a.asm", {"file": 2}]})");
  EXPECT_EQ(programs_of(path("lab/odd.json")), std::vector<std::string>{"a.asm"});
  write("lab/odd.json", R"(["program"])");
  EXPECT_TRUE(programs_of(path("lab/odd.json")).empty());
  write("lab/odd.json", R"({"program": [)");
  EXPECT_THROW(programs_of(path("lab/odd.json")), InputError);
  EXPECT_THROW(programs_of(path("lab/none.json")), InputError);
}

TEST_F(ProgramsElsewhere, StandInPlaceOfThoseBesideIt) {
  const auto bytes = [&](const LoadOptions& options) {
    const Machine machine = read(options).build();
    return std::vector<int>{machine.peek(0xF801), machine.peek(0xFF00)};
  };
  LoadOptions options;
  EXPECT_EQ(bytes(options), (std::vector<int>{1, 1}));
  options.programs = path("ann");
  EXPECT_EQ(bytes(options), (std::vector<int>{2, 2}));
  options.given = {"monitor.asm"};
  EXPECT_EQ(bytes(options), (std::vector<int>{2, 1}));
  options.root = path("lab");  // of those beside the description alone
  EXPECT_EQ(bytes(options), (std::vector<int>{2, 1}));
}

TEST_F(ProgramsElsewhere, DoNotReadTheDescriptionsFolder) {
  LoadOptions options;
  options.programs = path("ann");
  write("ann/barrel.asm", program(2) + "        include \"../lab/monitor.asm\"\n");
  EXPECT_EQ(faults(options), "asm-include");
  fs::remove(path("ann/barrel.asm"));
  fs::create_symlink(path("lab/barrel.asm"), path("ann/barrel.asm"));
  EXPECT_EQ(faults(options), "image-place");
  fs::remove(path("ann/barrel.asm"));
  EXPECT_NE(faults(options), "none");  // the answer beside the description is no way out
}

}  // namespace
}  // namespace prewire::testing
