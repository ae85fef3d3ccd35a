// From an image to the program that is in it: what the caller says, where the code begins.
#include "prewire/disassembler.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <memory>
#include <utility>

#include "asm/cursor.h"
#include "asm/expression.h"
#include "asm/faults.h"
#include "asm/follow.h"
#include "asm/line.h"
#include "asm/naming.h"
#include "asm/read_lines.h"
#include "asm/vectors.h"

namespace prewire {

namespace {

using namespace assembler;
using Cell = Follower::Cell;

constexpr std::uint32_t kEnd = 0x10000;
constexpr std::size_t kLongestName = 100;

Fault fault(const char* id, const std::string& name, std::string what, std::string expected, std::string found,
            std::string hint = {}) {
  return {.id = id,
          .weight = Weight::stop,
          .place = {.file = name},
          .what = std::move(what),
          .expected = std::move(expected),
          .found = std::move(found),
          .hint = std::move(hint)};
}

std::string shown(std::uint32_t address) { return fmt::format("${:04X}", address); }

class Disassembler {
 public:
  Disassembler(const Image& image, const DisassemblerOptions& options)
      : image_(image),
        options_(options),
        reading_(reading_of(options)),
        code_(std::make_unique<Follower>(reading_)),
        written_(*code_, options.range) {}

  DisassembledProgram run() {
    load();
    check();
    follow();
    if (!faults_.empty()) throw InputError(std::move(faults_));
    const Naming names(*code_, written_, options_.names, vector_names_);
    DisassembledProgram p;
    p.cpu = options_.cpu;
    p.direct_page = options_.direct_page;
    if (is_title(image_.header)) p.title = image_.header;
    if (image_.entry.value_or(0) != 0 && *image_.entry < kEnd) p.entry = static_cast<std::uint16_t>(*image_.entry);
    p.outside = names.outside();
    p.lines = LineReader(reading_, *code_, written_, names).read();
    for (const auto& [address, why] : code_->losses()) p.losses.push_back({address, why});
    return p;
  }

 private:
  static Reading reading_of(const DisassemblerOptions& options) {
    const Target* target = Target::find(options.cpu);
    if (target == nullptr) {
      const std::vector<std::string> parts = part_names();
      throw InputError(fault("disassembly-cpu", options.name, "there is no such processor",
                             fmt::format("{}", fmt::join(parts, ", ")), options.cpu.empty() ? "none" : options.cpu,
                             meant(did_you_mean(options.cpu, parts))));
    }
    return {options.cpu, target, options.direct_page};
  }

  static bool is_title(std::string_view header) {
    const auto plain = [](char c) { return c > ' ' && c <= '~' && c != ';'; };
    return !header.empty() && header.size() <= kLongestName && std::all_of(header.begin(), header.end(), plain);
  }

  bool mc6809() const { return reading_.target->family() == Target::Family::mc6809; }

  // What is given -----------------------------------------------------------------------------------------------------

  void load() {
    for (const Segment& segment : image_.segments) {
      if (segment.end() > kEnd) {
        throw InputError(fault("disassembly-past-end", options_.name,
                               "the image has bytes that the processor cannot reach", "$0000 to $FFFF",
                               fmt::format("${:04X}-${:04X}", segment.start, segment.end() - 1),
                               "a raw image may need another address for its first byte"));
      }
      for (std::size_t i = 0; i < segment.bytes.size(); ++i) {
        code_->put(static_cast<std::uint16_t>(segment.start + i), segment.bytes[i]);
      }
    }
    if (image_.segments.empty()) {
      throw InputError(fault("disassembly-empty", options_.name, "the image has no bytes", "at least one", "none"));
    }
  }

  std::string held() const {
    std::vector<std::string> ranges;
    for (const Segment& segment : image_.segments) {
      if (ranges.size() == 4) {
        ranges.push_back(fmt::format("{} more", image_.segments.size() - 4));
        break;
      }
      ranges.push_back(fmt::format("${:04X}-${:04X}", segment.start, segment.end() - 1));
    }
    return list_of(ranges, "or");
  }

