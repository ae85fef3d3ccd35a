#include "description/description.h"

#include <utility>

#include "description/check.h"
#include "description/json_text.h"
#include "description/parse.h"
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

std::vector<std::string> programs_of(const std::filesystem::path& file) {
  const JsonText json(read_text_file(file, "the machine file"), file.string(), kMachineDescription);
  const auto top = json.root();
  if (!top) throw InputError(json.faults());
  std::vector<std::string> names;
  const auto list = top->is(JsonKind::object) ? top->find("program") : std::nullopt;
  if (!list || !list->is(JsonKind::array)) return names;
  for (const JsonValue& entry : list->children()) {
    const auto name = entry.is(JsonKind::object) ? entry.find("file") : std::optional(entry);
    if (name && name->is(JsonKind::string)) names.push_back(name->text());
  }
  return names;
}

}  // namespace prewire
