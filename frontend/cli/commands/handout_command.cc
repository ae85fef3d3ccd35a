// `prewire handout`: what the owner of a board takes to the bench.
#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "cli/commands.h"
#include "cli/image/image_files.h"
#include "handout/compare.h"
#include "handout/handout.h"
#include "prewire/text.h"
#include "shared/known_chips.h"
#include "shared/new_file.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kHandoutPurpose =
    "Makes what one takes to the bench: parts, wires to tick off, a diagram, the program to key in.\n"
    "It also tells when the decoder has to select each chip, and what the board should show. With --compare it looks\n"
    "at a memory dump of the real board.";
constexpr const char* kHandoutExamples =
    "  prewire handout gauge.json -o gauge.html\n"
    "  prewire handout gauge.json --only wires,shows --set FLOAT=0.5V,2.5V\n"
    "  prewire handout gauge.json --only keys > gauge.key\n"
    "  prewire handout gauge.json --compare dump.key";

constexpr const char* kHandoutExitHelp =
    "Exit status:\n"
    "  0  all is well           3  bad input, or a place that cannot be written to\n"
    "  1  internal error        5  --compare finds a difference\n"
    "  2  bad usage";

struct HandoutOptions {
  std::string machine, output, format, only, dump, dump_format, dump_at;
  std::vector<std::string> sets;
  LoadOptions load;
};

std::vector<std::string> at_commas(const std::string& text) {
  std::vector<std::string> words;
  for (std::size_t at = 0;;) {
    const std::size_t comma = text.find(',', at);
    words.push_back(text.substr(at, comma == std::string::npos ? comma : comma - at));
    if (comma == std::string::npos) return words;
    at = comma + 1;
  }
}

bool wants_html(const HandoutOptions& options) {
  if (options.format == "html") return true;
  if (options.format == "text") return false;
  if (!options.format.empty()) {
    throw Trouble(Exit::usage, "a handout has no such format", "html or text", options.format,
                  meant(options.format, {"html", "text"}));
  }
  if (options.output.empty() || options.output == "-") return false;
  const std::string extension = std::filesystem::path(options.output).extension().string();
  if (extension == ".html" || extension == ".htm") return true;
  if (extension == ".txt" || extension == ".key") return false;
  throw Trouble(Exit::usage, "the name of the handout does not tell its format", ".html or .htm, .txt or .key",
                options.output, "choose another name, or give --format");
}

unsigned sections_of(const std::string& only) {
  if (only.empty()) return handout::kEverything;
  unsigned sections = 0;
  std::vector<std::string> names;
  for (const handout::SectionName& each : handout::section_names()) names.emplace_back(each.name);
  for (const std::string& word : at_commas(only)) {
    unsigned section = 0;
    for (const handout::SectionName& each : handout::section_names()) {
      if (each.name == word) section = each.section;
    }
    if (section == 0) {
      throw Trouble(Exit::usage, "a handout has no such section", list_of(names, "or"), word, meant(word, names));
    }
    sections |= section;
  }
  return sections;
}

handout::Positions parse_positions(const std::string& text) {
  const std::size_t equals = text.find('=');
  handout::Positions positions;
  if (equals != std::string::npos) positions = {text.substr(0, equals), at_commas(text.substr(equals + 1))};
  bool whole = !positions.part.empty();
  for (const std::string& value : positions.values) whole = whole && !value.empty();
  if (!whole) {
    throw Trouble(Exit::usage, "--set cannot be read", "NAME=VALUE or NAME=VALUE,VALUE, such as FLOAT=0.5V,2.5V", text);
  }
  return positions;
}

/// Refuses a part or value that the machine does not take, before any run.
void check_positions(Machine& machine, const std::vector<handout::Positions>& all) {
  std::vector<Fault> faults;
  for (const handout::Positions& positions : all) {
    for (const std::string& value : positions.values) {
      try {
        machine.set(positions.part, value);
      } catch (const InputError& error) {
        for (Fault fault : error.faults()) {
          fault.place.file = fmt::format("--set {}={}", positions.part, value);
          faults.push_back(std::move(fault));
        }
        if (faults.back().id != "bad-input-value") break;
      }
    }
  }
  if (!faults.empty()) throw InputError(std::move(faults));
}

/// To the file, whole or not at all, or to standard output.
void deliver(const HandoutOptions& options, const std::string& made, std::string_view mark, Output& out) {
  const std::string text = printable(made, "\t\n");
  if (options.output.empty() || options.output == "-") {
    out.print(text);
    out.flush();
    return;
  }
  NewFile file(options.output, mark,
               {.refused = "--output does not write there",
                .replaceable = "a new file, or an older one of its kind",
                .failed = "the file of --output cannot be written"});
  file.write(text);
  file.close();
  file.take_name();
}

