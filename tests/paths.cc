#include "paths.h"

namespace prewire::testing {

std::filesystem::path source_folder() { return PREWIRE_SOURCE_DIR; }
std::filesystem::path test_data() { return source_folder() / "tests" / "data"; }

}  // namespace prewire::testing
