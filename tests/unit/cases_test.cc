// Findings as cases: one cause, one message.
#include "prewire/cases.h"

#include "partner_labs.h"

namespace prewire::testing {
namespace {

CaseReport report_of(const LabRun& run) { return gather_cases(run.machine.findings()); }

std::vector<std::string> roots_of(const LabRun& run) {
  const CaseReport report = report_of(run);
  std::vector<std::string> ids;
  for (std::size_t i = 0; i < report.roots; ++i) ids.push_back(run.machine.findings()[report.cases[i].finding].id);
  return ids;
}

using Ids = std::vector<std::string>;

TEST(Cases, AMissingChipIsOneCaseHoweverManyAddresses) {
  LabRun run(
      {.rule = "", .name = "", .source = "start: ldx #$2000\nc: staa 0,x\n inx\n cpx #$3000\n bne c\nl: bra l\n"});
  run.run(200'000);
  const CaseReport report = report_of(run);
  ASSERT_EQ(roots_of(run), Ids{"unmapped-write"}) << run.said();
  EXPECT_EQ(report.cases[0].subjects, 0x1000U);
  EXPECT_EQ(report.cases[0].count, 0x1000U);
  EXPECT_EQ(report.cases[0].at, (std::vector<AddressRange>{{0x2000, 0x2FFF}}));
  EXPECT_EQ(times_text(report.cases[0]), "4096 times at 4096 addresses: $2000-$2FFF");
  EXPECT_LE(run.machine.findings().size(), 16U) << "the rest is counted";
}

TEST(Cases, OpenInputsOfOneChipAreOneCase) {
  LabRun run({.rule = "",
              .name = "",
              .source = "start: ldaa #4\n staa $4003\nl: ldaa $4002\n staa $20\n bra l\n",
              .chips = R"("PIA": {"type": "mc6821", "at": "$4000-$4003"})"});
  run.run(200);
  EXPECT_EQ(roots_of(run), Ids{"floating-input"});
  EXPECT_EQ(report_of(run).cases[0].findings.size(), 8U) << "each pin has its text";
}

const std::string kPiaParts = R"("PIA": {"type": "mc6821", "at": "$4000-$4003"}, "S": {"type": "stimulus", "high": 255},
  "R": {"type": "resistor", "ohms": "3.3 kOhm"})";
const std::string kPiaLines = R"(["PIA.CA1", "S.P0"], ["PIA.IRQA", "CPU.IRQ", "R.1"], ["R.2", "+5V"])";

/// RTS takes CC and B for an address, and the program runs anywhere.
const RuleLab kAstrayLab{
    .rule = "",
    .name = "",
    .source = "start: lds #$07FF\n ldaa #5\n staa $4001\n ldab #$30\n cli\nl: bra l\nirq: ldaa $4000\nback: rts\n",
    .chips = kPiaParts,
    .wires = kPiaLines,
    .inputs = {{"S", "P0 low@2000"}}};

TEST(Cases, WhatFollowsFromAJumpAstrayIsCountedBeneathIt) {
  LabRun run(kAstrayLab);
  run.run(100'000);
  const CaseReport report = report_of(run);
  ASSERT_EQ(roots_of(run), Ids{"rts-in-handler"}) << run.said();
  EXPECT_FALSE(report.cases[0].effects.empty());
  const auto cause = first_cause(report, run.machine.findings(), {});
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->id, "rts-in-handler");
  EXPECT_EQ(cause->next, "end an interrupt handler with RTI");
  EXPECT_NE(cause->effects, "");
  EXPECT_LE(run.machine.findings().size(), 24U);
}

TEST(Cases, CauseStandsBeforeItsEffects) {
  LabRun run(kAstrayLab);
  run.run(100'000);
  const std::vector<Finding>& findings = run.machine.findings();
  const CaseReport report = report_of(run);
  for (std::size_t i = 0; i < report.cases.size(); ++i) {
    for (const std::size_t effect : report.cases[i].effects) EXPECT_GT(effect, i);
  }
  for (const Finding& finding : findings) {
    if (finding.follows < 0) continue;
    EXPECT_LE(findings[static_cast<std::size_t>(finding.follows)].first, finding.first);
  }
}

TEST(Cases, AstrayEndsAtReset) {
  LabRun run({.rule = "",
              .name = "",
              .source = "start: inc $10\n ldaa #1\n cmpa $10\n bne again\n jmp $3000\nagain: inc $2000\nl: bra l\n"});
  run.machine.poke(0x0010, 0);
  run.run(100);
  ASSERT_EQ(roots_of(run), Ids{"astray"}) << run.said();
  run.machine.reset();
  run.run(200);
  const Ids roots = roots_of(run);
  EXPECT_NE(std::find(roots.begin(), roots.end(), "unmapped-write"), roots.end()) << run.said();
}

TEST(Cases, AHintIsNotWhatWentWrongFirst) {
  Finding hint{.id = "number-as-address", .weight = Weight::hint, .first = 5};
  Finding warn{.id = "unmapped-write", .weight = Weight::warn, .first = 50, .cause = 1};
  const std::vector<Finding> findings{hint, warn};
  const CaseReport report = gather_cases(findings);
  ASSERT_EQ(report.roots, 2U);
  EXPECT_EQ(report.cases[0].finding, 1U);
  EXPECT_EQ(first_cause(report, findings, {})->id, "unmapped-write");
  const std::vector<Finding> only{hint};
  EXPECT_FALSE(first_cause(gather_cases(only), only, {}));
}

TEST(Cases, AFaultOfTheWiringComesFirst) {
  const std::vector<Finding> findings{{.id = "floating-input", .weight = Weight::warn, .first = 50}};
  const std::vector<Fault> remarks{{.id = "idle-chip", .weight = Weight::hint, .what = "a"},
                                   {.id = "no-pull-up", .weight = Weight::warn, .what = "b", .hint = "c"}};
  const auto cause = first_cause(gather_cases(findings), findings, remarks);
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->id, "no-pull-up");
  EXPECT_TRUE(cause->wiring);
}

TEST(Cases, ARingOfCausesEndsWhereItBegan) {
  std::vector<Finding> findings{{.id = "a", .cause = 1, .follows = 1}, {.id = "b", .cause = 2, .follows = 0}};
  const CaseReport report = gather_cases(findings);
  EXPECT_EQ(report.roots, 1U);
  EXPECT_EQ(report.cases.size(), 2U);
}

TEST(Cases, CountsOfManyRangesStayShort) {
  Case told;
  told.count = 40;
  told.subjects = 30;
  for (std::uint32_t i = 0; i < 6; ++i) told.at.push_back({0x100 * i, 0x100 * i + 1});
  EXPECT_EQ(times_text(told),
            "40 times at 30 addresses: $0000-$0001, $0100-$0101, $0200-$0201, $0300-$0301 and 22 more");
}

}  // namespace
}  // namespace prewire::testing
