// Coverage of a small program with source, of one without, and of branches both ways. The records are those of
// geninfo(1), section FILES (Debian package lcov).
#include "prewire/coverage.h"

#include "cpu_fixture.h"
#include "prewire/chips.h"
#include "unit/machine_testing.h"

namespace prewire::testing {
namespace {

constexpr const char* kLab = R"({
  "machine": "Fish tank counter",
  "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": {
    "RAM": { "type": "6116", "at": "$0000-$07FF" },
    "ROM": { "type": "2716", "at": "$F800-$FFFF" }
  },
  "wires": [ ["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"], ["CPU.TSC", "GND"] ],
  "program": ["tank.asm"]
})";

constexpr const char* kProgram = R"(; Counts to three.
        cpu     mc6800
twice   macro
        deca
        inca
        endm
        org     $F800
start   lds     #$007F
        ldaa    #3
loop    bsr     count
        twice
        deca
        bne     loop
stay    bra     stay
never   jsr     other
        beq     never
        rts
count   clr     $0010
        rts
other   rts
        org     $FFFE
        fdb     start
)";

class CoveredLab {
 public:
  explicit CoveredLab(const std::string& program = kProgram) : folder("coverage") {
    folder.write("tank.json", kLab);
    folder.write("tank.asm", program);
  }
  Machine machine() { return Machine::from_file(folder.path() / "tank.json", standard_chips()); }
  /// Without the folder, which has another name each time.
  std::string plain(std::string text) const {
    const std::string prefix = folder.path().string() + "/";
    for (std::size_t at = text.find(prefix); at != std::string::npos; at = text.find(prefix)) {
      text.erase(at, prefix.size());
    }
    return text;
  }
  Folder folder;
};

TEST(Coverage, OfAProgramWithSourceIsATracefile) {
  CoveredLab lab;
  Machine machine = lab.machine();
  Coverage coverage(machine);
  machine.watch(coverage);
  machine.run_for(200);
  const std::uint64_t stays = coverage.at(*machine.address_of("stay")).executed;
  EXPECT_GT(stays, 10U);
  EXPECT_EQ(lab.plain(lcov_tracefile(coverage)), fmt::format(R"(TN:
SF:tank.asm
FN:18,count
FN:20,other
FNDA:3,count
FNDA:0,other
FNF:2
FNH:1
BRDA:13,0,0,2
BRDA:13,0,1,1
BRDA:16,0,0,-
BRDA:16,0,1,-
BRF:4
BRH:2
DA:4,3
DA:5,3
DA:8,1
DA:9,1
DA:10,3
DA:12,3
DA:13,3
DA:14,{}
DA:15,0
DA:16,0
DA:17,0
DA:18,3
DA:19,3
DA:20,0
LF:14
LH:10
end_of_record
)",
                                                             stays));
}

TEST(Coverage, OfAProgramWithSourceIsAListing) {
  CoveredLab lab;
  Machine machine = lab.machine();
  Coverage coverage(machine);
  machine.watch(coverage);
  machine.run_for(150);
  const std::string text = lab.plain(annotated_listing(coverage));
  EXPECT_TRUE(text.starts_with(R"(Coverage of Fish tank counter after 150 cycles

tank.asm: instructions 10 of 14, 71 %; ways of branches 2 of 4, 50 %
    executed        taken    not taken   line  source

tank.asm
)")) << text;
  const auto has = [&](const char* executed, const char* taken, const char* passed, const char* number,
                       const char* source) {
    const std::string line = fmt::format("\n{:>12} {:>12} {:>12} {:>7} {}\n", executed, taken, passed, number, source);
    EXPECT_NE(text.find(line), std::string::npos) << text << line;
  };
  has("", "", "", "1 ", "; Counts to three.");
  has("3", "2", "1", "13 ", "        bne     loop");
  has("never", "", "", "16 ", "        beq     never");
  has("3", "", "", "4+", "        deca");
  // A line of a macro has one count, each place of it its own.
  const std::size_t by_address = text.find("\nBy address\n");
  ASSERT_NE(by_address, std::string::npos) << text;
  const std::string rest = text.substr(by_address);
  EXPECT_NE(rest.find("           3            2            1  $"), std::string::npos) << rest;
  EXPECT_NE(rest.find("DECA                 tank.asm:4\n"), std::string::npos) << rest;
  EXPECT_NE(rest.find("       never                            $"), std::string::npos) << rest;
}

TEST(Coverage, OfAProgramWithoutSourceGoesByAddress) {
  CpuBench bench;
  bench.poke(CpuBench::kStart, {0x86, 0x02, 0x4A, 0x26, 0xFD, 0x20, 0xFE});  // LDAA #2; DECA; BNE *-1; BRA *
  CpuRegisters r = bench.registers();
  bench.set(r);
  Coverage coverage(bench.machine);
  bench.machine.watch(coverage);
  bench.machine.run_for(2 + 6 + 6 + 4);
  bench.machine.unwatch(coverage);
  EXPECT_EQ(lcov_tracefile(coverage), R"(TN:
SF:no-source
FNF:0
FNH:0
BRDA:4099,0,0,1
BRDA:4099,0,1,1
BRF:2
BRH:2
DA:4096,1
DA:4098,2
DA:4099,2
DA:4101,1
LF:4
LH:4
end_of_record
)");
  EXPECT_NE(annotated_listing(coverage).find(R"(
Without source
    executed        taken    not taken  address  instruction
           1                            $1000    LDAA #$02
           2                            $1002    DECA
           2            1            1  $1003    BNE $1002
           1                            $1005    BRA $1005
)"),
            std::string::npos)
      << annotated_listing(coverage);
}

TEST(Coverage, CountsHandlersAsEntered) {
  CpuBench bench(CpuBench::mc6809());
  bench.poke(0xFFF2, {0x20, 0x00, 0x20, 0x00, 0x21, 0x00, 0x22, 0x00});
  bench.poke(0x2000, {0x3B});                                                      // SWI3, SWI2: RTI
  bench.poke(0x2200, {0x3B});                                                      // IRQ
  bench.poke(CpuBench::kStart, {0x1C, 0xEF, 0x10, 0x3F, 0x11, 0x3F, 0x20, 0xFE});  // ANDCC #$EF; SWI2; SWI3; BRA *
  Coverage coverage(bench.machine);
  bench.machine.watch(coverage);
  bench.machine.run_for(100);
  EXPECT_EQ(coverage.at(0x2000).entered, 2U);
  bench.hand("IRQ low");
  bench.machine.run_for(12);
  bench.hand("IRQ high");
  bench.machine.run_for(40);
  bench.machine.unwatch(coverage);
  EXPECT_EQ(coverage.at(0x2200).entered, 1U);
  EXPECT_EQ(coverage.at(CpuBench::kStart).entered, 0U);
}

}  // namespace
}  // namespace prewire::testing
