#include "description/programs.h"

#include <fmt/format.h>

#include <algorithm>
#include <bitset>
#include <map>
#include <utility>

#include "asm/confined.h"
#include "description/address_map.h"
#include "prewire/assembler.h"
#include "prewire/image.h"
#include "units/text.h"

namespace prewire {

namespace {

namespace fs = std::filesystem;

/// Programs in the language of docs/assembler.md, by their extension.
bool is_source(const fs::path& path) {
  const std::string extension = path.extension().string();
  return extension == ".asm" || extension == ".ASM";
}

/// `; the first of them comes from gauge.asm:57`, or nothing for an image without a source.
std::string line_at(const Image& image, std::uint16_t address) {
  const SourceMap::Line* line = image.source == nullptr ? nullptr : image.source->at(address);
  if (line == nullptr) return "";
  return fmt::format("; the first of them comes from {}:{}", image.source->files[static_cast<std::size_t>(line->file)],
                     line->number);
}

class ProgramReader {
 public:
  ProgramReader(const ProgramPlaces& from, MachineSpec& spec, FaultList& faults)
      : from_(from), spec_(spec), faults_(faults), first_(spec.programs.size()), places_(first_) {}

  void read(const JsonValue& entry) {
    ImageFormat format = ImageFormat::automatic;
    std::uint16_t base = 0;
    std::optional<JsonValue> file = entry;
    if (entry.is(JsonKind::object)) {
      check_keys(entry, "a program image", {"file", "format", "at"}, faults_);
      file = need(entry, "file", "the program image", "the name of a file", faults_);
      if (!read_format(entry, format, base)) return;
    }
    const std::string expected = "the name of a file, or an object with \"file\"";
    if (!file || !check_kind(*file, JsonKind::string, "a program image", expected, faults_)) return;
    if (const auto path = find_file(*file)) load(*file, *path, format, base);
  }

  void check_memory();

 private:
  bool read_format(const JsonValue& entry, ImageFormat& format, std::uint16_t& base) {
    if (const auto name = entry.find("format")) {
      if (!read_setting(*name, image_format_setting(), "", faults_)) return false;
      format = *image_format(name->text());
    }
    const auto at = entry.find("at");
    const bool binary = format == ImageFormat::binary;
    if (at && !binary) {
      faults_.add("bad-image-base", at->key_place(), "only a binary image takes \"at\"",
                  "\"format\": \"binary\" with \"at\"", fmt::format("\"at\": {}", at->shown()),
                  "remove it: the other formats bring their own addresses");
      return false;
    }
    if (binary && !at) {
      faults_.add("bad-image-base", entry.place(), "a binary image needs the address of its first byte",
                  "\"at\": \"$F000\"", "", "add \"at\"");
      return false;
    }
    if (!at) return true;
    const auto address = read_address(*at, "\"at\" of the program image", faults_);
    base = address.value_or(0);
    return address.has_value();
  }

  /// The path to open, if it may be opened.
  std::optional<fs::path> find_file(const JsonValue& file) {
    const std::string& name = file.text();
    const auto refuse = [&](std::string what, std::string expected, std::string hint) {
      faults_.add("image-place", file.place(), std::move(what), std::move(expected), in_quotes(name), std::move(hint));
      return std::nullopt;
    };
    const ProgramPlaces::Folder& from = folder_of_program(name);
    if (from.folder.empty()) {
      return refuse("no files can be read for this description", "no \"program\"",
                    "a description that comes as text has no folder: name a root");
    }
    const fs::path path = (from.folder / name).lexically_normal();
    Refusal refusal = refuse_path(path, from.root, "the machine file");
    if (!refusal.what.empty()) {
      return refuse(std::move(refusal.what), std::move(refusal.expected), std::move(refusal.hint));
    }
    return path;
  }

  void load(const JsonValue& file, const fs::path& path, ImageFormat format, std::uint16_t base) {
    ProgramSpec program{file.text(), {}};
    try {
      if (format == ImageFormat::automatic && is_source(path)) {
        if (spec_.cpu == nullptr) return;  // reported; every instruction would be unknown
        program.image = assemble_file(path, {.cpu = spec_.cpu->chip.name,
                                             .folder = {},
                                             .root = folder_of_program(file.text()).root,
                                             .stop = from_.stop});
      } else {
        program.image = read_image_file(path, format, base);
      }
    } catch (const InputError& error) {
      for (Fault fault : error.faults()) {
        if (fault.id == "image-format") {
          fault.hint = fmt::format(R"(of raw bytes write {{"file": {}, "format": "binary", "at": "$F000"}})",
                                   in_quotes(file.text()));
        }
        // What concerns the file as a whole belongs to the line that names it.
        if (fault.place.line == 0) {
          fault.found = fmt::format("{}{}{}", in_quotes(file.text()), fault.found.empty() ? "" : ": ", fault.found);
          fault.place = file.place();
        }
        faults_.add(std::move(fault));
      }
      return;
    }
    for (const Fault& remark : program.image.remarks) {
      // Whether this board has its vectors is checked with all its images.
      if (remark.id != "asm-no-vector") faults_.add(remark);
    }
    spec_.programs.push_back(std::move(program));
    places_.push_back(file.place());
  }

