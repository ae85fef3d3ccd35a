// `prewire disassemble`: from an image to a source that makes the same image.
#include <fmt/format.h>

#include <map>
#include <memory>

#include "cli/commands.h"
#include "image_files.h"
#include "output_files.h"
#include "prewire/disassembler.h"
#include "prewire/text.h"
#include "shared/file_kinds.h"
#include "shared/json_text.h"
#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kDisassemblePurpose =
    "Reads a program back from its bytes: the source that it prints assembles to the same bytes.\n"
    "It follows the code from the vectors; what it does not reach is data.";
constexpr const char* kDisassembleExamples =
    "  prewire disassemble gauge.s19 --cpu mc6800\n"
    "  prewire disassemble gauge.bin --base '$F800' --cpu mc6809 --entry '$F900=show' -o read-back.asm\n"
    "  prewire disassemble --machine gauge.json --bytes --cycles";

// What an older file of this command begins with.
constexpr std::string_view kSourceMark = "; Program for the MC", kJsonMark = "{\n  \"format\": \"prewire disassembly";

constexpr std::size_t kMostSource = std::size_t{4} << 20;  // docs/assembler.md, "Lines"

struct DisassembleOptions {
  std::string image, machine, cpu, format, base, range, direct_page, output;
  std::vector<std::string> entries, names, tables;
  LoadOptions load;
  SourceStyle style;
  bool json = false;
};

std::uint16_t need_address(const std::string& option, const std::string& text) {
  if (const auto value = parse_address(text)) return *value;
  throw Trouble(Exit::usage, fmt::format("{} needs an address", option), "'$F800' or 0xF800", text,
                "a shell takes $ for its own unless it stands in single quotes");
}

AddressRange need_range(const std::string& option, const std::string& text) {
  const std::size_t dash = text.find('-');
  const auto first = parse_address(text.substr(0, dash));
  const auto last = dash == std::string::npos ? std::nullopt : parse_address(text.substr(dash + 1));
  if (first && last && *first <= *last) return {*first, *last};
  throw Trouble(Exit::usage, fmt::format("{} needs a range of addresses", option), "'$F800-$F8FF', both included", text,
                "a shell takes $ for its own unless it stands in single quotes");
}

/// What stands before and behind the `=`.
std::pair<std::uint16_t, std::string> named(const std::string& option, const std::string& text) {
  const std::size_t equals = text.find('=');
  return {need_address(option, text.substr(0, equals)), equals == std::string::npos ? "" : text.substr(equals + 1)};
}

/// The part of the options that is the same for an image and for a machine.
DisassemblerOptions wishes(const DisassembleOptions& options) {
  DisassemblerOptions wish;
  std::map<std::uint16_t, std::string> by_address;
  std::map<std::string, std::uint16_t> by_name;
  const auto name = [&](const std::string& option, std::uint16_t at, const std::string& text) {
    const bool fresh = by_address.try_emplace(at, text).second && by_name.try_emplace(text, at).second;
    if (!fresh) {
      throw Trouble(Exit::usage, fmt::format("{} repeats an address or a name", option), "one name for each address",
                    fmt::format("${:04X}={}", at, text));
    }
    wish.names.push_back({at, text, {}});
  };
  for (const std::string& text : options.entries) {
    const auto [at, label] = named("--entry", text);
    wish.entries.push_back(at);
    if (text.find('=') != std::string::npos) name("--entry", at, label);
  }
  for (const std::string& text : options.names) {
    const auto [at, label] = named("--name", text);
    if (text.find('=') == std::string::npos) {
      throw Trouble(Exit::usage, "--name needs an address and a name", "ADDRESS=NAME, such as '$4000=PORT'", text);
    }
    name("--name", at, label);
  }
  for (const std::string& text : options.tables) wish.tables.push_back(need_range("--table", text));
  if (!options.range.empty()) wish.range = need_range("--range", options.range);
  if (!options.direct_page.empty()) {
    const auto page = parse_address(options.direct_page);
    if (!page || *page > 0xFF) {
      throw Trouble(Exit::usage, "--direct-page needs the content of DP", "'$00' to '$FF'", options.direct_page);
    }
    wish.direct_page = static_cast<std::uint8_t>(*page);
  }
  return wish;
}