  void check() {
    if (options_.direct_page != 0 && !mc6809()) {
      faults_.push_back(fault("disassembly-direct-page", options_.name, "the MC6800 has no direct page register", "$00",
                              fmt::format("${:02X}", options_.direct_page)));
    }
    for (const AddressName& name : options_.names) {
      const bool good = is_name(name.name) && name.name.front() != '.' && !is_register(upper(name.name)) &&
                        name.name.size() <= kLongestName;
      if (good) continue;
      faults_.push_back(fault("disassembly-name", options_.name,
                              fmt::format("{} cannot get this name", shown(name.address)),
                              "a letter or '_', then letters, digits, '_' and '.', and no register", name.name));
    }
    for (const AddressRange& table : options_.tables) {
      if (table.size() < 2 || table.size() % 2 != 0 || !all_present(table)) {
        faults_.push_back(fault("disassembly-table", options_.name, "this is no table of addresses",
                                "a range of the image with two bytes for each address", to_string(table),
                                fmt::format("the image has {}", held())));
      }
    }
    if (options_.range && !any_written()) {
      faults_.push_back(
          fault("disassembly-range", options_.name, "the image has nothing there", held(), to_string(*options_.range)));
    }
  }

  bool all_present(const AddressRange& range) const {
    if (range.last >= kEnd) return false;
    for (std::uint32_t at = range.first; at <= range.last; ++at) {
      if (!code_->present(at)) return false;
    }
    return true;
  }
  bool any_written() const {
    for (std::uint32_t at = options_.range->first; at <= std::min(options_.range->last, kEnd - 1); ++at) {
      if (written_.holds(at)) return true;
    }
    return false;
  }

  // Where it begins ---------------------------------------------------------------------------------------------------

  void follow() {
    // All of them are words before the first is followed: code does not run through them.
    for (const Vector& vector : kVectors) {
      if (has_vector(reading_.target->family(), vector)) code_->take_word(vector.address);
    }
    for (auto vector = std::rbegin(kVectors); vector != std::rend(kVectors); ++vector) {
      if (vector->name.empty() || !has_vector(reading_.target->family(), *vector)) continue;
      const std::uint16_t target = code_->word(vector->address);
      if (!code_->list(vector->address, kListed)) continue;
      std::string& name = vector_names_[target];
      name = fmt::format("on_{}{}{}", lower(vector->name), name.empty() ? "" : "_", name.empty() ? "" : name.substr(3));
    }
    for (const std::uint16_t entry : options_.entries) {
      if (code_->present(entry) && code_->cell(entry) == Cell::data) {
        code_->enter(entry, kEntry);
      } else {
        const bool vector = code_->present(entry);
        faults_.push_back(fault("disassembly-entry", options_.name,
                                vector ? "no code begins among the vectors" : "no code begins outside the image",
                                vector ? fmt::format("an address below ${:04X}", mc6809() ? 0xFFF0 : 0xFFF8) : held(),
                                shown(entry)));
      }
    }
    if (image_.entry.value_or(0) != 0 && code_->present(*image_.entry) &&
        code_->cell(static_cast<std::uint16_t>(*image_.entry)) == Cell::data) {
      code_->enter(static_cast<std::uint16_t>(*image_.entry), kEntry);
    }
    // A program in RAM is started by its first address.
    const auto first = static_cast<std::uint16_t>(image_.segments.empty() ? 0 : image_.segments.front().start);
    if (code_->uses().empty() && code_->cell(first) == Cell::data) code_->enter(first, kEntry);
    for (const AddressRange& table : options_.tables) {
      for (std::uint32_t at = table.first; at < table.last; at += 2)
        code_->list(static_cast<std::uint16_t>(at), kListed);
    }
    code_->run();
  }

  const Image& image_;
  const DisassemblerOptions& options_;
  const Reading reading_;
  std::unique_ptr<Follower> code_;
  const Written written_;
  std::vector<Fault> faults_;
  std::map<std::uint16_t, std::string> vector_names_;  // by target
};

}  // namespace

std::size_t DisassembledProgram::size(LineKind kind) const {
  std::size_t sum = 0;
  for (const Line& line : lines) sum += line.kind == kind ? line.bytes.size() : 0;
  return sum;
}

DisassembledProgram disassemble_program(const Image& image, const DisassemblerOptions& options) {
  return Disassembler(image, options).run();
}

}  // namespace prewire
