// A machine description that is read and checked once, and makes any number of machines.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/chip_type.h"
#include "prewire/error.h"
#include "prewire/rule.h"

namespace prewire {

class Machine;  // prewire/machine.h

/// How a machine description is read.
struct LoadOptions {
  /// Files named in the description must lie under this folder, symbolic links resolved. Empty: the folder of the
  /// description itself, or no files at all for a description that comes as text.
  std::filesystem::path root{};
  /// Where programs are looked for, and what they include, in place of the folder of the description, and in place of
  /// `root`. Empty: there.
  std::filesystem::path programs{};
  /// Programs, as the description names them, that are looked for beside it all the same.
  std::vector<std::string> given{};
  /// Folders in which boards are looked for that the description takes in by name, after that of the description
  /// itself.
  std::vector<std::filesystem::path> boards{};
  /// Build it although the check found faults of weight `stop` in the wiring. Faults in the data still refuse.
  bool run_faulty = false;
  /// Other weights for rules (see prewire/rule.h), by id; empty: the rule says nothing. They hold for faults in the
  /// wiring and for findings.
  RuleWeights weights{};
  /// Asked now and then while a source is assembled, as `AssemblyOptions::stop` is (prewire/assembler.h): `true` ends
  /// the reading with `AssemblyStopped`. Empty: nobody is asked.
  std::function<bool()> stop{};
};

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

  struct Impl;

 private:
  friend struct Inside;  // the library's own sources
  explicit Description(std::shared_ptr<const Impl> impl);
  std::shared_ptr<const Impl> impl_;
};

/// Looks at a description and reports everything that is wrong with it, worst first. Empty: nothing to say.
/// `name` stands for the file in messages; `folder` is where the files that it names are looked for.
std::vector<Fault> check_machine(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                                 const Registry& registry, const LoadOptions& options = {});

/// The programs that a description names, as it names them. What else it holds is not looked at. Throws `InputError` if
/// the file cannot be read, or is no JSON.
std::vector<std::string> programs_of(const std::filesystem::path& file);

/// The JSON Schema (draft 2020-12) of machine descriptions, with every chip, pin and parameter of the registry.
std::string machine_schema(const Registry& registry);

/// The processors that a description may name, with the settings of "cpu" as parameters. `make` is empty.
const std::vector<ChipType>& processor_types();

}  // namespace prewire
