// Programs of our own labs come back, with the names that their machine knows.
#include <algorithm>

#include "paths.h"
#include "prewire/chips.h"
#include "prewire/machine.h"
#include "unit/disassembler_testing.h"

namespace prewire::testing {
namespace {

std::vector<std::filesystem::path> scenario_files(const std::string& extension) {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(source_folder() / "scenarios")) {
    if (entry.path().extension() == extension) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

TEST(DisassemblerScenarios, EveryProgramComesBack) {
  int programs = 0;
  for (const auto& file : scenario_files(".asm")) {
    SCOPED_TRACE(file);
    const Image image = assemble_file(file);
    const DisassembledProgram program = read_back(image, {.cpu = image.source->cpu});
    // What was an instruction is one, and the rest is not.
    for (const DisassembledProgram::Line& line : program.lines) {
      const SourceMap::Line* source = image.source->at(line.address);
      ASSERT_NE(source, nullptr);
      EXPECT_EQ(line.kind, source->kind) << source->text;
    }
    EXPECT_TRUE(program.losses.empty());
    ++programs;
  }
  EXPECT_GT(programs, 0);
}

TEST(DisassemblerScenarios, MachinesNameTheirAddresses) {
  int machines = 0;
  for (const auto& file : scenario_files(".json")) {
    if (file.filename().string().find("gauge") != 0) continue;
    SCOPED_TRACE(file);
    const Machine machine = Machine::from_file(file, standard_chips());
    ASSERT_EQ(machine.programs().size(), 1U);
    const Image& image = *machine.programs()[0];
    const std::string part(machine.cpu().type());
    const DisassembledProgram program = read_back(image, {.cpu = part, .names = address_names(machine)});
    for (const DisassembledProgram::Line& line : program.lines) {
      for (const SourceMap::Symbol& symbol : image.source->symbols) {
        const bool here = symbol.kind == SourceMap::SymbolKind::label && symbol.value == line.address;
        EXPECT_TRUE(!here || !line.label.empty()) << symbol.name;
      }
    }
    const auto stores = [](const DisassembledProgram::Line& line) {
      return line.mnemonic.starts_with("STA") && line.operand == "CRA";
    };
    EXPECT_TRUE(std::any_of(program.lines.begin(), program.lines.end(), stores));
    ++machines;
  }
  EXPECT_EQ(machines, 3);
}

constexpr const char* kMachine = R"({
  "machine": "tank",
  "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": {
    "RAM":   { "type": "mcm6810", "at": "$0000-$007F" },
    "PIA":   { "type": "mc6821", "at": "$4000-$4003", "mirror": "$4000-$4007" },
    "OUT-3": { "type": "74ls374", "at": "$5000" },
    "ROM":   { "type": "2716", "at": "$F800-$FFFF" }
  },
  "wires": []
})";

TEST(DisassemblerMachine, KnowsTheRegistersOfItsChips) {
  const Machine machine = Machine::from_text(kMachine, "tank.json", standard_chips(), {.root = {}, .run_faulty = true});
  std::string text;
  for (const AddressName& name : address_names(machine)) {
    text += fmt::format("{:04X} {} ; {}\n", name.address, name.name, name.about);
  }
  // MC6821 data sheet, table 1 "Internal addressing".
  EXPECT_EQ(text, R"(4000 PIA.PRA ; mc6821, also DDRA
4001 PIA.CRA ; mc6821
4002 PIA.PRB ; mc6821, also DDRB
4003 PIA.CRB ; mc6821
4004 PIA.PRA_4004 ; mc6821, also DDRA, as at $4000
4005 PIA.CRA_4005 ; mc6821, as at $4001
4006 PIA.PRB_4006 ; mc6821, also DDRB, as at $4002
4007 PIA.CRB_4007 ; mc6821, as at $4003
5000 OUT_3 ; 74ls374
)");
}

/// A chip that names registers names all of them, with names that the assembler takes.
TEST(DisassemblerMachine, RegistersOfEveryChipHaveNames) {
  const Registry chips = standard_chips();
  for (const auto& type : chips.types()) {
    if (!type->bus || type->bus->registers.empty()) continue;
    EXPECT_EQ(type->bus->registers.size(), type->bus->size) << type->name;
    for (const std::string_view names : type->bus->registers) {
      EXPECT_TRUE(std::all_of(names.begin(), names.end(), [](char c) {
        return c == ' ' || (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z');
      })) << names;
    }
  }
}

}  // namespace
}  // namespace prewire::testing
