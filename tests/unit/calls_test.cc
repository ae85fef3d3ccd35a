// Calls, returns and interrupts as a follower tells them, for programs that behave and programs that play with the
// stack. What the instructions stack is in the MC6800 data sheet, figures "Saving the Status of the Microprocessor in
// the Stack" and "Program Flow for Jump to Subroutine Instructions", and in M6809PM appendix A.
#include "prewire/calls.h"

#include "bus/mix.h"
#include "cpu_fixture.h"
#include "prewire/assembler.h"

namespace prewire::testing {
namespace {

/// One line for each event.
class Diary final : public CallListener {
 public:
  explicit Diary(const Image& image) : map_(*image.source) {}

  void on_enter(const CallFrame& frame) override {
    lines += fmt::format("{} from {} to {}\n", to_string(frame.kind), name(frame.caller), name(frame.target));
    frames.push_back(frame);
  }
  void on_leave(const CallFrame& frame, Leave how, const Departure& departure) override {
    static constexpr const char* kHow[] = {"returned", "went elsewhere", "was dropped", "ended by reset"};
    lines += fmt::format("{} {}: {} to {}\n", name(frame.target), kHow[static_cast<int>(how)],
                         how == Leave::reset ? "" : name(departure.from), name(departure.to));
  }
  void on_stray_return(const Departure& departure) override {
    lines += fmt::format("stray {}: {} to {}\n", to_string(departure.flow), name(departure.from), name(departure.to));
  }

  std::string take() { return std::exchange(lines, ""); }
  std::string lines;
  std::vector<CallFrame> frames;

 private:
  std::string name(std::uint16_t address) const {
    for (const SourceMap::Symbol& symbol : map_.symbols) {
      if (symbol.kind == SourceMap::SymbolKind::label && symbol.value == address) return symbol.name;
    }
    return fmt::format("{:04X}", address);
  }
  const SourceMap& map_;
};

Image assembled(const std::string& source, std::string_view cpu) {
  AssemblyOptions options;
  options.cpu = cpu;
  return assemble(source, "test.asm", options);
}

class Followed {
 public:
  explicit Followed(const std::string& source, const CpuBench::Parts& parts = {})
      : bench(parts), image(program(source, bench.machine)), diary(image), follower(bench.machine, &diary) {
    for (const Segment& segment : image.segments) {
      bench.poke(static_cast<std::uint16_t>(segment.start), segment.bytes);
    }
    CpuRegisters r = bench.registers();
    r.s = 0x01FF;
    bench.set(r);
    bench.machine.watch(follower);
  }
  ~Followed() { bench.machine.unwatch(follower); }

  std::uint16_t at(std::string_view label) const {
    const SourceMap::Symbol* symbol = image.source->find(label);
    EXPECT_NE(symbol, nullptr) << label;
    return symbol == nullptr ? std::uint16_t{0} : static_cast<std::uint16_t>(symbol->value);
  }
  /// Runs to a label and says what has happened.
  std::string until(std::string_view label) {
    bench.machine.set_breakpoint(at(label), true);
    const Stop stop = bench.machine.run_for(5000);
    EXPECT_EQ(stop.reason, StopReason::breakpoint) << diary.lines;
    EXPECT_EQ(stop.pc, at(label));
    bench.machine.set_breakpoint(at(label), false);
    follower.catch_up();
    return diary.take();
  }

  CpuBench bench;
  Image image;
  Diary diary;
  CallFollower follower;

