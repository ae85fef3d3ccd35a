// The lab partner: for each of its rules a lab that must make it speak, and one much like it that must not.
#include "prewire/partner.h"

#include <algorithm>
#include <set>

#include "partner_labs.h"

namespace prewire::testing {
namespace {

// Pieces of boards.
const std::string kPia = R"("PIA": {"type": "mc6821", "at": "$4000-$4003"})";
const std::string kHand = R"("S": {"type": "stimulus", "high": 255})";
const std::string kPullUp = R"("R": {"type": "resistor", "ohms": "3.3 kOhm"})";
const std::string kHandOn = R"(["S.P0", "CPU.{}"])";
// A PIA whose CA1 a hand moves and whose request goes to IRQ.
const std::string kPiaChips = kPia + ", " + kHand + ", " + kPullUp;
const std::string kPiaWires = R"(["PIA.CA1", "S.P0"], ["PIA.IRQA", "CPU.IRQ", "R.1"], ["R.2", "+5V"])";
const std::string kAdc = R"("ADC": {"type": "adc0804", "at": "$5000", "clock_r": "10 kOhm", "clock_c": "150 pF"})";
const std::string kAdcWires = R"(["ADC.VIN+", "ADC.VIN-", "GND"])";
const std::string kPortB =  // all outputs, at 0
    "start: ldaa #0\n staa $4003\n ldaa #$FF\n staa $4002\n ldaa #4\n staa $4003\n clra\n staa $4002\n lds #$07FF\n";
const std::string kLamp = R"("D1": {"type": "seven_segment"})";
const std::string kLampWires = R"(["PIA.PB0", "D1.a"], ["PIA.PB1", "D1.b"], ["PIA.PB2", "D1.c"], ["PIA.PB3", "D1.d"],
  ["PIA.PB4", "D1.e"], ["PIA.PB5", "D1.f"], ["PIA.PB6", "D1.g"])";
const std::string kGrounded = kLampWires + R"(, ["D1.COM", "GND"])";
const std::string kScanned = kLampWires + R"(, ["D1.COM", "PIA.PB7"])";

std::string on(const char* pin) { return fmt::format(R"(["S.P0", "CPU.{}"])", pin); }

/// Three bytes in turn on port B, each for 60 ms.
std::string three(int a, int b, int c) {
  std::string source = kPortB;
  for (const int byte : {a, b, c}) source += fmt::format(" ldaa #${:02X}\n staa $4002\n bsr wait\n", byte);
  return source + "l: bra l\nwait: ldx #7500\nw: dex\n bne w\n rts\n";
}

/// The digit on and off by turns, in units of 8 cycles.
std::string turns(int lit, int dark, int count) {
  return kPortB + fmt::format(R"( ldab #{}
turn: ldaa #$06
 staa $4002
 ldx #{}
t1: dex
 bne t1
 ldaa #$86
 staa $4002
 ldx #{}
t2: dex
 bne t2
 decb
 bne turn
 ldaa #$06
 staa $4002
l: bra l
)",
                              count, lit, dark);
}

// What a program that has gone astray does besides.
const std::vector<std::string> kAstray{"astray",           "uninitialised-fetch", "uninitialised-read",
                                       "undriven-read",    "unmapped-write",      "rom-write",
                                       "undefined-opcode", "runs-into-blank",     "stack-outside-ram",
                                       "runs-into-data",   "inside-instruction",  "stack-unbalanced",
                                       "vector-not-code",  "stack-never-set",     "return-without-call"};

const std::string kConverter =
    R"("ADC": {"type": "adc0804", "at": "$5000", "clock_r": "10 kOhm", "clock_c": "150 pF", "vref_half": "2.56 V"})";
const std::string kSlowConverter =
    R"("ADC": {"type": "adc0804", "at": "$5000", "clock": "100 kHz", "vref_half": "2.56 V"})";

