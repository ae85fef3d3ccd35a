// The inside of a description.
#pragma once

#include <cstdint>
#include <vector>

#include "description/spec.h"
#include "prewire/description.h"

namespace prewire {

struct Description::Impl {
  MachineSpec spec;
  std::vector<Fault> remarks;
};

}  // namespace prewire
