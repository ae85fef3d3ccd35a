// What a program still needs of a register, without running it.
#pragma once

#include <cstdint>

namespace prewire {

class Machine;

/// Whether nothing looks at accumulator 'A' or 'B', on any way from the instruction at `address`, before it is
/// overwritten: a guess that follows branches, jumps and calls as far as their bytes tell where they lead, a few dozen
/// instructions at most. False where it cannot be told.
bool unread_until_overwritten(const Machine& machine, std::uint16_t address, char accumulator);

}  // namespace prewire
