// `prewire assemble`: from a source to an image.
#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <memory>

#include "cli/commands.h"
#include "image_files.h"
#include "output_files.h"
#include "prewire/assembler.h"
#include "prewire/text.h"
#include "shared/ending.h"
#include "shared/file_kinds.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kAssemblePurpose =
    "Assembles a program for the MC6800 or the MC6809.\n"
    "Without an option for a file it says what is wrong with the source, and what may be.";
constexpr const char* kAssembleExamples =
    "  prewire assemble gauge.asm -o gauge.s19\n"
    "  prewire assemble gauge.asm --cpu mc6809 -o gauge.hex --listing gauge.lst --symbols gauge.sym\n"
    "  prewire assemble gauge.asm --listing -\n"
    "  prewire assemble - --cpu 6809 -o gauge.s19 < gauge.asm";

constexpr std::string_view kListingMark = "Listing of ", kSymbolMark = "{\n  \"format\": \"prewire symbols";

struct AssembleOptions {
  std::string source, cpu, output, format, listing, symbols;
  bool strict = false;
};

std::string assembly_summary(const std::string& source, const Image& image) {
  std::size_t warns = 0;
  for (const Fault& remark : image.remarks) warns += remark.weight == Weight::warn ? 1 : 0;
  return fmt::format("{}: {}; {} warn, {} hint\n", printable(source), describe(image), warns,
                     image.remarks.size() - warns);
}

Image assemble_source(const AssembleOptions& options) {
  AssemblyOptions wish{.cpu = options.cpu, .folder = {}, .root = {}};
  wish.stop = [] { return ending(); };
  wish.lines = !options.listing.empty() || !options.symbols.empty();
  if (options.source != "-") return assemble_file(options.source, wish);
  // A little more than the assembler takes: it refuses the rest.
  constexpr std::size_t kMost = std::size_t{5} << 20;
  std::string text, part(std::size_t{1} << 16, '\0');
  while (std::cin && text.size() < kMost) {
    std::cin.read(part.data(), static_cast<std::streamsize>(part.size()));
    text.append(part, 0, static_cast<std::size_t>(std::cin.gcount()));
  }
  wish.folder = ".";
  return assemble(text, "standard input", wish);
}

Exit run_assembler(const AssembleOptions& options, Output& out) {
  if (options.source.empty()) {
    throw Trouble(Exit::usage, "`assemble` needs a source", "", "", "`prewire assemble --help` explains all");
  }
  ImageFormat format = ImageFormat::s_record;
  if (!options.output.empty()) {
    format = output_format(options.output, options.format);
  } else if (!options.format.empty()) {
    throw Trouble(Exit::usage, "--format goes with an image", "-o FILE", "none");
  }
  // Files of one name are told apart first, when they are to be written.
  const auto plain = [](const std::string& name) { return std::filesystem::path(name).lexically_normal(); };
  if (plain(options.listing) != plain(options.output)) {
    refuse_other_kind("--listing", options.listing, {".lst", ".txt"});
  }
  if (plain(options.symbols) != plain(options.output) && plain(options.symbols) != plain(options.listing)) {
    refuse_other_kind("--symbols", options.symbols, {".sym", ".json"});
  }
  const Image image = assemble_source(options);
  bool refused = false;
  for (const Fault& remark : image.remarks) {
    message(to_string(remark));
    refused = refused || (options.strict && remark.weight == Weight::warn);
  }
  if (refused) {
    throw Trouble(Exit::input, "nothing is written", "no fault of weight warn", "", "they count because of --strict");
  }

  OutputFiles files;
  std::string shown;
  const auto write = [&](const char* option, const std::string& file, const std::string& text, std::string_view mark) {
    if (file == "-") {
      shown += text;
      return;
    }
    protect(option, file, image.source->files, "the source");
    files.add(option, file, text, mark);
  };
  if (!options.output.empty()) write("--output", options.output, write_image(image, format), "");
  if (!options.listing.empty()) write("--listing", options.listing, listing(image), kListingMark);
  if (!options.symbols.empty()) write("--symbols", options.symbols, symbol_file(image), kSymbolMark);
  if (shown.empty()) {
    out.print(assembly_summary(image.source->files.front(), image));
  } else {
    out.write(shown);
  }
  out.flush();
  files.finish();
  return Exit::ok;
}

}  // namespace

Command add_assemble(CLI::App& program) {
  CLI::App* app = add_command(program, "assemble", kAssemblePurpose, kAssembleExamples);
  const auto options = std::make_shared<AssembleOptions>();
  app->add_option("SOURCE", options->source,
                  "source file, - for standard input;\ndocs/assembler.md describes the language")
      ->type_name("");
  app->add_option("--cpu", options->cpu,
                  fmt::format("processor, if the source does not name it:\n{};\n6809 means mc6809",
                              fmt::join(assembler_cpus(), ", ")))
      ->type_name("PART");
  app->add_flag("--strict", options->strict, "write nothing if there is a fault of weight warn");
  app->option_defaults()->group("Output, - for standard output");
  app->add_option("-o,--output", options->output, "image, in the format that its name tells")->type_name("FILE");
  app->add_option("--format", options->format, "s-record, intel-hex, binary or key-in, whatever the name")
      ->type_name("FORMAT");
  app->add_option("--listing", options->listing, "addresses, bytes, cycles, source, names, memory")->type_name("FILE");
  app->add_option("--symbols", options->symbols, "names and lines, as JSON for other tools")->type_name("FILE");
  return {app, [options](Output& out, const Limits&) { return run_assembler(*options, out); }};
}

}  // namespace prewire::front::cli
