#include "file_kinds.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <iterator>
#include <system_error>
#include <vector>

#include "prewire/error.h"
#include "prewire/text.h"
#include "trouble.h"

namespace prewire::front {

namespace {

struct Ending {
  std::string_view ending, kind;
};

// What the project reads and writes, and what would be taken for sound, a picture or a program of another kind.
constexpr Ending kEndings[] = {
    {".asm", "a source"},
    {".inc", "a source"},
    {".json", "a JSON document"},
    {".jsonl", "a trace in lines of JSON"},
    {".csv", "a table"},
    {".txt", "a text"},
    {".vcd", "a waveform"},
    {".info", "coverage for lcov"},
    {".folded", "a profile in folded stacks"},
    {".s19", "an S-record image"},
    {".srec", "an S-record image"},
    {".mot", "an S-record image"},
    {".hex", "an Intel HEX image"},
    {".ihx", "an Intel HEX image"},
    {".bin", "a raw image"},
    {".key", "a key-in listing"},
    {".lst", "a listing"},
    {".sym", "symbols"},
    {".xml", "a JUnit report"},
    {".tap", "a TAP report"},
    {".html", "a page for a browser"},
    {".htm", "a page for a browser"},
    {".svg", "a drawing"},
    {".png", "a picture"},
    {".wav", "sound"},
};

}  // namespace

void refuse_other_kind(std::string_view option, const std::string& file, std::initializer_list<std::string_view> own) {
  std::string ending = std::filesystem::path(file).extension().string();
  for (char& c : ending) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  if (std::find(own.begin(), own.end(), ending) != own.end()) return;
  const auto known =
      std::find_if(std::begin(kEndings), std::end(kEndings), [&](const Ending& each) { return each.ending == ending; });
  if (known == std::end(kEndings)) return;
  const std::vector<std::string> endings(own.begin(), own.end());
  // What is there already is refused, or replaced, by what it holds.
  std::error_code none;
  if (std::filesystem::exists(file, none)) return;
  throw Trouble(Exit::usage, fmt::format("{} does not write such a file", option),
                fmt::format("a file named {}", list_of(endings, "or")), file,
                fmt::format("{} stands for {}", ending, known->kind));
}

}  // namespace prewire::front