Image read_dump(const HandoutOptions& options) {
  ImageFormat format = ImageFormat::automatic;
  if (!options.dump_format.empty()) {
    format = parse_image_format(options.dump_format, true);
  } else if (const auto known = format_by_extension(options.dump)) {
    format = *known;
  }
  std::uint16_t base = 0;
  if (!options.dump_at.empty()) {
    const auto address = parse_address(options.dump_at);
    if (!address) {
      throw Trouble(Exit::usage, "--dump-at names no address", "an address such as '$F800' or 0xF800", options.dump_at);
    }
    base = *address;
  }
  if ((format == ImageFormat::binary) != !options.dump_at.empty()) {
    throw Trouble(Exit::usage,
                  format == ImageFormat::binary ? "a raw dump needs the address of its first byte"
                                                : "this dump brings its own addresses",
                  format == ImageFormat::binary ? "--dump-at ADDRESS" : "no --dump-at", "",
                  format == ImageFormat::binary ? "" : "--dump-format binary is for raw bytes");
  }
  return read_image_file(options.dump, format, base,
                         "of raw bytes name the first address: --dump-format binary --dump-at 0xF800");
}

Exit compare_dump(const HandoutOptions& options, const Machine& machine, Output& out) {
  const Image dump = read_dump(options);
  for (const Fault& remark : dump.remarks) message(to_string(remark));
  const handout::KeySheet sheet = handout::make_key_sheet(machine);
  const handout::Comparison comparison = handout::compare(sheet, dump);
  constexpr std::string_view kMark = "Comparison: ";
  deliver(options, fmt::format("{}{} with {}\n", kMark, machine.title(), printable(options.dump)) + to_text(comparison),
          kMark, out);
  return comparison.same() ? Exit::ok : Exit::expectation;
}

Exit make(const HandoutOptions& options, Output& out) {
  if (options.machine.empty()) {
    throw Trouble(Exit::usage, "`handout` needs a machine file", "", "", "`prewire handout --help` explains all");
  }
  if (!options.dump.empty()) {
    const bool mixed = !options.only.empty() || !options.sets.empty() || !options.format.empty();
    if (mixed) {
      throw Trouble(Exit::usage, "--compare makes no handout", "no --only, --set or --format beside it", "");
    }
  } else if (!options.dump_format.empty() || !options.dump_at.empty()) {
    throw Trouble(Exit::usage, "--dump-format and --dump-at go with a dump", "--compare FILE", "none");
  }
  const bool html = options.dump.empty() && wants_html(options);
  const unsigned sections = sections_of(options.only);
  if (!html && sections == handout::kDiagram) {
    throw Trouble(Exit::usage, "the diagram is not for text", "--format html", "text");
  }
  if (!options.sets.empty() && (sections & handout::kShows) == 0) {
    throw Trouble(Exit::usage, "--set goes with the section `shows`", "--only with shows, or no --only", options.only);
  }
  std::vector<handout::Positions> positions;
  for (const std::string& set : options.sets) positions.push_back(parse_positions(set));

  Machine machine = Machine::from_file(options.machine, known_chips(), options.load);
  if (!options.dump.empty()) return compare_dump(options, machine, out);
  check_positions(machine, positions);
  const handout::Handout made = handout::make_handout(machine, sections, positions);
  if (html) {
    deliver(options, to_html(made), handout::kHtmlMark, out);
  } else {
    deliver(options, to_text(made), sections == handout::kKeys ? handout::kKeysMark : handout::kTextMark, out);
  }
  return Exit::ok;
}

}  // namespace

Command add_handout(CLI::App& program) {
  CLI::App* app = add_command(program, "handout", kHandoutPurpose, kHandoutExamples);
  app->footer(kHandoutExitHelp);
  const auto options = std::make_shared<HandoutOptions>();
  app->add_option("MACHINE", options->machine, "machine file; docs/machine-file.md describes it")->type_name("");
  app->add_option("-o,--output", options->output, "file, - for standard output; .html, or .txt and .key for text")
      ->type_name("FILE");
  app->add_option("--format", options->format, "html or text, whatever the name")->type_name("FORMAT");
  app->add_option("--only", options->only,
                  "sections, with commas between: notes, parts, selects, wires,\ndiagram, keys, shows")
      ->type_name("LIST");
  app->add_option("--set", options->sets,
                  "part and values, with commas between, for what the board\n"
                  "should show; may be given again. If not given: some\npositions of every knob and contact")
      ->type_name("NAME=VALUES")
      ->take_all();
  add_root_option(*app, options->load);
  app->option_defaults()->group("A dump from the real board");
  app->add_option("--compare", options->dump, "memory dump to compare with the program")->type_name("FILE");
  app->add_option("--dump-format", options->dump_format, "automatic, s-record, intel-hex, binary or key-in")
      ->type_name("FORMAT");
  app->add_option("--dump-at", options->dump_at, "address of the first byte of a raw dump")->type_name("ADDRESS");
  return {app, [options](Output& out, const Limits&) { return make(*options, out); }};
}

}  // namespace prewire::front::cli