 private:
  static Image program(const std::string& source, const Machine& machine) {
    return assembled("        ORG $1000\n" + source, std::as_const(machine).cpu().type());
  }
};

TEST(Calls, OfSubroutinesNest) {
  Followed run(R"(
        JSR OUTER
DONE    BRA DONE
OUTER   LDX #INNER
THERE   JSR 0,X
AFTER   RTS
INNER   PSHA
        PULA
BACK    RTS
)");
  EXPECT_EQ(run.until("BACK"), "call from 1000 to OUTER\ncall from THERE to INNER\n");
  const auto& stack = run.follower.stack();
  ASSERT_EQ(stack.size(), 2U);
  EXPECT_EQ(stack[0].caller, 0x1000);
  EXPECT_EQ(stack[0].back, 0x1003);
  EXPECT_EQ(stack[0].outside, 0x01FF);
  EXPECT_EQ(stack[0].inside, 0x01FD);
  EXPECT_EQ(stack[0].entered - stack[0].called, 9);  // JSR extended
  EXPECT_EQ(stack[1].target, run.at("INNER"));
  EXPECT_EQ(stack[1].entered - stack[1].called, 8);  // JSR indexed
  EXPECT_EQ(run.until("DONE"), "INNER returned: BACK to AFTER\nOUTER returned: AFTER to DONE\n");
  EXPECT_TRUE(run.follower.stack().empty());

  const DeepestStack& deepest = run.follower.deepest();
  EXPECT_EQ(deepest.bytes, 5);
  EXPECT_EQ(deepest.top, 0x01FF);
  EXPECT_EQ(deepest.pc, run.at("INNER"));  // PSHA
  EXPECT_EQ(deepest.calls.size(), 2U);
}

TEST(Calls, AreNotMadeByPlainUseOfTheStack) {
  Followed run(R"(
        LDS #$0100
        PSHA
        PSHB
        PULB
        PULA
        TSX
        DES
        INS
        TXS
DONE    BRA DONE
)");
  EXPECT_EQ(run.until("DONE"), "");
  EXPECT_EQ(run.follower.deepest().bytes, 2);
  EXPECT_EQ(run.follower.deepest().top, 0x0100);
}

TEST(Calls, MayBeLeftTwoLevelsAtOnce) {
  Followed run(R"(
        BSR OUTER
DONE    BRA DONE
OUTER   BSR INNER
        NOP
        RTS
INNER   INS
        INS
OUT     RTS
)");
  EXPECT_EQ(run.until("DONE"), R"(call from 1000 to OUTER
call from OUTER to INNER
INNER was dropped: OUT to DONE
OUTER returned: OUT to DONE
)");
}

TEST(Calls, MayBeLeftByAJumpToTheirReturnAddress) {
  Followed run(R"(
        JSR OUTER
DONE    BRA DONE
OUTER   TSX
        LDX 0,X
        INS
        INS
OUT     JMP 0,X
)");
  EXPECT_EQ(run.until("DONE"), "call from 1000 to OUTER\nOUTER returned: OUT to DONE\n");
}

TEST(Calls, EndWhenTheStackPointerIsSetAnew) {
  Followed run(R"(
AGAIN   LDS #$01FF
        BSR OUTER
OUTER   BSR INNER
INNER   JMP AGAIN
)");
  EXPECT_EQ(run.until("INNER"), "call from 1003 to OUTER\ncall from OUTER to INNER\n");
  // Until a jump or a return nothing is certain: the address may be put back.
  EXPECT_EQ(run.until("AGAIN"), "");
  EXPECT_EQ(run.until("OUTER"), "call from 1003 to OUTER\n");
  EXPECT_EQ(run.until("INNER"), "call from OUTER to INNER\n");
}

TEST(Calls, KeepReturnAddressesThatComeBack) {
  Followed run(R"(
        JSR OUTER
DONE    BRA DONE
OUTER   PULA
        PULB
        PSHB
        PSHA
OUT     RTS
)");
  EXPECT_EQ(run.until("DONE"), "call from 1000 to OUTER\nOUTER returned: OUT to DONE\n");
}

TEST(Calls, WithRegistersForgottenOnTheStackGoElsewhere) {
  Followed run(R"(
        JSR OUTER
DONE    BRA DONE
OUTER   LDAA #$20
        PSHA
OUT     RTS
        ORG $2010
WRONG   BRA WRONG
)");
  EXPECT_EQ(run.until("WRONG"), "call from 1000 to OUTER\nOUTER went elsewhere: OUT to WRONG\n");
}

TEST(Calls, AreNotEndedByAJumpByWayOfTheStack) {
  Followed run(R"(
        JSR OUTER
DONE    BRA DONE
OUTER   LDAB #$10
        PSHB
        LDAB #$20
        PSHB
OUT     RTS
        ORG $2010
TABLE   RTS
)");
  EXPECT_EQ(run.until("TABLE"), "call from 1000 to OUTER\nstray return: OUT to TABLE\n");
  EXPECT_EQ(run.follower.stack().size(), 1U);
  EXPECT_EQ(run.until("DONE"), "OUTER returned: TABLE to DONE\n");
}

TEST(Calls, OfSoftwareInterruptsReturn) {
  Followed run(R"(
HERE    SWI
DONE    BRA DONE
HANDLER BSR PART
OUT     RTI
PART    RTS
        ORG $FFFA
        FDB HANDLER
)");
  EXPECT_EQ(run.until("DONE"), R"(SWI from HERE to HANDLER
call from HANDLER to PART
PART returned: PART to OUT
HANDLER returned: OUT to DONE
)");
  EXPECT_EQ(run.follower.deepest().bytes, 9);
}

TEST(Calls, OfHandlersThatLeaveThemByTheWrongReturn) {
  Followed run(R"(
        SWI
HANDLER BSR PART
PART    RTI
        ORG $FFFA
        FDB HANDLER
)");
  run.bench.machine.run_for(12 + 8 + 10 + 1);
  // RTI takes the two bytes of PART's return address for CC and B, and goes where X was stacked.
  const std::string lines = run.diary.take();
  EXPECT_TRUE(lines.starts_with("SWI from 1000 to HANDLER\ncall from HANDLER to PART\nPART went elsewhere: PART to "))
      << lines;
  EXPECT_NE(lines.find("HANDLER was dropped: PART to "), std::string::npos) << lines;
  EXPECT_TRUE(run.follower.stack().empty());
}

TEST(Calls, OfInterruptsTellWhichOne) {
  Followed run(R"(
        CLI
LOOP    INX
        BRA LOOP
IRQ     LDAA #1
IRQOUT  NOP
        NOP
        RTI
NMI     LDAA #2
NMIOUT  RTI
        ORG $FFF8
        FDB IRQ,0,NMI
)");
  run.bench.hand("IRQ low", stamp_of(run.bench.machine.now() + 30));
  EXPECT_EQ(run.until("IRQOUT").substr(0, 9), "IRQ from ");
  ASSERT_EQ(run.follower.stack().size(), 1U);
  EXPECT_EQ(run.follower.stack()[0].kind, CallKind::irq);
  EXPECT_EQ(run.follower.stack()[0].outside, 0x01FF);
  EXPECT_EQ(run.follower.stack()[0].inside, 0x01FF - 7);
  EXPECT_EQ(run.follower.stack()[0].entered - run.follower.stack()[0].called, 12);
  run.bench.hand("NMI low");
  EXPECT_TRUE(run.until("NMIOUT").starts_with("NMI from "));
  EXPECT_EQ(run.follower.stack().size(), 2U);
}

TEST(Calls, OfInterruptsAfterAWait) {
  for (const char* mc6809 : {"", "CWAI"}) {
    const bool cwai = *mc6809 != 0;
    Followed run(fmt::format(R"(
        {}
DONE    BRA DONE
IRQ     NOP
OUT     RTI
        ORG $FFF8
        FDB IRQ
)",
                             cwai ? "CWAI #$EF" : "CLI\n        WAI"),
                 cwai ? CpuBench::mc6809() : CpuBench::Parts{});
    run.bench.machine.run_for(60);
    run.follower.catch_up();
    EXPECT_TRUE(run.follower.stack().empty());
    run.bench.hand("IRQ low");
    EXPECT_EQ(run.until("OUT"), "IRQ from DONE to IRQ\n");
    EXPECT_EQ(run.follower.stack()[0].outside, 0x01FF);
    run.bench.hand("IRQ high");
    EXPECT_EQ(run.until("DONE"), "IRQ returned: OUT to DONE\n");
  }
}

TEST(Calls, EndByReset) {
  Followed run(R"(
        BSR OUTER
OUTER   BRA OUTER
)");
  run.bench.machine.run_for(20);
  EXPECT_EQ(run.diary.take(), "call from 1000 to OUTER\n");
  run.bench.machine.reset();
  run.bench.machine.run_for(20);
  EXPECT_TRUE(run.diary.take().starts_with("OUTER ended by reset"));
}

TEST(Calls, OfTheMc6809ComeInManyForms) {
  Followed run(R"(
        LDY #INNER
        LBSR OUTER
ONE     JSR <LOW
TWO     JSR [VIA]
        SWI2
        SWI3
DONE    BRA DONE
OUTER   PSHS A,B,X
        LEAS -20,S
THERE   JSR ,Y
AFTER   LEAS 20,S
OUT     PULS A,B,X,PC
INNER   LBEQ INOUT
INOUT   RTS
ATE     LDX ,S++
ATEOUT  TFR X,PC
SOFT    RTI
VIA     FDB ATE
        ORG $FFF2
        FDB SOFT,SOFT
        ORG $0040
LOW     RTS
)",
               CpuBench::mc6809());
  EXPECT_EQ(run.until("DONE"), R"(call from 1004 to OUTER
call from THERE to INNER
INNER returned: INOUT to AFTER
OUTER returned: OUT to ONE
call from ONE to LOW
LOW returned: LOW to TWO
call from TWO to ATE
ATE returned: ATEOUT to 100D
SWI from 100D to SOFT
SOFT returned: SOFT to 100F
SWI from 100F to SOFT
SOFT returned: SOFT to DONE
)");
  EXPECT_EQ(run.follower.deepest().bytes, 2 + 4 + 20 + 2);
}

