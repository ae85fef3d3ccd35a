#include "prewire/archive.h"

#include <cassert>

namespace prewire {

void Archive::make_room(std::size_t size) {
  assert(!loading());
  const std::size_t used = out_->size() - room_;
  out_->resize(2 * (used + size));
  to_ = out_->data() + used;
  room_ = out_->size() - used;
}

}  // namespace prewire
