// docs/images.md is right: its examples give the messages it shows, and it explains every fault that readers and
// operations report.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <sstream>

#include "paths.h"
#include "prewire/image_tools.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

struct Block {
  std::string section;  ///< the heading above it
  std::string info;     ///< what follows the opening fence
  std::string text;
};

std::vector<Block> blocks_of(const std::string& markdown) {
  std::vector<Block> blocks;
  std::istringstream lines(markdown);
  std::string section;
  bool inside = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("```", 0) == 0) {
      if (!inside) blocks.push_back({section, line.substr(3), ""});
      inside = !inside;
    } else if (inside) {
      blocks.back().text += line + '\n';
    } else if (line.rfind('#', 0) == 0) {
      section = line.substr(line.find(' ') + 1);
    }
  }
  return blocks;
}

/// An operation on key-in listings: `join` of mast.key and barrel.key, which a comment parts; else with a number.
std::string operate(const std::string& word, std::int64_t number, const std::string& text) {
  const auto listing = [](const std::string& lines, const std::string& name) {
    return NamedImage{name, read_image(lines, ImageFormat::key_in, name)};
  };
  try {
    if (word.rfind("join", 0) == 0) {
      const std::size_t part = text.find("; barrel.key\n");
      std::vector<NamedImage> images{listing(text.substr(0, part), "mast.key"),
                                     listing(text.substr(part), "barrel.key")};
      if (text.find("starts at") != std::string::npos) {
        for (NamedImage& each : images) each.image.entry = each.image.segments.front().start;
      }
      return dump(join(images, word == "join" ? Clash::fault : Clash::replace));
    }
    auto [name, image] = listing(text, "barrel.key");
    if (word == "move") return dump(move(image, number, name));
    if (word == "fill") return dump(fill(image, static_cast<std::uint8_t>(number), name));
    if (word == "chip") return to_string(block_of(image, static_cast<std::uint32_t>(number), name));
    const auto last = static_cast<std::uint32_t>(number);
    return dump(pad(image, {0x100, last}, 0xFF, name));
  } catch (const InputError& error) {
    return error.what();
  }
}

std::string run(const Block& block) {
  const std::string word = block.info.substr(0, block.info.find(' '));
  if (const std::set<std::string> operations{"join", "join-replace", "move", "fill", "pad", "chip"};
      operations.contains(word)) {
    const std::size_t blank = block.info.find(' ');
    return operate(word, blank == std::string::npos ? 0 : std::stoll(block.info.substr(blank), nullptr, 0), block.text);
  }
  if (word == "file") {
    // In the folder of the test itself: the message has the name as it is given.
    const std::string name = block.text.substr(0, block.text.find('\n'));
    const bool huge = name == "huge.bin";
    if (huge) {
      std::ofstream(name).put('S');
      std::filesystem::resize_file(name, (std::uintmax_t{16} << 20) + 1);
    }
    std::string said;
    try {
      said = dump(read_image_file(name, ImageFormat::automatic));
    } catch (const InputError& error) {
      said = error.what();
    }
    if (huge) std::filesystem::remove(name);
    return said;
  }
  const std::map<std::string, std::string> names = {{"s-record", "barrel.s19"},
                                                    {"intel-hex", "barrel.hex"},
                                                    {"key-in", "barrel.key"},
                                                    {"binary", "barrel.bin"},
                                                    {"automatic", "barrel.txt"}};
  const std::size_t dollar = block.info.find('$');
  const std::uint32_t base =
      dollar == std::string::npos ? 0 : static_cast<std::uint32_t>(std::stoul(block.info.substr(dollar + 1), {}, 16));
  return outcome(block.text, image_format(word).value(), names.at(word), base);
}

const std::string kDocs = slurp(source_folder() / "docs" / "images.md");

TEST(ImageDocs, ExamplesOfFormatsAreTheSampleFiles) {
  std::set<std::string> seen;
  for (const Block& block : blocks_of(kDocs)) {
    const std::map<std::string, std::string> samples = {
        {"S-record", "barrel.s19"}, {"Intel HEX", "barrel.hex"}, {"Key-in listing", "barrel.key"}};
    if (const auto found = samples.find(block.section); found != samples.end()) {
      EXPECT_EQ(block.text, sample(found->second));
      seen.insert(block.section);
    }
  }
  EXPECT_EQ(seen.size(), 3U);
}

TEST(ImageDocs, EveryFaultIsExplainedByAnExampleThatGivesIt) {
  std::set<std::string> documented;
  const std::vector<Block> blocks = blocks_of(kDocs);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    if (blocks[i].section.front() != '`') continue;
    SCOPED_TRACE(blocks[i].section + ": " + blocks[i].text);
    const std::string id = blocks[i].section.substr(1, blocks[i].section.size() - 2);
    ASSERT_LT(i + 1, blocks.size());
    const std::string actual = run(blocks[i]);
    const Block& shown = blocks[++i];
    ASSERT_EQ(shown.info, "text");
    EXPECT_NE(shown.text.find("[" + id + "]"), std::string::npos);
    // Where an image comes out as well, the documentation shows the remarks alone.
    const std::size_t remarks = actual.find("barrel.");
    EXPECT_EQ(remarks == std::string::npos ? actual : actual.substr(remarks), shown.text);
    documented.insert(id);
  }

  std::set<std::string> reported;
  for (const auto& file : std::filesystem::directory_iterator(source_folder() / "core/image")) {
    const std::string source = slurp(file.path());
    for (const std::string before : {".id = \"", "report(\""}) {
      for (std::size_t at = source.find(before); at != std::string::npos; at = source.find(before, at + 1)) {
        const std::size_t start = at + before.size();
        reported.insert(source.substr(start, source.find('"', start) - start));
      }
    }
  }
  EXPECT_EQ(documented, reported);
  EXPECT_GE(reported.size(), 20U) << "the ids are no longer found in the sources";
}

}  // namespace
}  // namespace prewire::testing