TEST(Calls, OfFastInterruptsReturn) {
  Followed run(R"(
        ANDCC #$AF
LOOP    LEAX 1,X
        BRA LOOP
FIRQ    NOP
OUT     RTI
        ORG $FFF6
        FDB FIRQ
)",
               CpuBench::mc6809());
  CpuRegisters r = run.bench.registers();
  run.bench.hand("FIRQ low", stamp_of(run.bench.machine.now() + 30));
  EXPECT_TRUE(run.until("OUT").starts_with("FIRQ from "));
  EXPECT_EQ(run.follower.stack()[0].outside - run.follower.stack()[0].inside, 3);
  run.bench.hand("FIRQ high");
  const std::uint16_t back = run.follower.stack()[0].back;
  EXPECT_EQ(run.until("LOOP").substr(0, 14), "FIRQ returned:") << back;
  EXPECT_EQ(run.bench.registers().s, r.s);
  EXPECT_TRUE(run.follower.stack().empty());
}

// Whatever a program does, what is entered is left once: memory full of what moves the stack pointer.
TEST(Calls, OfWildProgramsAreInBalance) {
  CpuBench bench;
  struct Balance final : CallListener {
    void on_enter(const CallFrame&) override { ++depth, ++entered; }
    void on_leave(const CallFrame&, Leave how, const Departure&) override { --depth, ++left[static_cast<int>(how)]; }
    void on_stray_return(const Departure&) override { ++stray; }
    int depth = 0, entered = 0, stray = 0;
    int left[4] = {};
  } balance;
  CallFollower follower(bench.machine, &balance);
  bench.machine.watch(follower);
  // MC6800 data sheet: NOP, INS, DES, PULA, PSHA, TSX, TXS, RTS, RTI, SWI, BSR, JSR 1,X, JMP 1,X, LDS #
  const std::vector<std::uint8_t> kOpcodes{0x01, 0x31, 0x34, 0x32, 0x36, 0x30, 0x35, 0x39, 0x39,
                                           0x3B, 0x3F, 0x8D, 0x8D, 0x8D, 0xAD, 0x6E, 0x8E, 0x01};
  for (std::uint64_t run = 0; run < 30; ++run) {
    bench.machine.power_cycle();
    for (unsigned address = 0; address < 65536; ++address) {
      const std::uint64_t noise = mix(run, address);
      bench.machine.poke(static_cast<std::uint16_t>(address), kOpcodes[noise % kOpcodes.size()]);
    }
    for (int again = 0; again < 3; ++again) {
      bench.machine.run_for(3000);
      ASSERT_EQ(balance.depth, static_cast<int>(follower.stack().size()));
      bench.machine.reset();
    }
  }
  bench.machine.unwatch(follower);
  EXPECT_GT(balance.entered, 1000);
  EXPECT_GT(balance.stray, 0);
  for (const int count : balance.left) EXPECT_GT(count, 0);
}

