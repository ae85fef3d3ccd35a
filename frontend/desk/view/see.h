// The parts that `look_at` is made of.
#pragma once

#include "view.h"

namespace prewire::front::desk {

void see_parts(const Session& session, View& view);
void see_processor(const Session& session, View& view);
void see_program(const Session& session, const Choices& choices, int rows, View& view);
void see_memory(const Session& session, const Choices& choices, const Room& room, View& view);
void see_memory_place(const Session& session, const Choices& choices, View& view);
void see_bus(const Session& session, const Choices& choices, int cells, View& view);
void see_wiring(const Session& session, const Choices& choices, View& view);

/// A line of source taken apart.
struct SourceText {
  std::string label, mnemonic, operand, comment;
};
SourceText take_apart(std::string_view line);

/// "2.50 V"; empty for a net that floats.
std::string volts_text(const NetState& state);

}  // namespace prewire::front::desk
