// Reads a JSON file as text.
#pragma once

#include <filesystem>
#include <string>

namespace prewire {

/// The text of a file, no longer than what `JsonText` refuses as too large. Throws `InputError` if it cannot be read;
/// `subject` is such as "the machine file".
std::string read_text_file(const std::filesystem::path& file, const std::string& subject);

/// The folder that a file lies in: "." for a plain name.
std::filesystem::path folder_of(const std::filesystem::path& file);

}  // namespace prewire