// ---------------------------------------------------------------------------------------------------------------------
// What the follower goes by

TEST(Outline, OfEveryInstructionHasTheLengthOfItsDisassembly) {
  for (const char* type : {"mc6800", "mc6809"}) {
    std::array<std::uint8_t, 5> code{0, 0, 0x12, 0x34, 0x56};
    for (int first = 0; first < 256; ++first) {
      for (int second = 0; second < 256; ++second) {
        code[0] = static_cast<std::uint8_t>(first);
        code[1] = static_cast<std::uint8_t>(second);
        const Outline brief = outline(type, 0x4000, code);
        const Disassembly line = disassemble(type, 0x4000, code);
        ASSERT_EQ(brief.defined, line.defined) << line.text;
        ASSERT_EQ(brief.bytes, line.bytes) << line.text;
        if (!brief.target) continue;
        // Where the text names an address, it is that one.
        ASSERT_NE(line.text.find(fmt::format("${:04X}", *brief.target)), std::string::npos) << line.text;
      }
    }
  }
}

TEST(Outline, TellsWhereTheProcessorGoes) {
  struct Case {
    const char* source;
    Flow flow;
    int target = -1;
  };
  const auto check = [](const char* cpu, const std::vector<Case>& cases) {
    for (const Case& each : cases) {
      const Image image = assembled(fmt::format("        ORG $4000\n        {}\n", each.source), cpu);
      const Outline brief = outline(cpu, 0x4000, image.segments.at(0).bytes);
      EXPECT_EQ(to_string(brief.flow), to_string(each.flow)) << each.source;
      EXPECT_EQ(brief.target ? *brief.target : -1, each.target) << each.source;
    }
  };
  check("mc6800", {{"NOP", Flow::plain},
                   {"BRA $4010", Flow::jump, 0x4010},
                   {"BNE $3FF0", Flow::branch, 0x3FF0},
                   {"BSR $4002", Flow::call, 0x4002},
                   {"JSR $1234", Flow::call, 0x1234},
                   {"JSR 3,X", Flow::call},
                   {"JMP $1234", Flow::jump, 0x1234},
                   {"JMP 3,X", Flow::jump},
                   {"RTS", Flow::ret},
                   {"RTI", Flow::interrupt_return},
                   {"SWI", Flow::software_interrupt},
                   {"WAI", Flow::wait},
                   {"LDAA $1234", Flow::plain}});
  check("mc6809", {{"BRN $4010", Flow::plain},
                   {"LBRN $4010", Flow::plain},
                   {"LBRA $1000", Flow::jump, 0x1000},
                   {"LBSR $F000", Flow::call, 0xF000},
                   {"LBGE $5000", Flow::branch, 0x5000},
                   {"JMP <$20", Flow::jump},
                   {"JSR $4100,PCR", Flow::call, 0x4100},
                   {"JSR [$4100]", Flow::call},
                   {"JMP [$4010,PCR]", Flow::jump},
                   {"PULS A,PC", Flow::ret},
                   {"PULS A,X", Flow::plain},
                   {"PSHS PC", Flow::plain},
                   {"PULU PC", Flow::jump},
                   {"TFR X,PC", Flow::jump},
                   {"TFR PC,X", Flow::plain},
                   {"EXG PC,X", Flow::jump},
                   {"CWAI #$EF", Flow::wait},
                   {"SYNC", Flow::wait},
                   {"SWI2", Flow::software_interrupt},
                   {"SWI3", Flow::software_interrupt}});
}

}  // namespace
}  // namespace prewire::testing
