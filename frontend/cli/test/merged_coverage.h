// What all checks together have executed, for each machine.
#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <string>

#include "prewire/coverage.h"
#include "prewire/description.h"
#include "prewire/machine.h"

namespace prewire::front::cli {

/// Any thread may add to it.
class MergedCoverage {
 public:
  /// `machine` is the name of its file.
  void add(const std::string& machine, const Description& description, const Coverage& coverage);

  /// Of all machines, in order of their names.
  std::string tracefile() const;
  std::string listing() const;
  /// Lines of source with instructions, and those that were executed. A line of several machines counts once.
  struct Lines {
    std::size_t found = 0, hit = 0;
  };
  Lines lines() const;

 private:
  struct Entry {
    explicit Entry(const Description& description) : machine(description.build()), coverage(machine) {}
    Machine machine;
    Coverage coverage;
  };
  mutable std::mutex mutex_;
  std::map<std::string, std::unique_ptr<Entry>> entries_;
};

}  // namespace prewire::front::cli
