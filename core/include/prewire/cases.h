// Findings as one tells them: one cause, one message, and what follows from it beneath.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "prewire/address_range.h"
#include "prewire/error.h"
#include "prewire/watch.h"

namespace prewire {

/// Findings of one rule and one cause.
struct Case {
  std::size_t finding = 0;              ///< the first of it; counts in the list of findings
  std::vector<std::size_t> findings{};  ///< all of it, with the first
  std::uint64_t count = 0;              ///< how often, all together
  std::uint64_t subjects = 0;           ///< at how many different places
  std::vector<AddressRange> at{};       ///< where these are addresses; the first some
  Weight weight = Weight::hint;         ///< of the gravest among it and its effects
  std::vector<std::size_t> effects{};   ///< cases that follow from it, at second hand too; they count in the report
  bool root = true;                     ///< it follows from no other
};

/// All cases, plain data: those that follow from nothing first, such of weight `stop` and `warn` before hints, each by
/// time. The first of them is what went wrong first.
struct CaseReport {
  std::vector<Case> cases;
  std::size_t roots = 0;  ///< so many of them, from the first on, follow from nothing
};

CaseReport gather_cases(std::span<const Finding> findings);

/// What went wrong first, in words: what a summary opens with.
struct FirstCause {
  std::string id;
  Weight weight = Weight::warn;
  std::string what;     ///< message
  std::string where;    ///< "once, first at $F812, lab.asm:42", or the place in the machine file
  std::string next;     ///< one next step; may be empty
  std::string effects;  ///< what followed from it, counted by rule; may be empty
  bool wiring = false;  ///< it is a remark; else the first case of the report
};

/// A fault of the wiring is there before anything runs, so it comes first: `remarks` are those of the machine. Empty if
/// nothing of weight `stop` or `warn` was found.
std::optional<FirstCause> first_cause(const CaseReport& report, std::span<const Finding> findings,
                                      std::span<const Fault> remarks);

/// "$F812, lab.asm:42", without the source where it is not known.
std::string where_text(const Finding& finding);
/// "once", "57 times", "57 times at 12 addresses: $4000-$4003, $5000 and more", "8 times at 8 places".
std::string times_text(const Case& told);
/// What follows from a case, counted by rule, on one line: "undriven-read 57 times, rom-write once". Empty if nothing
/// does.
std::string effects_text(const CaseReport& report, const Case& told, std::span<const Finding> findings);

}  // namespace prewire