Image read_image(const DisassembleOptions& options) {
  ImageFormat format = options.base.empty() ? ImageFormat::automatic : ImageFormat::binary;
  if (!options.format.empty()) format = parse_image_format(options.format, true);
  const bool binary = format == ImageFormat::binary;
  if (binary && options.base.empty()) {
    throw Trouble(Exit::usage, "a binary image needs the address of its first byte", "--base ADDRESS", "none");
  }
  if (!binary && !options.base.empty()) {
    throw Trouble(Exit::usage, "only a binary image takes --base", "--format binary", options.format,
                  "the other formats bring their own addresses");
  }
  return read_image_file(options.image, format, binary ? need_address("--base", options.base) : std::uint16_t{0},
                         "of raw bytes name the first address: --base 0xF800");
}

/// All images of a machine as one. The check has made sure that they do not contradict each other.
Image merged(const Machine& machine) {
  std::vector<NamedImage> images;
  for (const Image* program : machine.programs()) images.push_back({"", *program});
  Image whole;
  whole.segments = join(images, Clash::replace).segments;  // the rest is about one file
  return whole;
}

/// The image, and into the options what goes with it.
Image image_of(const DisassembleOptions& options, DisassemblerOptions& wish) {
  if (options.machine.empty()) {
    if (!options.load.root.empty()) {
      throw Trouble(Exit::usage, "--root goes with a machine file", "--machine FILE", "none",
                    "an image is read from wherever it is");
    }
    if (options.image.empty()) {
      throw Trouble(Exit::usage, "`disassemble` needs an image", "IMAGE, or --machine FILE", "",
                    "`prewire disassemble --help` explains all");
    }
    if (options.cpu.empty()) {
      throw Trouble(Exit::usage, "the processor is not named",
                    fmt::format("--cpu {}", fmt::join(assembler_cpus(), ", ")), "none",
                    "an image does not tell for which processor it is");
    }
    wish.cpu = options.cpu;
    return read_image(options);
  }
  for (const auto& [option, text] : {std::pair{"an image", options.image},
                                     {"--cpu", options.cpu},
                                     {"--format", options.format},
                                     {"--base", options.base}}) {
    if (text.empty()) continue;
    throw Trouble(Exit::usage, fmt::format("--machine excludes {}", option), "one of them", text,
                  "the machine file names images and processor");
  }
  LoadOptions load = options.load;
  load.run_faulty = true;  // wiring does not matter here
  const Machine machine = Machine::from_file(options.machine, known_chips(), load);
  if (machine.programs().empty()) {
    throw Trouble(Exit::input, "the machine has no program", "\"program\": a list of images", options.machine);
  }
  wish.cpu = machine.cpu().type();
  for (AddressName& name : address_names(machine)) wish.names.push_back(std::move(name));
  return merged(machine);
}

Json program_json(const DisassembledProgram& program) {
  Json document{{"format", "prewire disassembly 1"}, {"cpu", program.cpu}, {"title", program.title}};
  if (program.direct_page != 0) document["direct_page"] = program.direct_page;
  if (program.entry) document["entry"] = *program.entry;
  Json outside = Json::array(), lines = Json::array(), losses = Json::array();
  for (const AddressName& name : program.outside) {
    Json entry{{"name", name.name}, {"address", name.address}};
    if (!name.about.empty()) entry["about"] = name.about;
    outside.push_back(std::move(entry));
  }
  for (const DisassembledProgram::Line& line : program.lines) {
    Json entry{{"address", line.address}, {"bytes", line.bytes}, {"kind", to_string(line.kind)}};
    if (!line.label.empty()) entry["label"] = line.label;
    entry["mnemonic"] = line.mnemonic;
    if (!line.operand.empty()) entry["operand"] = line.operand;
    if (line.kind == LineKind::instruction) {
      entry["cycles"] = line.cycles;
      entry["most_cycles"] = line.most_cycles;
    }
    if (!line.note.empty()) entry["note"] = line.note;
    lines.push_back(std::move(entry));
  }
  for (const DisassembledProgram::Loss& loss : program.losses) {
    losses.push_back({{"address", loss.address}, {"why", loss.why}});
  }
  document["outside"] = std::move(outside);
  document["lines"] = std::move(lines);
  document["losses"] = std::move(losses);
  return document;
}

