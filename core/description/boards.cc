#include "description/boards.h"

#include <fmt/format.h>

#include <algorithm>

#include "asm/confined.h"
#include "description/text_file.h"
#include "description/values.h"
#include "description/wires.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr std::size_t kMostShownBoards = 20;

/// Names of the boards that there are, each once.
std::vector<std::string> boards_in(const std::vector<std::filesystem::path>& folders) {
  std::vector<std::string> names;
  for (const std::filesystem::path& folder : folders) {
    std::error_code none;
    for (std::filesystem::directory_iterator entry(folder, none), end; !none && entry != end; entry.increment(none)) {
      const std::string file = entry->path().filename().string(), extension = kBoardExtension;
      if (file.size() <= extension.size() || !file.ends_with(extension)) continue;
      const std::string name = file.substr(0, file.size() - extension.size());
      if (is_chip_name(name) && std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
    }
  }
  std::sort(names.begin(), names.end());
  if (names.size() > kMostShownBoards) names.resize(kMostShownBoards);
  return names;
}

}  // namespace

std::optional<BoardFile> find_board(const JsonValue& name, const std::vector<std::filesystem::path>& folders,
                                    FaultList& faults) {
  const std::string expected = fmt::format("the name of a board, such as \"trainer\" for trainer{}", kBoardExtension);
  if (!check_kind(name, JsonKind::string, "a board", expected, faults)) return std::nullopt;
  const std::string& word = name.text();
  if (!is_chip_name(word)) {
    faults.add("bad-board", name.place(), fmt::format("{} is no name of a board", in_quotes(word)), expected,
               in_quotes(word), "a letter, then letters, digits, '_' and '-': no path, and no extension");
    return std::nullopt;
  }
  for (const std::filesystem::path& folder : folders) {
    const std::filesystem::path file = folder / (word + kBoardExtension);
    std::error_code none;
    if (!std::filesystem::exists(std::filesystem::symlink_status(file, none))) continue;
    const Refusal refusal = refuse_path(file, folder, "the machine file or among the boards");
    if (!refusal.what.empty()) {
      faults.add("bad-board", name.place(), refusal.what, refusal.expected, in_quotes(word), refusal.hint);
      return std::nullopt;
    }
    try {
      auto text = std::make_shared<JsonText>(read_text_file(file, "the board"), file.string(), "a board");
      for (const Fault& fault : text->faults()) faults.add(fault);
      if (!text->root()) return std::nullopt;
      return BoardFile{folder, std::move(text)};
    } catch (const InputError& error) {
      for (const Fault& fault : error.faults()) faults.add(fault);
      return std::nullopt;
    }
  }
  const std::vector<std::string> known = boards_in(folders);
  faults.add(
      "unknown-board", name.place(), fmt::format("there is no board {}", in_quotes(word)),
      known.empty() ? fmt::format("a file {}{}", word, kBoardExtension) : one_of(known), in_quotes(word),
      meant(word, known,
            fmt::format("put {}{} beside the machine file, or name its folder with --boards", word, kBoardExtension)));
  return std::nullopt;
}

}  // namespace prewire
