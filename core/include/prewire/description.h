// A machine description that is read and checked once, and makes any number of machines.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "prewire/machine.h"

namespace prewire {

/// Immutable: any number of threads may make machines of one description at a time. The registry must outlive it and
/// its machines.
class Description {
 public:
  /// Throws `InputError` with all faults, as `Machine::from_file` does.
  static Description from_file(const std::filesystem::path& file, const Registry& registry,
                               const LoadOptions& options = {});
  static Description from_text(std::string_view json, const std::string& name, const Registry& registry,
                               const LoadOptions& options = {});
  Description(const Description&);
  Description(Description&&) noexcept;
  Description& operator=(const Description&);
  Description& operator=(Description&&) noexcept;
  ~Description();

  /// A machine that has been switched on.
  Machine build() const;

  struct Impl;  // for the library's own sources
  const Impl& inside() const { return *impl_; }

 private:
  explicit Description(std::shared_ptr<const Impl> impl);
  std::shared_ptr<const Impl> impl_;
};

}  // namespace prewire