std::string disassembly_summary(const std::string& file, const DisassembledProgram& program) {
  const std::size_t code = program.size(LineKind::instruction), data = program.size(LineKind::data);
  return fmt::format("{}: {} {} of code, {} of data; the way is lost at {} {}\n", printable(file), code,
                     code == 1 ? "byte" : "bytes", data, program.losses.size(),
                     program.losses.size() == 1 ? "place" : "places");
}

Exit run_disassembler(const DisassembleOptions& options, Output& out) {
  if (options.json) {
    refuse_other_kind("--output", options.output, {".json"});
  } else {
    refuse_other_kind("--output", options.output, {".asm", ".inc", ".txt"});
  }
  DisassemblerOptions wish = wishes(options);
  wish.name = options.machine.empty() ? options.image : options.machine;
  const Image image = image_of(options, wish);
  for (const Fault& remark : image.remarks) message(to_string(remark));
  const DisassembledProgram program = disassemble_program(image, wish);
  const std::string text = options.json ? print_json(program_json(program)) : source_text(program, options.style);
  if (!options.json && text.size() > kMostSource) {
    throw Trouble(Exit::input, "the source would be too large for the assembler", "at most 4 MiB",
                  fmt::format("{} bytes", text.size()), "leave out --bytes and --cycles, or take a part with --range");
  }
  if (options.output.empty() || options.output == "-") {
    out.print(text);
    return Exit::ok;
  }
  OutputFiles files;
  files.add("--output", options.output, text, options.json ? kJsonMark : kSourceMark);
  out.print(disassembly_summary(wish.name, program));
  out.flush();
  files.finish();
  return Exit::ok;
}

}  // namespace

Command add_disassemble(CLI::App& program) {
  CLI::App* app = add_command(program, "disassemble", kDisassemblePurpose, kDisassembleExamples);
  const auto options = std::make_shared<DisassembleOptions>();
  app->add_option("IMAGE", options->image, "program image; docs/images.md describes the formats")->type_name("");
  app->add_option("--cpu", options->cpu, fmt::format("processor:\n{}", fmt::join(assembler_cpus(), ", ")))
      ->type_name("PART");
  app->add_option("--format", options->format,
                  "s-record, intel-hex, binary or key-in;\nif not given, what the file looks like")
      ->type_name("FORMAT");
  app->add_option("--base", options->base, "address of the first byte of a binary image")->type_name("ADDRESS");
  app->add_option("--machine", options->machine,
                  "read the images of this machine file, for its processor,\n"
                  "with the names of its programs and of its chips' registers")
      ->type_name("FILE");
  add_root_option(*app, options->load);
  app->option_defaults()->group("What it cannot know");
  const auto many = [&](const char* name, std::vector<std::string>& texts, const char* value, const char* help) {
    app->add_option(name, texts, help)->type_name(value)->allow_extra_args(false);
  };
  many("--entry", options->entries, "ADDRESS[=NAME]", "code begins there; may be given again");
  many("--table", options->tables, "RANGE", "addresses of code stand there; may be given again");
  many("--name", options->names, "ADDRESS=NAME", "call that address so; may be given again");
  app->add_option("--direct-page", options->direct_page, "MC6809: what DP holds, if not $00")->type_name("PAGE");
  app->option_defaults()->group("Output");
  app->add_option("--range", options->range, "write only these addresses, such as '$F800-$F8FF'")->type_name("RANGE");
  app->add_flag("--bytes", options->style.bytes, "addresses and bytes in comments");
  app->add_flag("--cycles", options->style.cycles, "cycles in comments");
  app->add_flag("--json", options->json, "one JSON document, with all of it");
  app->add_option("-o,--output", options->output, "write this file, - for standard output")->type_name("FILE");
  return {app, [options](Output& out, const Limits&) { return run_disassembler(*options, out); }};
}

}  // namespace prewire::front::cli