std::vector<RuleLab> labs() {
  std::vector<RuleLab> all;
  const auto add = [&](RuleLab lab) { all.push_back(std::move(lab)); };
  const std::string lamp = R"("L": {{"type": "led"}}, "R": {{"type": "resistor", "ohms": "{}"}})";
  const std::string lamp_wires = R"(["+5V", "L.A"], ["L.K", "R.1"], ["R.2", "GND"])";
  const std::string idle = "start: bra start\n";
  add({.rule = "led-current",
       .name = "resistor",
       .source = idle,
       .chips = fmt::format(fmt::runtime(lamp), "47 Ohm"),
       .wires = lamp_wires});
  add({.rule = "led-current",
       .name = "resistor",
       .triggers = false,
       .source = idle,
       .chips = fmt::format(fmt::runtime(lamp), "330 Ohm"),
       .wires = lamp_wires});
  // Common practice: some 2.1 V for green, so (5 V - 2.1 V) / 130 Ohm = 22 mA; some 3.0 V for blue, so 15 mA.
  const std::string coloured =
      R"("L": {{"type": "led", "color": "{}"}}, "R": {{"type": "resistor", "ohms": "130 Ohm"}})";
  add({.rule = "led-current",
       .name = "green",
       .source = idle,
       .chips = fmt::format(fmt::runtime(coloured), "green"),
       .wires = lamp_wires});
  add({.rule = "led-current",
       .name = "blue",
       .triggers = false,
       .source = idle,
       .chips = fmt::format(fmt::runtime(coloured), "blue"),
       .wires = lamp_wires});

  const std::string small =
      R"("RAM": {"type": "mcm6810", "at": "$0000-$007F", "mirror": "$0000-$01FF"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"})";
  const std::string clear = "start: ldx #0\nloop: clr 0,x\n inx\n cpx #${}\n bne loop\nl: bra l\n";
  add({.rule = "mirror-write",
       .name = "buffer",
       .source = fmt::format(fmt::runtime(clear), "0090"),
       .at = "loop",
       .memory = small});
  add({.rule = "mirror-write",
       .name = "buffer",
       .triggers = false,
       .source = fmt::format(fmt::runtime(clear), "0080"),
       .memory = small});

  // Reads of what nobody has written: a test of memory, a warm start and a new task mean them.
  struct Unwritten {
    std::string name;
    bool fault;
    std::string source;
    bool mc6809 = false;
  };
  for (const Unwritten& each : std::initializer_list<Unwritten>{
           {"counted", true, "start: nop\nhere: inc $10\nl: bra l\n"},
           {"counted_in_a", true, "start: nop\nhere: ldaa $10\n inca\n staa $10\nl: bra l\n"},
           {"turned_round", true, "start: ldab #8\nhere: ldaa $10\n coma\n staa $10\n decb\n bne here\nl: bra l\n"},
           {"flag", true, "start: nop\nhere: ldaa $10\n cmpa #1\n beq l\n ldaa #1\n staa $10\nl: bra l\n"},
           {"other_mark", true, "start: nop\nhere: ldaa $10\n cmpa #$5A\n beq l\n ldaa #$5B\n staa $10\nl: bra l\n"},
           {"mark", false, "start: ldaa $10\n cmpa #$5A\n beq l\n ldaa #$5A\n staa $10\nl: bra l\n"},
           {"mark_of_two", false, "start: ldx $10\n cpx #$A55A\n beq l\n ldx #$A55A\n stx $10\nl: bra l\n"},
           {"mark_in_memory", false, "start: ldaa #$5A\n cmpa $10\n beq l\n clr $10\n staa $10\nl: bra l\n"},
           {"put_back", false,
            "start: ldx #$0000\nn: ldaa 0,x\n tab\n comb\n stab 0,x\n cmpb 0,x\n bne l\n staa 0,x\n inx\n cpx #$0100\n"
            " bne n\nl: bra l\n"},
           {"end_found", false,
            "start: ldx #$07F0\nn: ldaa 0,x\n com 0,x\n coma\n cmpa 0,x\n bne l\n com 0,x\n inx\n bra n\nl: bra l\n"},
           {"used_afterwards", true,
            "start: ldaa $10\n tab\n comb\n stab $10\n cmpb $10\n staa $10\nhere: inc $10\nl: bra l\n"},
           {"new_task", false,
            "start: lds #$07FF\n ldx #task\n stx $3E\n clr $39\n lds #$38\n rti\ntask: ldaa #1\nl: bra l\n"},
           {"new_task_by_puls", false,
            "start: lds #$07FF\n ldx #task\n stx $38\n lds #$34\n puls a,b,x,pc\ntask: lda #1\nl: bra l\n", true}}) {
    add({.rule = "uninitialised-read",
         .name = each.name,
         .triggers = each.fault,
         .source = each.source,
         .cycles = 40'000,
         .at = each.fault ? "here" : "",
         .mc6809 = each.mc6809});
  }
  // The end of the RAM may be looked for once; a loop that goes on beyond it has lost its way.
  const std::string beyond =
      "start: ldx #$07F0\nn: ldaa #$5A\nhere: staa 0,x\n cmpa 0,x\n {} l\n inx\n cpx #$0900\n bne n\n"
      "l: bra l\n";
  for (const bool found : {true, false}) {
    add({.rule = "unmapped-write",
         .name = "beyond",
         .triggers = !found,
         .source = fmt::format(fmt::runtime(beyond), found ? "bne" : "bmi"),
         .at = found ? "" : "here",
         .also = {"undriven-read"}});
  }

  const std::string ca1 = "start: lds #$07FF\n ldaa #5\n staa $4001\n{}l: inca\n bra l\nirq: ldaa $4000\n rti\n";
  const std::vector<std::pair<std::string, std::string>> falls{{"S", "P0 low@2000"}};
  add({.rule = "irq-masked",
       .name = "cli_forgotten",
       .source = fmt::format(fmt::runtime(ca1), ""),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .cycles = 60'000,
       .inputs = falls});
  add({.rule = "irq-masked",
       .name = "cli_forgotten",
       .triggers = false,
       .source = fmt::format(fmt::runtime(ca1), " cli\n"),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .cycles = 60'000,
       .inputs = falls});

  const std::string asks = "start: lds #$0700\n lda #5\n sta $4001\n{}l: inca\n bra l\nirq: rti\nfirq: {}rti\n";
  const std::string asks_wires = R"(["PIA.CA1", "S.P0"], ["PIA.IRQA", "CPU.FIRQ", "R.1"], ["R.2", "+5V"])";
  for (const bool cleared : {false, true}) {
    add({.rule = "firq-masked",
         .name = "mask",
         .triggers = !cleared,
         .source = fmt::format(fmt::runtime(asks), cleared ? " andcc #$BF\n" : "", "tst $4000\n "),
         .chips = kPiaChips,
         .wires = asks_wires,
         .cycles = 100'000,
         .inputs = falls,
         .mc6809 = true});
    add({.rule = "firq-storm",
         .name = "flag_left",
         .triggers = !cleared,
         .source = fmt::format(fmt::runtime(asks), " andcc #$BF\n", cleared ? "tst $4000\n " : ""),
         .chips = kPiaChips,
         .wires = asks_wires,
         .cycles = 10'000,
         .inputs = falls,
         .mc6809 = true});
    add({.rule = "handler-never-returns",
         .name = "trap",
         .triggers = !cleared,
         .source = fmt::format("start: lds #$07FF\n ldaa #5\n staa $4001\n cli\nl: inca\n bra l\nirq: ldaa $4000\n{}\n",
                               cleared ? " rti" : "trap: bra trap"),
         .chips = kPiaChips,
         .wires = kPiaWires,
         .cycles = 10'000,
         .inputs = falls});
    add({.rule = "flag-unserved",
         .name = "enable_off",
         .triggers = !cleared,
         .source =
             fmt::format("start: lds #$07FF\n ldaa #{}\n staa $4001\n cli\nl: incb\n bra l\nirq: ldaa $4000\n rti\n",
                         cleared ? 5 : 4),
         .chips = kPiaChips,
         .wires = kPiaWires,
         .cycles = 150'000,
         .inputs = falls});
    // A program that does not want the interrupt leaves the flag alone for ever.
    for (const auto& [name, source] : std::initializer_list<std::pair<std::string, std::string>>{
             {"masked", "start: lds #$07FF\n ldaa #4\n staa $4001\nl: incb\n bra l\nirq: ldaa $4000\n rti\n"},
             {"no_handler", "start: lds #$07FF\n ldaa #4\n staa $4001\n cli\nl: incb\n bra l\nirq: rti\n"},
             {"other_side",
              "start: lds #$07FF\n ldaa #4\n staa $4001\n inca\n staa $4003\n cli\nl: incb\n bra l\nirq: ldaa $4002\n "
              "rti\n"}}) {
      if (!cleared) continue;
      add({.rule = "flag-unserved",
           .name = name,
           .triggers = false,
           .source = source,
           .chips = kPiaChips,
           .wires =
               R"(["PIA.CA1", "S.P0"], ["PIA.CB1", "GND"], ["PIA.IRQA", "PIA.IRQB", "CPU.IRQ", "R.1"], ["R.2", "+5V"])",
           .cycles = 150'000,
           .inputs = falls});
    }
    add({.rule = "wait-stuck",
         .name = "tied_line",
         .triggers = !cleared,
         .source = "start: lds #$07FF\n ldaa #5\n staa $4001\n cli\nhere: wai\nl: bra l\nirq: ldaa $4000\n rti\n",
         .chips = kPiaChips,
         .wires = cleared ? kPiaWires : R"(["PIA.CA1", "+5V"], ["PIA.IRQA", "CPU.IRQ", "R.1"], ["R.2", "+5V"])",
         .cycles = 20'000,
         .at = cleared ? "" : "here"});
    add({.rule = "wait-stuck",
         .name = "polled",
         .triggers = !cleared,
         .source = "start: ldaa #4\n staa $4001\nl: ldaa $4001\n bita #$80\n beq l\ne: bra e\n",
         .chips = kPiaChips,
         .wires = cleared ? kPiaWires : R"(["PIA.CA1", "+5V"], ["PIA.IRQA", "CPU.IRQ", "R.1"], ["R.2", "+5V"])",
         .cycles = 60'000});
  }
  for (const bool quick : {false, true}) {
    std::vector<std::pair<std::string, std::string>> ticks;
    for (int i = 0; i < 24; ++i) {
      ticks.emplace_back("S", fmt::format("P0 low@{}", 2000 + 1000 * i));
      ticks.emplace_back("S", fmt::format("P0 high@{}", 2500 + 1000 * i));
    }
    add({.rule = "edge-missed",
         .name = "tick",
         .triggers = !quick,
         .source = fmt::format(
             "start: lds #$07FF\n ldaa #5\n staa $4001\n cli\nl: inca\n bra l\nirq: ldx #{}\nn: dex\n bne n\n"
             " ldaa $4000\n rti\n",
             quick ? 10 : 300),
         .chips = kPiaChips,
         .wires = kPiaWires,
         .cycles = 30'000,
         .inputs = ticks});
  }
  // A program may end with WAI, with nothing that might wake it.
  add({.rule = "wait-stuck",
       .name = "the_end",
       .triggers = false,
       .source = "start: lds #$07FF\n wai\nl: bra l\n",
       .chips = kPiaChips,
       .wires = kPiaWires});
  // SWI may end a program, too.
  add({.rule = "handler-never-returns",
       .name = "swi_ends",
       .triggers = false,
       .source = "start: lds #$07FF\n swi\nswi: ldaa #1\nl: bra l\n"});

  add({.rule = "nmi-not-armed",
       .name = "no_lds",
       .source = "start: bra start\nnmi: rti\n",
       .chips = kHand,
       .wires = on("NMI"),
       .inputs = falls,
       .mc6809 = true});
  add({.rule = "nmi-not-armed",
       .name = "no_lds",
       .triggers = false,
       .source = "start: lds #$0700\nl: bra l\nnmi: rti\n",
       .chips = kHand,
       .wires = on("NMI"),
       .inputs = falls,
       .mc6809 = true});

  const std::string key =
      kPia + ", " + kPullUp + R"(, "KEY": {"type": "button"}, "RK": {"type": "resistor", "ohms": "4.7 kOhm"})";
  const std::string key_wires =
      R"(["PIA.CA1", "KEY.1", "RK.1"], ["KEY.2", "GND"], ["RK.2", "+5V"], ["PIA.IRQA", "CPU.IRQ", "R.1"], ["R.2", "+5V"])";
  const std::string count =
      "start: lds #$07FF\n clr $20\n ldaa #5\n staa $4001\n cli\nl: bra l\nirq: {}ldaa $4000\n inc $20\n rti\n";
  const std::vector<std::pair<std::string, std::string>> press{{"KEY", "pressed@2000"}};
  add({.rule = "bounce-counted",
       .name = "button",
       .source = fmt::format(fmt::runtime(count), ""),
       .chips = key,
       .wires = key_wires,
       .cycles = 60'000,
       .inputs = press,
       .also = {"edge-lost"}});
  add({.rule = "bounce-counted",
       .name = "button",
       .triggers = false,
       .source = fmt::format(fmt::runtime(count), "ldx #2500\nd1: dex\n bne d1\n "),
       .chips = key,
       .wires = key_wires,
       .cycles = 60'000,
       .inputs = press});

  // Each press of a clean contact is one.
  const std::string clean =
      kPia + ", " + kPullUp +
      R"(, "KEY": {"type": "button", "bounce": "0 s"}, "RK": {"type": "resistor", "ohms": "4.7 kOhm"})";
  add({.rule = "bounce-counted",
       .name = "clean",
       .triggers = false,
       .source = fmt::format(fmt::runtime(count), ""),
       .chips = clean,
       .wires = key_wires,
       .cycles = 60'000,
       .inputs = {{"KEY", "pressed@2000"},
                  {"KEY", "released@4000"},
                  {"KEY", "pressed@6000"},
                  {"KEY", "released@8000"},
                  {"KEY", "pressed@10000"}}});

  add({.rule = "reset-held", .name = "grounded", .source = idle, .wires = R"(["CPU.RESET", "GND"])", .cycles = 30'000});
  add({.rule = "reset-held", .name = "grounded", .triggers = false, .source = idle, .cycles = 30'000});
  add({.rule = "halt-held", .name = "grounded", .source = idle, .wires = R"(["CPU.HALT", "GND"])", .cycles = 30'000});
  add({.rule = "halt-held",
       .name = "grounded",
       .triggers = false,
       .source = idle,
       .chips = kHand,
       .wires = on("HALT"),
       .cycles = 30'000,
       .inputs = {{"S", "P0 low@5000"}}});

  const std::string poll = "start: ldaa #4\n staa $4001\nloop: ldaa $4001\n bpl loop\n{} incb\n bra loop\n";
  add({.rule = "flag-never-cleared",
       .name = "polled",
       .source = fmt::format(fmt::runtime(poll), ""),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .inputs = falls});
  add({.rule = "flag-never-cleared",
       .name = "polled",
       .triggers = false,
       .source = fmt::format(fmt::runtime(poll), " ldaa $4000\n"),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .inputs = falls});

  // The word takes port B in, which is all outputs here.
  const std::string poll_word =
      "start: lda #$FF\n sta $4002\n lda #4\n sta $4003\n sta $4001\nloop: ldy $4001\n bpl loop\n{} incb\n bra loop\n";
  add({.rule = "flag-never-cleared",
       .name = "polled-as-a-word",
       .source = fmt::format(fmt::runtime(poll_word), ""),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .inputs = falls,
       .mc6809 = true});
  add({.rule = "flag-never-cleared",
       .name = "polled-as-a-word",
       .triggers = false,
       .source = fmt::format(fmt::runtime(poll_word), " lda $4000\n"),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .inputs = falls,
       .mc6809 = true});

  const std::string write = "start: ldaa #4\n staa $4001\n ldx #500\nd1: dex\n bne d1\n{}l: bra l\n";
  add({.rule = "rmw-clears-flag",
       .name = "com",
       .source = fmt::format(fmt::runtime(write), "here: com $4000\n"),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .inputs = falls,
       .at = "here"});
  add({.rule = "rmw-clears-flag",
       .name = "com",
       .triggers = false,
       .source = fmt::format(fmt::runtime(write), " coma\n staa $4000\n ldaa $4000\n"),
       .chips = kPiaChips,
       .wires = kPiaWires,
       .inputs = falls});

  const std::string shake = "start: ldaa #$24\n staa $4001\n ldaa $4000\nl: inca\n bra l\n";
  add({.rule = "handshake-open",
       .name = "no_answer",
       .source = shake,
       .chips = kPiaChips,
       .wires = kPiaWires,
       .cycles = 250'000});
  add({.rule = "handshake-open",
       .name = "no_answer",
       .triggers = false,
       .source = shake,
       .chips = kPiaChips,
       .wires = kPiaWires,
       .cycles = 250'000,
       .inputs = falls,
       .also = {"flag-unserved"}});

  add({.rule = "undefined-opcode",
       .name = "byte",
       .source = "start: nop\nhere: fcb $02\n",
       .at = "here",
       .also = {"runs-into-data"}});
  add({.rule = "undefined-opcode", .name = "byte", .triggers = false, .source = "start: nop\nl: bra l\n fcb $02\n"});
  add({.rule = "inside-instruction", .name = "jump", .source = "start: jmp here+1\nhere: ldaa #$01\nl: bra l\n"});
  add({.rule = "inside-instruction",
       .name = "jump",
       .triggers = false,
       .source = "start: jmp here\nhere: ldaa #$01\nl: bra l\n"});
  add({.rule = "runs-into-data",
       .name = "no_branch",
       .source = "start: ldaa #1\nhere: fcb $01\nl: bra l\n",
       .at = "here"});
  add({.rule = "runs-into-data",
       .name = "no_branch",
       .triggers = false,
       .source = "start: ldaa #1\n bra l\nhere: fcb $01\nl: bra l\n"});
  add({.rule = "runs-into-blank", .name = "jump", .source = "start: jmp $FC00\n", .cycles = 60, .also = {"rom-write"}});
  add({.rule = "runs-into-blank", .name = "jump", .triggers = false, .source = "start: jmp l\nl: bra l\n"});
  add({.rule = "runs-into-device",
       .name = "jump",
       .source = "start: jmp $4000\n",
       .chips = kPia,
       .also = {"undefined-opcode"}});
  add({.rule = "runs-into-device",
       .name = "jump",
       .triggers = false,
       .source = "start: ldaa $4000\nl: bra l\n",
       .chips = kPia});
  add({.rule = "astray",
       .name = "nobody",
       .source = "start: ldaa #1\nhere: jmp $3000\n",
       .cycles = 60,
       .at = "here",
       .also = {"undriven-read", "unmapped-write", "undefined-opcode"}});
  add({.rule = "astray", .name = "nobody", .triggers = false, .source = "start: jmp l\nl: bra l\n"});
  // Common practice: CPX with a value swallows the two bytes behind it.
  add({.rule = "runs-into-data",
       .name = "skip",
       .triggers = false,
       .source = "start: bra two\none: ldab #1\n fcb $8C\ntwo: ldab #2\n bra one2\none2: bra first\nfirst: bra l\nl: "
                 "bra l\n"});
  add({.rule = "runs-into-data",
       .name = "skipped",
       .triggers = false,
       .source = "start: lds #$07FF\n bsr one\n bsr two\nl: bra l\none: ldab #1\n fcb $8C\ntwo: ldab #2\n rts\n"});
  for (const auto& [name, source] : std::initializer_list<std::pair<std::string, std::string>>{
           {"skipped_twice", "one: ldab #1\n fcb $8C\ntwo: ldab #2\n fcb $8C\nthree: ldab #3\n rts\n"},
           {"skipped_by_load", "one: inca\n fcb $C6\ntwo: deca\n fcb $85\nthree: clra\n rts\n"}}) {
    add({.rule = "runs-into-data",
         .name = name,
         .triggers = false,
         .source = "start: lds #$07FF\n bsr one\n bsr two\n bsr three\nl: bra l\n" + source});
  }
  // Only what hides whole instructions is meant.
  add({.rule = "runs-into-data",
       .name = "table",
       .source = "start: ldaa #1\nhere: fcb $86,$01\nl: bra l\n",
       .at = "here"});
  add({.rule = "program-wrap", .name = "vectors", .source = "start: jmp $FFFE\n", .cycles = 17, .also = kAstray});
  add({.rule = "program-wrap", .name = "vectors", .triggers = false, .source = "start: ldx $FFFE\nl: bra l\n"});
  add({.rule = "self-modifying",
       .name = "named",
       .triggers = false,
       .source = "start: lds #$07FF\n ldaa #$01\n staa $10\n ldaa #$39\n staa $11\n jsr $0010\n ldaa #$4C\n staa $10\n"
                 "l: bra l\n"});
  const std::string patch =
      "start: lds #$07FF\n ldaa #$01\n staa $10\n ldaa #$39\n staa $11\n jsr $0010\n ldaa #$4C\n{}l: bra l\n";
  add({.rule = "self-modifying",
       .name = "store",
       .source = fmt::format(fmt::runtime(patch), " ldx #$10\nhere: staa 0,x\n"),
       .at = "here"});
  add({.rule = "self-modifying",
       .name = "store",
       .triggers = false,
       .source = fmt::format(fmt::runtime(patch), "here: staa $12\n")});
  add({.rule = "index-wrap",
       .name = "offset",
       .source = "start: clr $10\n ldx #$FFF0\nhere: ldaa $20,x\nl: bra l\n",
       .at = "here"});
  add({.rule = "index-wrap",
       .name = "offset",
       .triggers = false,
       .source = "start: clr $10\n ldx #$0000\nhere: ldaa $10,x\nl: bra l\n"});
  add({.rule = "index-wrap",
       .name = "below_zero",
       .source = "start: clr $FFFF\n ldx #0\nhere: lda -1,x\nl: bra l\n",
       .at = "here",
       .mc6809 = true,
       .also = {"rom-write"}});
  add({.rule = "index-wrap",
       .name = "below_zero",
       .triggers = false,
       .source = "start: ldx #0\nhere: leax -1,x\nl: bra l\n",
       .mc6809 = true});
  const std::string named = "start: clr level\nhere: ldaa {}level\nl: bra l\n org $0010\nlevel: rmb 1\n org $FA00\n";
  add({.rule = "address-as-value", .name = "variable", .source = fmt::format(fmt::runtime(named), "#"), .at = "here"});
  add({.rule = "address-as-value",
       .name = "variable",
       .triggers = false,
       .source = fmt::format(fmt::runtime(named), "")});
  add({.rule = "number-as-address",
       .name = "ten",
       .source = "start: clr $0A\nhere: ldaa 10\nl: bra l\n",
       .at = "here"});
  add({.rule = "number-as-address",
       .name = "ten",
       .triggers = false,
       .source = "start: clr $0A\nhere: ldaa #10\n ldaa $0A\nl: bra l\n"});
  for (const char* at : {"$FA00", "$3000", "$0100"}) {
    const bool rom = at[1] == 'F', ram = at[1] == '0';
    RuleLab lab{.rule = rom ? "space-in-rom" : "space-without-memory",
                .name = "variable",
                .triggers = !ram,
                .source = fmt::format("start: clra\nl: bra l\n org {}\nlevel: rmb 2\n org $FB00\n", at)};
    add(lab);
    lab.rule = "space-in-rom";
    if (ram) add(lab);
  }
  const std::string paged =
      "start: lda #{}\n tfr a,dp\n setdp $01\nhere: clr level\nl: bra l\n org $0110\nlevel: rmb 1\n"
      " org $FA00\n";
  add({.rule = "setdp-mismatch",
       .name = "dp",
       .source = fmt::format(fmt::runtime(paged), 0),
       .at = "here",
       .mc6809 = true});
  add({.rule = "setdp-mismatch",
       .name = "dp",
       .triggers = false,
       .source = fmt::format(fmt::runtime(paged), 1),
       .mc6809 = true});
  add({.rule = "daa-misplaced", .name = "count", .source = "start: clra\n inca\nhere: daa\nl: bra l\n", .at = "here"});
  add({.rule = "daa-misplaced",
       .name = "count",
       .triggers = false,
       .source = "start: clra\n adda #1\nhere: daa\nl: bra l\n"});
  add({.rule = "cpx-carry",
       .name = "branch",
       .source = "start: ldx #5\nhere: cpx #3\n bcc l\nl: bra l\n",
       .at = "here"});
  add({.rule = "cpx-carry",
       .name = "branch",
       .triggers = false,
       .source = "start: ldx #5\nhere: cpx #3\n bne l\nl: bra l\n"});
  const std::string waits = "start: lds #$07FF\n clr $20\n{}here: ldaa $20\n beq here\nl: bra l\n";
  add({.rule = "no-progress",
       .name = "masked",
       .source = fmt::format(fmt::runtime(waits), ""),
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 40'000});
  add({.rule = "no-progress",
       .name = "masked",
       .triggers = false,
       .source = fmt::format(fmt::runtime(waits), " cli\n"),
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 40'000});
  add({.rule = "no-progress",
       .name = "delay",
       .triggers = false,
       .source = "start: ldx #0\nd1: dex\n bne d1\n bra start\n",
       .cycles = 200'000});
  add({.rule = "no-progress",
       .name = "polled",
       .triggers = false,
       .source = "start: ldaa $4001\n bpl start\nl: bra l\n",
       .chips = kPia,
       .cycles = 40'000,
       .also = {"wait-stuck"}});

  add({.rule = "stack-never-set",
       .name = "call",
       .source = "start: jsr sub\nl: bra l\nsub: bra sub\n",
       .cycles = 60,
       .at = "start",
       .also = {"stack-outside-ram", "unmapped-write", "rom-write"}});
  add({.rule = "stack-never-set",
       .name = "call",
       .triggers = false,
       .source = "start: lds #$07FF\n jsr sub\nl: bra l\nsub: rts\n"});
  add({.rule = "stack-never-set",
       .name = "exchange",
       .triggers = false,
       .source = "start: ldx #$0700\n tfr x,s\n jsr sub\nl: bra l\nsub: rts\n",
       .mc6809 = true});
  const std::vector<std::pair<std::string, std::string>> request{{"S", "P0 low@1000"}, {"S", "P0 high@1014"}};
  add({.rule = "interrupt-without-stack",
       .name = "irq",
       .source = "start: cli\nl: bra l\nirq: bra irq\n",
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 1'100,
       .inputs = request,
       .also = {"stack-outside-ram", "unmapped-write", "rom-write", "handler-never-returns"}});
  add({.rule = "interrupt-without-stack",
       .name = "irq",
       .triggers = false,
       .source = "start: lds #$07FF\n cli\nl: bra l\nirq: rti\n",
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = request});
  add({.rule = "stack-outside-ram",
       .name = "past_the_end",
       .source = "start: lds #$0800\nhere: jsr sub\nsub: bra sub\n",
       .cycles = 60,
       .at = "here",
       .also = {"unmapped-write"}});
  add({.rule = "stack-outside-ram",
       .name = "past_the_end",
       .triggers = false,
       .source = "start: lds #$07FF\nhere: jsr sub\nsub: bra sub\n",
       .cycles = 60});
  add({.rule = "stack-outside-ram",
       .name = "counts_first",
       .triggers = false,
       .source = "start: lds #$0800\nhere: jsr sub\nsub: bra sub\n",
       .cycles = 60,
       .mc6809 = true});
  const std::string grows = "start: ldaa #$39\n staa $10\n lds #$07FF\n jsr $0010\n lds #{}\nhere: psha\nl: bra l\n";
  add({.rule = "stack-into-program", .name = "push", .source = fmt::format(fmt::runtime(grows), "$10"), .at = "here"});
  add({.rule = "stack-into-program",
       .name = "push",
       .triggers = false,
       .source = fmt::format(fmt::runtime(grows), "$20")});
  const std::string room =
      "start: lds #stack+1\n psha\n psha\n{}l: bra l\n org $0000\nlevel: rmb 4\n{}stack: rmb 2\n org $FA00\n";
  add({.rule = "stack-into-data",
       .name = "three",
       .source = fmt::format(fmt::runtime(room), "here: psha\n", ""),
       .at = "here"});
  add({.rule = "stack-into-data",
       .name = "three",
       .triggers = false,
       .source = fmt::format(fmt::runtime(room), " pula\n psha\n", "")});
  add({.rule = "stack-into-data",
       .name = "room_without_a_name",
       .triggers = false,
       .source = fmt::format(fmt::runtime(room), " psha\n", " rmb 30\n")});

  const std::string subroutine =
      "start: lds #$07F0\n ldx #0\n stx $07F1\n stx $07F3\n stx $07F5\n ldaa #$12\n bsr sub\nl: bra l\nsub: {}\nhere: "
      "{}\n";
  add({.rule = "stack-unbalanced",
       .name = "push",
       .source = fmt::format(fmt::runtime(subroutine), "psha", "rts"),
       .cycles = 80,
       .at = "here",
       .also = kAstray});
  add({.rule = "stack-unbalanced",
       .name = "push",
       .triggers = false,
       .source = fmt::format(fmt::runtime(subroutine), "psha\n pula", "rts")});
  add({.rule = "stack-unbalanced",
       .name = "pull",
       .source = fmt::format(fmt::runtime(subroutine), "pula", "rts"),
       .cycles = 80,
       .at = "here",
       .also = kAstray});
  add({.rule = "stack-unbalanced",
       .name = "address_dropped",
       .triggers = false,
       .source = "start: lds #$07FF\n bsr one\nl: bra l\none: bsr two\n bra one\ntwo: ins\n ins\n rts\n"});
  add({.rule = "stack-unbalanced",
       .name = "address_pushed",
       .triggers = false,
       .source = "start: lds #$07FF\n ldx #l\n stx $10\n ldaa $11\n psha\n ldaa $10\n psha\n rts\nl: bra l\n",
       .also = {}});
  add({.rule = "return-without-call",
       .name = "ran_into_it",
       .source = "start: lds #$07F0\n ldx #0\n stx $07F1\nhere: rts\n",
       .cycles = 60,
       .at = "here",
       .also = kAstray});
  add({.rule = "return-without-call",
       .name = "ran_into_it",
       .triggers = false,
       .source = "start: lds #$07F0\n bsr here\nl: bra l\nhere: rts\n"});
  const std::string handler = "start: lds #$07F0\n cli\nl: bra l\nirq: {}\n";
  add({.rule = "rts-in-handler",
       .name = "irq",
       .source = fmt::format(fmt::runtime(handler), "rts"),
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 1'050,
       .inputs = request,
       .at = "irq",
       .also = kAstray});
  add({.rule = "rts-in-handler",
       .name = "irq",
       .triggers = false,
       .source = fmt::format(fmt::runtime(handler), "rti"),
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 1'050,
       .inputs = request});
  add({.rule = "rti-in-subroutine",
       .name = "call",
       .source = fmt::format(fmt::runtime(subroutine), "nop", "rti"),
       .cycles = 90,
       .at = "here",
       .also = kAstray});
  add({.rule = "rti-in-subroutine",
       .name = "call",
       .triggers = false,
       .source = fmt::format(fmt::runtime(subroutine), "nop", "rts"),
       .cycles = 90});

  const std::string bare = "start: lds #$07FF\n cli\nl: bra l\nhand: rti\n";
  const std::string vectors = " org $FFF8\n fdb {},hand,hand,start\n";
  add({.rule = "vector-not-code",
       .name = "empty",
       .source = bare,
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 1'050,
       .inputs = request,
       .end = fmt::format(fmt::runtime(vectors), "$0100"),
       .also = kAstray});
  add({.rule = "vector-not-code",
       .name = "empty",
       .triggers = false,
       .source = bare,
       .chips = kHand,
       .wires = on("IRQ"),
       .cycles = 1'050,
       .inputs = request,
       .end = fmt::format(fmt::runtime(vectors), "hand")});
  // A vector may lead to a jump that the program has stored in RAM, and nowhere else in RAM.
  for (const bool jump : {true, false}) {
    add({.rule = "vector-not-code",
         .name = "in_ram",
         .triggers = !jump,
         .source =
             fmt::format(" org $10\nhook: rmb 3\n org $F800\nstart: lds #$07FF\n ldaa #${}\n staa hook\n ldx #hand\n"
                         " stx hook+1\n cli\nl: bra l\nhand: rti\n",
                         jump ? "7E" : "01"),
         .chips = kHand,
         .wires = on("IRQ"),
         .cycles = 1'030,
         .inputs = request,
         .end = fmt::format(fmt::runtime(vectors), "hook"),
         .also = jump ? std::vector<std::string>{} : kAstray});
  }
  const std::string swi = "start: lds #$07FF\nhere: swi\nl: bra l\n";
  add({.rule = "vector-not-code",
       .name = "swi",
       .source = swi,
       .cycles = 60,
       .end = " org $FFFE\n fdb start\n",
       .also = kAstray});
  add({.rule = "vector-not-code", .name = "swi", .triggers = false, .source = swi + "swi: rti\n"});

  add({.rule = "irq-storm",
       .name = "held_low",
       .source = fmt::format(fmt::runtime(handler), "rti"),
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = falls});
  add({.rule = "irq-storm",
       .name = "held_low",
       .triggers = false,
       .source = fmt::format(fmt::runtime(handler), "rti"),
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = request});
  const std::string slow = "start: lds #$07FF\nl: bra l\nnmi: ldx #200\nn: dex\n bne n\n rti\n";
  const std::vector<std::pair<std::string, std::string>> edges{
      {"S", "P0 low@1000"}, {"S", "P0 high@1100"}, {"S", "P0 low@1200"}, {"S", "P0 high@1300"}, {"S", "P0 low@1400"}};
  add({.rule = "nmi-nested",
       .name = "edges",
       .source = slow,
       .chips = kHand,
       .wires = on("NMI"),
       .inputs = edges,
       .at = "nmi"});
  add({.rule = "nmi-nested",
       .name = "edges",
       .triggers = false,
       .source = slow,
       .chips = kHand,
       .wires = on("NMI"),
       .inputs = falls});
  const std::string wait = "start: lds #$07FF\n{}here: wai\nl: bra l\nirq: rti\n";
  add({.rule = "wait-masked",
       .name = "wai",
       .source = fmt::format(fmt::runtime(wait), ""),
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = request,
       .at = "here"});
  add({.rule = "wait-masked",
       .name = "wai",
       .triggers = false,
       .source = fmt::format(fmt::runtime(wait), " cli\n"),
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = request});
  add({.rule = "wait-masked", .name = "the_end", .triggers = false, .source = fmt::format(fmt::runtime(wait), "")});
  const std::string both = "start: lds #$07FF\nhere: cwai #${}\nl: bra l\nirq: rti\n";
  add({.rule = "wait-masked",
       .name = "cwai",
       .source = fmt::format(fmt::runtime(both), "FF"),
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = request,
       .at = "here",
       .mc6809 = true});
  add({.rule = "wait-masked",
       .name = "cwai",
       .triggers = false,
       .source = fmt::format(fmt::runtime(both), "EF"),
       .chips = kHand,
       .wires = on("IRQ"),
       .inputs = {{"S", "P0 low@1000"}, {"S", "P0 high@1012"}},
       .mc6809 = true});
  const std::string fast = "start: lds #$07FF\n andcc #$BF\n clra\nl: cmpa #1\n bra l\nfirq: {}\nhere: rti\n";
  const std::vector<std::pair<std::string, std::string>> short_request{{"S", "P0 low@1000"}, {"S", "P0 high@1012"}};
  add({.rule = "firq-clobbers",
       .name = "a",
       .source = fmt::format(fmt::runtime(fast), "inca"),
       .chips = kHand,
       .wires = on("FIRQ"),
       .inputs = short_request,
       .at = "here",
       .mc6809 = true});
  add({.rule = "firq-clobbers",
       .name = "a",
       .triggers = false,
       .source = fmt::format(fmt::runtime(fast), "pshs a\n inca\n puls a"),
       .chips = kHand,
       .wires = on("FIRQ"),
       .inputs = short_request,
       .mc6809 = true});

  // What the program has no use for may change, and RTI brings back all that was stacked with E set.
  for (const auto& [name, source] : std::initializer_list<std::pair<std::string, std::string>>{
           {"idle", "start: lds #$07FF\n andcc #$BF\nl: bra l\nfirq: inca\n rti\n"},
           {"loaded_anew", "start: lds #$07FF\n andcc #$BF\nl: lda $10\n bra l\nfirq: inca\n rti\n"},
           {"all_saved",
            "start: lds #$07FF\n andcc #$BF\n clra\nl: cmpa #1\n bra l\nfirq: leas 1,s\n pshs a,b,dp,x,y,u\n lda #$80\n"
            " pshs a\n lda #7\n ldx #9\n rti\n"}}) {
    add({.rule = "firq-clobbers",
         .name = name,
         .triggers = false,
         .source = " org $10\n fcb 1\n org $F800\n" + source,
         .chips = kHand,
         .wires = on("FIRQ"),
         .inputs = short_request,
         .mc6809 = true});
  }

  const std::string convert = "start: staa $5000\n{} bra start\n";
  const std::string pause = " ldx #40\nd1: dex\n bne d1\n";
  add({.rule = "converter-restarted",
       .name = "loop",
       .source = fmt::format(fmt::runtime(convert), ""),
       .chips = kAdc,
       .wires = kAdcWires,
       .cycles = 40'000});
  add({.rule = "converter-restarted",
       .name = "loop",
       .triggers = false,
       .source = fmt::format(fmt::runtime(convert), pause + " ldaa $5000\n"),
       .chips = kAdc,
       .wires = kAdcWires});
  add({.rule = "converter-unread",
       .name = "loop",
       .source = fmt::format(fmt::runtime(convert), pause),
       .chips = kAdc,
       .wires = kAdcWires});
  add({.rule = "converter-unread",
       .name = "loop",
       .triggers = false,
       .source = fmt::format(fmt::runtime(convert), pause + " ldaa $5000\n"),
       .chips = kAdc,
       .wires = kAdcWires});

  const std::string latch = kPia + R"(, "U1": {"type": "74ls374"})";
  const std::string latch_wires =
      R"(["PIA.PB0", "U1.1D"], ["PIA.PB1", "U1.2D"], ["PIA.PB2", "U1.3D"], ["PIA.PB3", "U1.4D"],
  ["U1.5D", "U1.6D", "U1.7D", "U1.8D", "U1.OE", "GND"], ["U1.CLK", "PIA.PB4"])";
  add({.rule = "latch-setup",
       .name = "flip_flop",
       .source = kPortB + " ldaa #$1F\nhere: staa $4002\nl: bra l\n",
       .chips = latch,
       .wires = latch_wires,
       .at = "here"});
  add({.rule = "latch-setup",
       .name = "flip_flop",
       .triggers = false,
       .source = kPortB + " ldaa #$0F\n staa $4002\n ldaa #$1F\n staa $4002\nl: bra l\n",
       .chips = latch,
       .wires = latch_wires});
  const std::string driver = kPia + R"(, "U1": {"type": "dm9368"})";
  const std::string driver_wires = R"(["PIA.PB0..PB3", "U1.A0..A3"], ["U1.LE", "PIA.PB4"])";
  add({.rule = "latch-setup",
       .name = "driver",
       .source = kPortB + " ldaa #$15\nhere: staa $4002\nl: bra l\n",
       .chips = driver,
       .wires = driver_wires,
       .at = "here"});
  add({.rule = "latch-setup",
       .name = "driver",
       .triggers = false,
       .source = kPortB + " ldaa #$05\n staa $4002\n ldaa #$15\n staa $4002\nl: bra l\n",
       .chips = driver,
       .wires = driver_wires});
  const std::string decoder = kPia + R"(, "U1": {"type": "74ls48"})";
  const std::string decoder_wires = R"(["PIA.PB0..PB3", "U1.A..D"])";
  add({.rule = "digit-beyond-nine",
       .name = "twelve",
       .source = kPortB + " ldaa #12\n staa $4002\nl: bra l\n",
       .chips = decoder,
       .wires = decoder_wires,
       .cycles = 100'000});
  add({.rule = "digit-beyond-nine",
       .name = "twelve",
       .triggers = false,
       .source = kPortB + " ldaa #9\n staa $4002\nl: bra l\n",
       .chips = decoder,
       .wires = decoder_wires,
       .cycles = 100'000});

  // BI held by a line of the port while numbers come.
  const std::string numbers =
      " ldab #6\nn1: inca\n anda #$07\n oraa #${:02X}\n staa $4002\n ldx #5000\nd1: dex\n bne d1\n"
      " decb\n bne n1\nl: bra l\n";
  for (const bool dark : {true, false}) {
    add({.rule = "decoder-blanked",
         .name = "port",
         .triggers = dark,
         .source = kPortB + fmt::format(fmt::runtime(numbers), dark ? 0x00 : 0x10),
         .chips = decoder,
         .wires = R"(["PIA.PB0..PB3", "U1.A..D"], ["PIA.PB4", "U1.BI/RBO"])",
         .cycles = 300'000});
  }

  const std::string digit = kPia + ", " + kLamp;
  // Segments a and g, e and f are crossed: 5, 8, 0; or they are the letters H, J and u.
  for (const bool crossed : {true, false}) {
    add({.rule = "no-character",
         .name = "three",
         .triggers = crossed,
         .source = crossed ? three(0x5D, 0x7E, 0x73 ^ 0x0C) : three(0x76, 0x1E, 0x1C),
         .chips = digit,
         .wires = kGrounded,
         .cycles = 300'000});
  }
  // Two digits by turns; or both in each turn.
  const std::string two_wires =
      R"(["PIA.PB0", "D1.a", "D2.a"], ["PIA.PB1", "D1.b", "D2.b"], ["PIA.PB2", "D1.c", "D2.c"],
  ["PIA.PB3", "D1.d", "D2.d"], ["PIA.PB4", "D1.e", "D2.e"], ["PIA.PB5", "D1.f", "D2.f"], ["PIA.PB6", "D1.g", "D2.g"],
  ["D1.COM", "PIA.PA0"], ["D2.COM", "PIA.PA1"])";
  const std::string scan =
      "start: lds #$07FF\n ldaa #$FF\n staa $4000\n staa $4002\n ldaa #4\n staa $4001\n staa $4003\n ldaa #$06\n"
      " staa $4002\nn1: ldaa #3\n staa $4000\n ldaa #${:02X}\n bsr wait\n ldaa #${:02X}\n bsr wait\n"
      " bra n1\nwait: staa $4000\n ldx #100\nd1: dex\n bne d1\n ldaa #3\n staa $4000\n rts\n";
  for (const bool two : {true, false}) {
    add({.rule = "digits-together",
         .name = "two",
         .triggers = two,
         .source = fmt::format(fmt::runtime(scan), two ? 0 : 2, two ? 0 : 1),
         .chips = digit + R"(, "D2": {"type": "seven_segment"})",
         .wires = two_wires,
         .cycles = 200'000});
  }
  // INTR starts each next conversion by WR; the program gives the first pulse, or does not.
  for (const bool idle_for_ever : {true, false}) {
    add({.rule = "converter-never-started",
         .name = "free_running",
         .triggers = idle_for_ever,
         .source = "start: ldx #10000\nd1: dex\n bne d1\nl: bra l\n",
         .chips = R"("ADC": {"type": "adc0804", "clock_r": "10 kOhm", "clock_c": "150 pF", "vref_half": "2.56 V"},
  "R": {"type": "resistor", "ohms": "10 kOhm"}, "K": {"type": "button"})",
         .wires = R"(["ADC.CS", "ADC.RD", "ADC.VIN+", "ADC.VIN-", "GND"], ["ADC.INTR", "R.1"], ["R.2", "ADC.WR", "K.1"],
  ["K.2", "GND"])",
         .cycles = 100'000,
         .inputs = idle_for_ever ? std::vector<std::pair<std::string, std::string>>{}
                                 : std::vector<std::pair<std::string, std::string>>{{"K", "pressed@1000"},
                                                                                    {"K", "released@9000"}}});
  }
  // A contact on the line of an output, or of an input.
  for (const bool output : {true, false}) {
    add({.rule = "output-on-contact",
         .name = "switch",
         .triggers = output,
         .source = fmt::format("start: ldaa #${:02X}\n staa $4002\n ldaa #4\n staa $4003\nl: ldaa $4002\n bra l\n",
                               output ? 0xFF : 0xFE),
         .chips = kPia + R"(, "K": {"type": "switch"}, "R": {"type": "resistor", "ohms": "10 kOhm"})",
         .wires = R"(["PIA.PB0", "K.1", "R.1"], ["K.2", "GND"], ["R.2", "+5V"])"});
  }
  add({.rule = "register-never-loaded",
       .name = "x",
       .source = "start: lds #$07FF\nhere: clr 0,x\nl: bra l\n",
       .at = "here",
       .also = {"unmapped-write"}});
  add({.rule = "register-never-loaded",
       .name = "x",
       .triggers = false,
       .source = "start: lds #$07FF\n tsx\n dex\n clr 0,x\nl: bra l\n"});
  add({.rule = "register-never-loaded",
       .name = "u",
       .source = "start: lds #$0700\nhere: pshu a\nl: bra l\n",
       .at = "here",
       .mc6809 = true,
       .also = {"unmapped-write", "rom-write"}});
  add({.rule = "register-never-loaded",
       .name = "u",
       .triggers = false,
       .source = "start: lds #$0700\n tfr s,u\n pshu a\nl: bra l\n",
       .mc6809 = true});
  // A buffer that is filled up to the return address, or to just below it.
  for (const bool over : {true, false}) {
    add({.rule = "stack-overwritten",
         .name = "buffer",
         .triggers = over,
         .source =
             fmt::format("start: lds #$07FF\n bsr fill\nl: bra l\nfill: ldx #$07F0\n ldaa #$20\nn1: staa 0,x\n inx\n"
                         " cpx #${}\n bne n1\nhere: rts\n",
                         over ? "0800" : "07FE"),
         .cycles = over ? 400 : 5'000,
         .at = over ? "here" : "",
         .also = over ? kAstray : std::vector<std::string>{}});
  }
  // Each turn leaves a byte, or none.
  for (const bool left : {true, false}) {
    add({.rule = "stack-grows",
         .name = "turn",
         .triggers = left,
         .source = fmt::format("start: lds #$07FF\nhere: psha\n{} ldx #500\nd1: dex\n bne d1\n bra here\n",
                               left ? "" : " pula\n"),
         .cycles = 400'000,
         .at = left ? "here" : ""});
  }
  // The handler of IRQ reads nothing, that of NMI the port; or the other way round.
  for (const bool exchanged : {true, false}) {
    add({.rule = "vectors-exchanged",
         .name = "nmi",
         .triggers = exchanged,
         .source = fmt::format("start: lds #$07FF\n ldaa #5\n staa $4001\n clr $10\n cli\nl: inca\n bra l\n"
                               "{}: ldaa $4000\n rti\n{}: inc $10\n rti\n",
                               exchanged ? "nmi" : "irq", exchanged ? "irq" : "nmi"),
         .chips = kPiaChips,
         .wires = kPiaWires,
         .inputs = falls});
  }
  add({.rule = "segments-inverted",
       .name = "234",
       .source = three(0x24, 0x30, 0x19),
       .chips = digit,
       .wires = kGrounded,
       .cycles = 300'000});
  add({.rule = "segments-inverted",
       .name = "234",
       .triggers = false,
       .source = three(0x5B, 0x4F, 0x66),
       .chips = digit,
       .wires = kGrounded,
       .cycles = 300'000});
  add({.rule = "segments-inverted",
       .name = "chase",
       .triggers = false,
       .source = three(0x01, 0x02, 0x04),
       .chips = digit,
       .wires = kGrounded,
       .cycles = 300'000});
  add({.rule = "segments-reversed",
       .name = "147",
       .source = three(0x30, 0x33, 0x70),
       .chips = digit,
       .wires = kGrounded,
       .cycles = 300'000});
  add({.rule = "segments-reversed",
       .name = "147",
       .triggers = false,
       .source = three(0x06, 0x66, 0x07),
       .chips = digit,
       .wires = kGrounded,
       .cycles = 300'000});
  for (const bool wrong : {true, false}) {
    add({.rule = "port-registers-mixed",
         .name = "directions",
         .triggers = wrong,
         .source = fmt::format("start: ldaa #${}\n staa $4001\nl: bra l\n", wrong ? "F4" : "34"),
         .chips = kPiaChips,
         .wires = kPiaWires});
    add({.rule = "converter-negative",
         .name = "exchanged",
         .triggers = wrong,
         .source = "start: ldx #5\nc: staa $5000\n ldab #60\nn: decb\n bne n\n ldaa $5000\n dex\n bne c\nl: bra l\n",
         .chips = kConverter,
         .wires = wrong ? R"(["ADC.VIN-", "+5V"], ["ADC.VIN+", "GND"])" : R"(["ADC.VIN+", "ADC.VIN-", "GND"])",
         .cycles = 5'000});
    // 100 kHz: a conversion takes 670 to 740 us, and its end 80 us.
    add({.rule = "converter-restart-early",
         .name = "started_again",
         .triggers = wrong,
         .source =
             fmt::format("start: staa $5000\n ldab #{}\nn: decb\n bne n\n staa $5000\nl: bra l\n", wrong ? 123 : 160),
         .chips = kSlowConverter,
         .wires = R"(["ADC.VIN+", "ADC.VIN-", "GND"])",
         .cycles = 3'000});
    add({.rule = "latch-never-clocked",
         .name = "clock_low",
         .triggers = wrong,
         .source = fmt::format("start: ldaa #$FF\n staa $4002\n ldaa #4\n staa $4003\n clrb\nl: eorb #{}\n stab $4002\n"
                               " ldx #1250\nn: dex\n bne n\n bra l\n",
                               wrong ? 1 : 128),
         .chips = kPiaChips + R"(, "LOG": {"type": "74ls374"})",
         .wires =
             std::string(kPiaWires) +
             R"(, ["PIA.PB0", "LOG.1D"], ["PIA.PB7", "LOG.CLK"], ["LOG.OE", "LOG.2D", "LOG.3D", "LOG.4D", "LOG.5D", "LOG.6D", "LOG.7D", "LOG.8D", "GND"])",
         .cycles = 120'000});
    add({.rule = "digit-never-lit",
         .name = "not_selected",
         .triggers = wrong,
         .source = fmt::format("start: ldaa #$FF\n staa $4002\n ldaa #4\n staa $4003\n clrb\nl: incb\n andb #3\n"
                               " tba\n oraa #{}\n staa $4002\n ldx #100\nn: dex\n bne n\n bra l\n",
                               wrong ? 128 : 0),
         .chips = kPiaChips + R"(, "D": {"type": "seven_segment", "common": "cathode"})",
         .wires = std::string(kPiaWires) + R"(, ["PIA.PB0..PB1", "D.a..b"], ["PIA.PB7", "D.COM"])",
         .cycles = 200'000});
  }
  add({.rule = "display-flicker",
       .name = "slow",
       .source = turns(1250, 2500, 200),
       .chips = digit,
       .wires = kScanned,
       .cycles = 500'000});
  add({.rule = "display-flicker",
       .name = "slow",
       .triggers = false,
       .source = turns(375, 750, 200),
       .chips = digit,
       .wires = kScanned,
       .cycles = 500'000});
  add({.rule = "display-flicker",
       .name = "blinking",
       .triggers = false,
       .source = turns(30000, 60000, 200),
       .chips = digit,
       .wires = kScanned,
       .cycles = 10'000'000});
  add({.rule = "scan-stopped",
       .name = "stops",
       .source = turns(375, 750, 12),
       .chips = digit,
       .wires = kScanned,
       .cycles = 500'000});
  add({.rule = "scan-stopped",
       .name = "stops",
       .triggers = false,
       .source = turns(375, 750, 200),
       .chips = digit,
       .wires = kScanned,
       .cycles = 500'000});
  return all;
}

class PartnerLab : public ::testing::TestWithParam<RuleLab> {};

TEST_P(PartnerLab, SpeaksWhenItMust) {
  const RuleLab& lab = GetParam();
  LabRun run(lab);
  run.run(lab.cycles);
  std::set<std::string> expected(lab.also.begin(), lab.also.end());
  if (lab.triggers) expected.insert(lab.rule);
  for (const Finding& finding : run.machine.findings()) {
    EXPECT_TRUE(expected.contains(finding.id)) << finding.id << "\n" << run.said();
    EXPECT_FALSE(finding.message.empty() || finding.hint.empty()) << finding.id;
  }
  const Finding* said = run.find(lab.rule);
  ASSERT_EQ(said != nullptr, lab.triggers) << run.said();
  if (said == nullptr || lab.at.empty()) return;
  EXPECT_EQ(said->pc, run.machine.address_of(lab.at)) << run.said();
}

INSTANTIATE_TEST_SUITE_P(Labs, PartnerLab, ::testing::ValuesIn(labs()), [](const auto& test) {
  std::string name = test.param.rule + "_" + test.param.name + (test.param.triggers ? "" : "_not");
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
});

/// Rules of the chips that have their tests with the chip.
const std::set<std::string> kTestedElsewhere{
    "floating-input",     "uncertain-input", "port-still-input",    "ddr-not-port",
    "handshake-flag-set", "irq-unwired",     "edge-lost",           "converter-busy",
    "converter-no-clock", "converter-clock", "converter-span",      "converter-input-range",
    "led-no-resistor",    "clock-too-fast",  "converter-no-result", "open-line-enabled"};

TEST(Partner, HasTwoLabsForEachRule) {
  std::set<std::string> speaks, silent, ids;
  for (const RuleLab& lab : labs()) (lab.triggers ? speaks : silent).insert(lab.rule);
  const auto look = [&](const Rule& rule, bool needed) {
    EXPECT_TRUE(ids.insert(std::string(rule.id)).second) << rule.id << " stands twice";
    EXPECT_FALSE(rule.title.empty()) << rule.id;
    if (!needed) return;
    EXPECT_TRUE(speaks.contains(std::string(rule.id))) << rule.id;
    EXPECT_TRUE(silent.contains(std::string(rule.id))) << rule.id;
  };
  for (const Rule& rule : rules()) look(rule, rule.needs_partner);
  const Registry chips = standard_chips();
  for (const Rule& rule : chips.rules()) look(rule, !kTestedElsewhere.contains(std::string(rule.id)));
  for (const std::string& rule : speaks) EXPECT_TRUE(ids.contains(rule)) << rule;
}

TEST(Partner, IsSilentWhereNothingIsWrong) {
  int labs = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(source_folder() / "scenarios")) {
    if (entry.path().extension() != ".json") continue;
    std::ifstream in(entry.path());
    const std::string text{std::istreambuf_iterator<char>(in), {}};
    if (text.find("\"machine\"") == std::string::npos || text.find("\"cpu\"") == std::string::npos) continue;
    Machine machine = Machine::from_file(entry.path(), standard_chips());
    Partner partner(machine);
    machine.run_for(1'000'000);
    partner.conclude();
    for (const Finding& finding : machine.findings()) ADD_FAILURE() << entry.path() << ": " << finding.message;
    ++labs;
  }
  EXPECT_GE(labs, 2);
}

TEST(Partner, SaysTheSameHoweverTheRunIsCut) {
  for (const RuleLab& lab : labs()) {
    if (lab.cycles > 60'000) continue;
    LabRun whole(lab), cut(lab);
    whole.run(lab.cycles);
    for (Cycle left = lab.cycles; left > 0; left -= 97) cut.machine.run_for(std::min<Cycle>(left, 97));
    cut.partner->conclude();
    EXPECT_EQ(whole.said(), cut.said()) << lab.rule << " " << lab.name;
  }
}

/// What is kept back comes before what it may have caused, with its own cycle, with the partner and without.
TEST(Partner, TellsTheCauseFirst) {
  const RuleLab lab{.rule = "", .name = "", .source = "start: nop\nhere: ldx $10\n jmp 0,x\n", .cycles = 40};
  for (const bool partner : {true, false}) {
    LabRun run(lab, partner);
    run.run(lab.cycles);
    run.machine.conclude();
    ASSERT_FALSE(run.machine.findings().empty());
    const Finding& first = run.machine.findings()[0];
    EXPECT_EQ(first.id, "uninitialised-read") << run.said();
    EXPECT_EQ(first.pc, run.machine.address_of("here"));
    for (const Finding& finding : run.machine.findings()) EXPECT_GE(finding.first, first.first);
  }
}

/// A state in the midst of a test of memory is saved with what is still in doubt.
TEST(Partner, KeepsDoubtsInAState) {
  const RuleLab lab{
      .rule = "", .name = "", .source = "start: ldaa $10\n tab\n comb\n stab $10\n cmpb $10\n staa $10\nl: bra l\n"};
  LabRun run(lab);
  while (!run.machine.use(0x10).read && run.machine.now() < 100) run.machine.run_for(1);
  ASSERT_TRUE(run.machine.use(0x10).read);
  ASSERT_FALSE(run.machine.use(0x10).written);
  const Snapshot midst = run.machine.save();
  run.machine.run_for(1'000);
  run.machine.restore(midst);
  run.run(1'000);
  EXPECT_EQ(run.said(), "");
}

TEST(Partner, ChangesNothing) {
  for (const RuleLab& lab : labs()) {
    if (lab.cycles > 60'000) continue;
    LabRun with(lab), without(lab, false);
    with.run(lab.cycles);
    without.run(lab.cycles);
    EXPECT_EQ(with.machine.save(), without.machine.save()) << lab.rule << " " << lab.name;
    EXPECT_EQ(to_string(std::as_const(with.machine).cpu()), to_string(std::as_const(without.machine).cpu()));
  }
}

TEST(Partner, BeginsAnewAfterAStepIntoThePast) {
  const RuleLab lab{
      .rule = "", .name = "", .source = "start: lds #$07FF\nl: bsr sub\n bra l\nsub: psha\n pula\n rts\n"};
  LabRun run(lab);
  run.run(40);
  const Snapshot early = run.machine.save();
  run.run(35);  // within the subroutine
  run.machine.restore(early);
  run.run(500);
  EXPECT_EQ(run.said(), "");
}

TEST(Partner, GivesRulesTheWeightThatIsAskedFor) {
  const RuleLab lab{.rule = "", .name = "", .source = "start: clra\n inca\n daa\nl: bra l\n"};
  const auto weight = [&](const RuleWeights& weights) {
    LabRun run(lab, true, weights);
    run.run(100);
    const Finding* said = run.find("daa-misplaced");
    return said == nullptr ? std::string("off") : std::string(to_string(said->weight));
  };
  EXPECT_EQ(weight({}), "warn");
  EXPECT_EQ(weight({{"daa-misplaced", Weight::stop}}), "stop");
  EXPECT_EQ(weight({{"daa-misplaced", Weight::hint}}), "hint");
  EXPECT_EQ(weight({{"daa-misplaced", std::nullopt}}), "off");
  EXPECT_EQ(weight({{"cpx-carry", std::nullopt}}), "warn");
}

TEST(Partner, WeightsHoldForTheWiringToo) {
  const std::string text = R"({"machine": "lab", "cpu": {"type": "mc6800", "clock": "1 MHz"}, "chips": {
    "RAM": {"type": "6116", "at": "$0000-$07FF"}, "MORE": {"type": "6116", "at": "$0400-$0BFF"}}})";
  const auto faults = [&](const RuleWeights& weights) {
    LoadOptions options;
    options.weights = weights;
    std::string list;
    for (const Fault& fault : check_machine(text, "lab.json", "", bench_registry(), options)) {
      list += fmt::format("{} {}\n", to_string(fault.weight), fault.id);
    }
    return list;
  };
  EXPECT_EQ(faults({}), "stop decode-overlap\nwarn no-reset-vector\n");
  EXPECT_EQ(faults({{"decode-overlap", Weight::hint}, {"no-reset-vector", std::nullopt}}), "hint decode-overlap\n");
}

}  // namespace
}  // namespace prewire::testing
