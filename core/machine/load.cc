// Loading a machine is reading its description and building it once.
#include "description/text_file.h"
#include "machine/inside.h"

namespace prewire {

Machine Description::build() const { return Inside::build(*this, impl_->spec); }

std::vector<Fault> Machine::check_file(const std::filesystem::path& file, const Registry& registry,
                                       const LoadOptions& options) {
  return check_machine(read_text_file(file, "the machine file"), file.string(), folder_of(file), registry, options);
}

Machine Machine::from_file(const std::filesystem::path& file, const Registry& registry, const LoadOptions& options) {
  return Description::from_file(file, registry, options).build();
}

Machine Machine::from_text(std::string_view json, const std::string& name, const Registry& registry,
                           const LoadOptions& options) {
  return Description::from_text(json, name, registry, options).build();
}

}  // namespace prewire
