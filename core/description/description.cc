#include "description/description.h"

#include <utility>

#include "description/check.h"
#include "description/text_file.h"

namespace prewire {

namespace {

std::shared_ptr<const Description::Impl> load(std::string_view json, const std::string& name,
                                              const std::filesystem::path& folder, const Registry& registry,
                                              const LoadOptions& options) {
  CheckedMachine checked = read_and_check(json, name, folder, registry, options);
  if (checked.data_faults || (checked.wiring_faults && !options.run_faulty)) {
    std::erase_if(checked.faults, [](const Fault& fault) { return fault.weight != Weight::stop; });
    throw InputError(std::move(checked.faults));
  }
  auto read = std::make_shared<Description::Impl>();
  read->spec = std::move(checked.spec);
  read->remarks = std::move(checked.faults);
  return read;
}

}  // namespace

Description::Description(std::shared_ptr<const Impl> impl) : impl_(std::move(impl)) {}
Description::Description(const Description&) = default;
Description::Description(Description&&) noexcept = default;
Description& Description::operator=(const Description&) = default;
Description& Description::operator=(Description&&) noexcept = default;
Description::~Description() = default;

Description Description::from_file(const std::filesystem::path& file, const Registry& registry,
                                   const LoadOptions& options) {
  const std::string text = read_text_file(file, "the machine file");
  return Description(load(text, file.string(), folder_of(file), registry, options));
}

Description Description::from_text(std::string_view json, const std::string& name, const Registry& registry,
                                   const LoadOptions& options) {
  return Description(load(json, name, {}, registry, options));
}

std::vector<Fault> check_machine(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                                 const Registry& registry, const LoadOptions& options) {
  return read_and_check(json, name, folder, registry, options).faults;
}

}  // namespace prewire
