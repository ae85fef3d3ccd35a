// The way inside what the library hands out, for its own sources.
#pragma once

#include <memory>
#include <utility>

#include "description/description.h"
#include "machine/fingerprint.h"
#include "machine/impl.h"

namespace prewire {

struct Inside {
  static Machine::Impl& of(Machine& machine) { return *machine.impl_; }
  static const Machine::Impl& of(const Machine& machine) { return *machine.impl_; }
  static const Description::Impl& of(const Description& description) { return *description.impl_; }

  /// A machine of that description which is built as `spec` says.
  static Machine build(const Description& description, MachineSpec spec) {
    auto impl = std::make_unique<Machine::Impl>(std::move(spec));
    impl->remarks = of(description).remarks;
    impl->fingerprint = fingerprint_of(impl->spec);
    return Machine(std::move(impl));
  }
};

}  // namespace prewire
