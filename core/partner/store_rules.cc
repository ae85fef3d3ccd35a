#include "partner/store_rules.h"

#include <fmt/format.h>

namespace prewire::partner {

void StoreRules::access(const Step& step) {
  bool wrapped = false;
  const auto address = scene_->effective(step, wrapped);
  if (!address) return;
  if (wrapped) {
    scene_->say("index-wrap", step.pc, [&] {
      return std::pair(fmt::format("the index register and the offset at {} lead past the end of memory, to ${:04X}",
                                   scene_->at(step.pc), *address),
                       scene_->mc6809 ? "look at the pointer: it is where the offset leads below $0000 or above $FFFF"
                                      : "an offset of the MC6800 is 0 to 255 and only goes up; look at X, too");
    });
  }
  if (!step.op.has(kWrites)) return;
  wrote(*address);
  into_code(step, *address);
  if (!step.op.has(kStore16)) return;
  const auto second = static_cast<std::uint16_t>(*address + 1);
  wrote(second);
  into_code(step, second);
}

void StoreRules::wrote(std::uint16_t address) {
  if (!scene_->is(address, kMirrored)) return;
  if (alias_.empty()) alias_.resize(65536);
  const std::uint16_t home = scene_->home(address);
  const std::uint16_t before = alias_[home];
  const auto now = static_cast<std::uint16_t>(address + 1);
  alias_[home] = now;
  if (before == 0 || before == now) return;
  const auto other = static_cast<std::uint16_t>(before - 1);
  scene_->say("mirror-write", home, [&] {
    return std::pair(fmt::format("a store to ${:04X} changes the byte that was written at ${:04X}: the board does not "
                                 "decode all address lines, and both are one cell",
                                 address, other),
                     "a buffer or pointer has run past the end of the RAM; `prewire check --map` shows the mirrors");
  });
}

void StoreRules::into_code(const Step& step, std::uint16_t address) {
  std::uint16_t& mark = scene_->marks[address];
  if (mark == 0 || !scene_->is(address, kRam)) return;
  mark = 0;
  // Whoever names the cell in the instruction knows what is there.
  if (!step.op.indexed()) return;
  scene_->say("self-modifying", step.pc, [&] {
    return std::pair(fmt::format("the store at {} changes ${:04X}, which has been executed as a part of the program",
                                 scene_->at(step.pc), address),
                     "if that is not meant, look at the pointer; a program in ROM could not do it");
  });
}

}  // namespace prewire::partner
