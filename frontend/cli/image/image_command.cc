// `prewire image`: program images converted, joined, split, summed and compared.
#include <fmt/format.h>

#include <array>
#include <memory>
#include <utility>

#include "cli/commands.h"
#include "image_files.h"
#include "image_options.h"
#include "image_report.h"
#include "output_files.h"
#include "prewire/text.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kImagePurpose =
    "Converts, joins, splits and compares program images, and tells what is in them.\n"
    "\n"
    "Tasks:\n"
    "  info FILE...            addresses, start address, sums\n"
    "  convert FILE -o FILE    another format, other addresses, the contents of a chip\n"
    "  join FILE FILE... -o FILE\n"
    "                          one image of several\n"
    "  split FILE -o FILE -o FILE\n"
    "                          for two chips side by side\n"
    "  compare FILE FILE       where they differ; then the status is 5";
constexpr const char* kImageExamples =
    "  prewire image info gauge.s19\n"
    "  prewire image convert gauge.s19 --chip 2716 -o rom.bin\n"
    "  prewire image convert dump.bin@0xF800 --crop 0xF800-0xF877 -o gauge.hex\n"
    "  prewire image join gauge.s19 tables.hex -o all.s19\n"
    "  prewire image split mast.s19 --even-odd --chip 2716 -o even.bin -o odd.bin\n"
    "  prewire image compare gauge.s19 dump.bin@0xF800 --chip 2716 --cpu mc6800";

constexpr const char* kImageExitHelp =
    "Exit status:\n"
    "  0  all is well           3  bad input, or a place that cannot be written to\n"
    "  1  internal error        5  `compare` finds a difference\n"
    "  2  bad usage";

/// Writes images, all or none, and tells what is where.
class Writer {
 public:
  explicit Writer(const ImageOptions& options) : options_(options) {
    for (const std::string& argument : options.files) read_.push_back(file_of(argument));
  }

  /// `what` is empty, or what the image is, such as "even addresses, ".
  void write(const std::string& file, const NamedImage& named, const std::string& what = {}) {
    const ImageFormat format = output_format(file, options_.format);
    // Raw bytes have no gaps; erased cells of an EPROM read as $FF.
    const std::string text =
        write_image(format == ImageFormat::binary ? fill(named.image, 0xFF, named.name) : named.image, format);
    if (file == "-") {
      shown_ += text;
      return;
    }
    protect("--output", file, read_, "an image that it is made of");
    files_.add("--output", file, text);
    told_ += fmt::format("{}: {}{}\n", printable(file), what, describe(named.image));
  }

  void finish(Output& out) {
    if (shown_.empty()) {
      out.print(told_);
    } else {
      out.write(shown_);
    }
    out.flush();
    files_.finish();
  }

 private:
  const ImageOptions& options_;
  std::vector<std::string> read_;
  OutputFiles files_;
  std::string shown_, told_;
};

Exit run_split(const ImageOptions& options, const ImageChanges& changes, Output& out) {
  const NamedImage whole = change(read_named(options.files[0]), changes);
  std::array<Image, 2> halves = options.even_odd ? split_even_odd(whole.image) : split_nibbles(whole.image);
  const std::array<const char*, 2> names =
      options.even_odd ? std::array{"even addresses", "odd addresses"} : std::array{"D0-D3", "D4-D7"};
  Writer writer(options);
  for (std::size_t half = 0; half < halves.size(); ++half) {
    const std::string name = fmt::format("{}, {}", whole.name, names[half]);
    if (halves[half].segments.empty()) {
      throw Trouble(Exit::input, fmt::format("{} has no byte at {}", whole.name, names[half]), "one at least",
                    describe(whole.image), "--pad gives it more");
    }
    const NamedImage chip = put_in_chip({name, std::move(halves[half])}, changes);
    writer.write(options.outputs[half], chip, fmt::format("{}, ", names[half]));
  }
  writer.finish(out);
  return Exit::ok;
}

Exit run_image(const ImageOptions& options, Output& out) {
  check_task(options);
  const ImageChanges changes = parse_changes(options);
  for (const std::string& file : options.outputs) output_format(file, options.format);
  if (options.task == "split") return run_split(options, changes, out);

  std::vector<NamedImage> images;
  for (const std::string& file : options.files) images.push_back(read_named(file));
  if (options.task == "join") {
    Image whole = join(images, options.replace ? Clash::replace : Clash::fault);
    for (const Fault& remark : whole.remarks) message(to_string(remark));
    images = {{fmt::format("{}", fmt::join(options.files, " + ")), std::move(whole)}};
  }
  for (NamedImage& each : images) each = put_in_chip(change(std::move(each), changes), changes);

  if (options.task == "info") {
    if (options.json) {
      out.print(info_json(images));
      return Exit::ok;
    }
    for (const NamedImage& each : images) out.print(info_text(each, options.all));
    return Exit::ok;
  }
  if (options.task == "compare") {
    const Comparison comparison = compare_images(images[0], images[1], options.cpu);
    out.print(options.json ? comparison_json(comparison, options.all) : comparison_text(comparison, options.all));
    return comparison.alike() ? Exit::ok : Exit::expectation;
  }
  Writer writer(options);
  for (const std::string& file : options.outputs) writer.write(file, images[0]);
  writer.finish(out);
  return Exit::ok;
}

}  // namespace

Command add_image(CLI::App& program) {
  CLI::App* app = add_command(program, "image", kImagePurpose, kImageExamples);
  app->footer(kImageExitHelp);
  const auto options = std::make_shared<ImageOptions>();
  app->add_option("TASK", options->task, "info, convert, join, split or compare")->type_name("");
  app->add_option("FILE", options->files,
                  "S-records, Intel HEX or key-in listings, whatever their names;\n"
                  ".bin is raw from address 0, FILE@ADDRESS raw from there")
      ->type_name("");
  app->option_defaults()->group("Changes, done in this order");
  app->add_option("--crop", options->crop, "keep what lies there")->type_name("RANGE");
  app->add_option("--move", options->move, "all addresses up or down, such as -0xF800")->type_name("DISTANCE");
  app->add_option("--pad", options->pad, "fill up to exactly these addresses")->type_name("RANGE");
  app->add_option("--fill", options->fill, "fill gaps; also what --pad and --chip put, else 0xFF")->type_name("BYTE");
  app->add_option(
         "--chip", options->chip,
         fmt::format("fill up to the contents of a ROM, after `split` each half:\n{}", fmt::join(rom_types(), ", ")))
      ->type_name("TYPE");
  app->option_defaults()->group("Join and split");
  app->add_flag("--replace", options->replace, "where files clash the later one counts");
  app->add_flag("--even-odd", options->even_odd, "even addresses to the first -o, odd ones to the second");
  app->add_flag("--nibbles", options->nibbles, "D0-D3 to the first -o, D4-D7 to the second");
  app->option_defaults()->group("Compare");
  app->add_option("--cpu", options->cpu, "compare the instructions, too")->type_name("PART");
  app->option_defaults()->group("Compare and info");
  app->add_flag("--all", options->all, "all lines of a list, not only the first 64");
  app->add_flag("--json", options->json, "print one JSON document");
  app->option_defaults()->group("Output, - for standard output");
  app->add_option("-o,--output", options->outputs, "image, in the format that its name tells; may be repeated")
      ->type_name("FILE")
      ->allow_extra_args(false);
  app->add_option("--format", options->format, "s-record, intel-hex, binary or key-in, whatever the name")
      ->type_name("FORMAT");
  return {app, [options](Output& out, const Limits&) { return run_image(*options, out); }};
}

}  // namespace prewire::front::cli
