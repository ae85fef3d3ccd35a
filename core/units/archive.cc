#include "prewire/archive.h"

#include "prewire/error.h"

namespace prewire {

void Archive::refuse() {
  throw InputError(Fault{.id = "bad-snapshot",
                         .what = "this saved state makes no sense",
                         .expected = "a state as `Machine::save` gives it",
                         .found = "something that no machine can be in",
                         .hint = "it has been changed; save it anew"});
}

void Archive::make_room(std::size_t size) {
  if (loading()) refuse();
  const std::size_t used = out_->size() - room_;
  out_->resize(2 * (used + size));
  to_ = out_->data() + used;
  room_ = out_->size() - used;
}

}  // namespace prewire
