// Where the tests find their data, and the sources they test.
#pragma once

#include <filesystem>

namespace prewire::testing {

std::filesystem::path source_folder();  ///< the project's top folder
std::filesystem::path test_data();      ///< tests/data

}  // namespace prewire::testing