  const ProgramPlaces::Folder& folder_of_program(const std::string& name) const {
    const bool given = std::find(from_.names.begin(), from_.names.end(), name) != from_.names.end();
    return given ? from_.given : from_.usual;
  }

  const ProgramPlaces& from_;
  MachineSpec& spec_;
  FaultList& faults_;
  const std::size_t first_;    // those before belong to boards
  std::vector<Place> places_;  // of each of `spec_.programs`
};

void ProgramReader::check_memory() {
  for (const ChipSpec& chip : spec_.chips) {
    if (chip.type == nullptr || (chip.type->bus && chip.bus.required && !chip.at && !chip.wired))
      return;  // the map is not known
  }
  std::bitset<65536> memory;
  std::vector<std::string> memories;
  for (const Window& window : windows_of(spec_)) {
    if (!window.memory()) continue;
    memories.push_back(fmt::format("{} {}", window.name, format_range(window.decoded)));
    for (std::uint32_t at = window.decoded.first; at <= window.decoded.last; ++at) memory.set(at);
  }

  struct Byte {
    std::size_t program;
    std::uint8_t value;
  };
  std::map<std::uint32_t, Byte> loaded;
  for (std::size_t i = 0; i < spec_.programs.size(); ++i) {
    std::vector<std::string> outside;
    bool overrun = false;  // begins in a memory and goes on behind it
    std::string line;      // of the source, that the first byte outside comes from
    std::optional<std::uint32_t> clash;
    for (const Segment& segment : spec_.programs[i].image.segments) {
      for (std::uint64_t at = segment.start; at < segment.end();) {
        if (at <= 0xFFFF && memory[at]) {
          const std::uint8_t value = segment.bytes[at - segment.start];
          const auto [place, fresh] = loaded.try_emplace(static_cast<std::uint32_t>(at), Byte{i, value});
          if (!clash && !fresh && place->second.value != value) clash = static_cast<std::uint32_t>(at);
          ++at;
          continue;
        }
        const std::uint64_t from = at;
        if (outside.empty() && from <= 0xFFFF)
          line = line_at(spec_.programs[i].image, static_cast<std::uint16_t>(from));
        while (at < segment.end() && (at > 0xFFFF || !memory[at])) ++at;
        overrun = overrun || from > segment.start;
        outside.push_back(from + 1 == at ? fmt::format("${:04X}", from) : fmt::format("${:04X}-${:04X}", from, at - 1));
      }
    }
    const std::string& file = spec_.programs[i].file;
    if (!outside.empty() && i >= first_) {
      constexpr std::size_t kMostShown = 4;
      const std::size_t count = outside.size();
      if (count > kMostShown) {
        outside.resize(kMostShown);
        outside.push_back(fmt::format("{} more", count - kMostShown));
      }
      faults_.add("image-outside-memory", places_[i],
                  fmt::format("{} has bytes where there is no memory", in_quotes(file)),
                  memories.empty() ? "a memory chip" : list_of(memories, "or"), list_of(outside),
                  (overrun ? "the image is larger than the memory that holds its beginning, unless an ORG is missing"
                           : "give the image another address, or put a memory chip there") +
                      line);
    }
    if (clash && i >= first_) {
      const Byte& other = loaded.at(*clash);
      faults_.add("image-clash", places_[i],
                  fmt::format("{} and {} give different bytes for ${:04X}",
                              in_quotes(spec_.programs[other.program].file), in_quotes(file), *clash),
                  "one byte for each address", "two", "leave out one of the images, or move it");
    }
  }
}

}  // namespace

void read_program(const JsonValue& program, const ProgramPlaces& places, MachineSpec& spec, FaultList& faults) {
  if (!check_kind(program, JsonKind::array, "\"program\"", "a list of image files, such as [\"gauge.s19\"]", faults)) {
    return;
  }
  ProgramReader reader(places, spec, faults);
  for (const JsonValue& entry : program.children()) {
    if (faults.full()) return;
    reader.read(entry);
  }
  reader.check_memory();
}

}  // namespace prewire
