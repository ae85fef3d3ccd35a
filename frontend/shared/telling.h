// What happened in the past, in words and as JSON.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "json_text.h"
#include "prewire/history.h"

namespace prewire::front {

/// Something that somebody asks the past about.
struct Question {
  std::string text;  ///< as asked
  Wanted wanted;
};

struct Answer {
  Question question;
  std::optional<Happening> happening;
  Cycle since = 0;  ///< where the past begins
};

/// An address, a label with or without an offset, or a net, if need be as "net:NAME". Adds to `faults` what is none.
Question parse_question(const std::string& option, const std::string& text, const Machine& machine,
                        std::vector<Fault>& faults);

/// "405.123 ms".
std::string milliseconds(const Machine& machine, Stamp when);
/// "high", "2.5 V", "low, pulled": what tells the state from the other one.
std::string state_text(const NetState& state, const NetState& other);

/// One line or more, without line ends.
std::vector<std::string> tell(const Machine& machine, const Happening& happening);
std::vector<std::string> tell(const Machine& machine, const Answer& answer);
Json to_json(const Machine& machine, const Answer& answer);

}  // namespace prewire::front
