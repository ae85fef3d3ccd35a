// Boards that a machine file takes in by name: where their files are, and what is said of names.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "description/fault_list.h"
#include "description/json_text.h"

namespace prewire {

/// What stands behind the name of a board in that of its file.
inline constexpr const char* kBoardExtension = ".board.json";

struct BoardFile {
  std::filesystem::path folder;
  std::shared_ptr<const JsonText> text;
};

/// The board of that name in the first of the folders that has one. No name leads out of them, and no link. What is
/// wrong is a fault of `name`.
std::optional<BoardFile> find_board(const JsonValue& name, const std::vector<std::filesystem::path>& folders,
                                    FaultList& faults);

}  // namespace prewire
