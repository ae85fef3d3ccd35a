#include "deed.h"

namespace prewire::front::desk {

bool apply(Machine& machine, const Deed& deed) {
  switch (deed.kind) {
    case Deed::Kind::input: machine.set(deed.part, deed.value); return true;
    case Deed::Kind::reset: machine.reset(); return true;
    case Deed::Kind::poke: return machine.poke(deed.address, static_cast<std::uint8_t>(deed.number));
    case Deed::Kind::change_register: return machine.cpu().set(deed.address, deed.number);
  }
  return false;
}

}  // namespace prewire::front::desk
