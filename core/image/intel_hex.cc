// Intel HEX, as in srec_intel(5).
#include <fmt/format.h>

#include <array>
#include <utility>

#include "image/readers.h"

namespace prewire {

namespace {

enum Type : std::uint8_t {
  kData,
  kEndOfFile,
  kExtendedSegmentAddress,
  kStartSegmentAddress,
  kExtendedLinearAddress,
  kStartLinearAddress,
};

struct Kind {
  std::string_view name;
  std::size_t data_bytes;  // unused for kData, which holds any number
};

constexpr std::array<Kind, 6> kKinds = {{{"a data record", 0},
                                         {"an end of file record", 0},
                                         {"an extended segment address record", 2},
                                         {"a start segment address record", 4},
                                         {"an extended linear address record", 2},
                                         {"a start linear address record", 4}}};

class IntelHexReader {
 public:
  explicit IntelHexReader(Reading& reading) : reading_(reading) {}

  void read() {
    while (!ended_) {
      const auto line = reading_.next_line();
      if (!line) break;
      read(*line);
    }
    check_end(reading_, ended_, ":00000001FF");
    check_entry_type();
  }

 private:
  void read(const Line& line) {
    if (!check_mark(reading_, line, ":", "an Intel HEX record")) return;
    // A damaged end record still ends the file, so that one mistake gives one fault. One with data is more likely a
    // data record with a wrong type.
    ended_ = line.text.size() >= kTypeAt && line.text.size() <= kTypeAt + 4 && line.text.substr(kTypeAt, 2) == "01";

    const auto record = read_record(reading_, line, {.prefix = 1, .uncounted = 5, .least = 5, .total = 0x00});
    if (!record) return;
    const std::span<const std::uint8_t> bytes(*record);
    const std::uint8_t type = bytes[3];
    ended_ = type == kEndOfFile;
    if (type >= kKinds.size()) {
      reading_.add({.id = "record-type",
                    .weight = Weight::stop,
                    .place = reading_.at(line, kTypeAt),
                    .what = "there is no such record type",
                    .expected = "00 to 05",
                    .found = fmt::format("{:02X}", type),
                    .hint = "correct the two digits after the address"});
      return;
    }
    const std::span<const std::uint8_t> data = bytes.subspan(4);
    if (const Kind& kind = kKinds[type]; type != kData && data.size() != kind.data_bytes) {
      reading_.add({.id = "record-data",
                    .weight = Weight::stop,
                    .place = reading_.at(line, 1),
                    .what = fmt::format("{} ({:02X}) holds {} data bytes", kind.name, type, kind.data_bytes),
                    .expected = fmt::format("record length ${:02X}", kind.data_bytes),
                    .found = fmt::format("${:02X}", bytes[0]),
                    .hint = "correct the record type"});
      return;
    }
    apply(line, Type{type}, big_endian(bytes.subspan(1, 2)), data);
  }

  void apply(const Line& line, Type type, std::uint32_t offset, std::span<const std::uint8_t> data) {
    switch (type) {
      case kData:
        reading_.add_data(line, kAddressAt, std::uint64_t{base_} + offset, data,
                          linear_ ? kAddressEnd : std::uint64_t{base_} + 0x10000);
        break;
      case kEndOfFile:
        // Early 8-bit files keep the start address here.
        if (offset != 0) set_entry(line, type, offset);
        break;
      case kExtendedSegmentAddress:
      case kExtendedLinearAddress:
        linear_ = type == kExtendedLinearAddress;
        base_ = big_endian(data) << (linear_ ? 16 : 4);
        (linear_ ? linear_used_ : segments_used_) = true;
        break;
      case kStartSegmentAddress:
        set_entry(line, type, (big_endian(data.first(2)) << 4) + big_endian(data.subspan(2)));
        break;
      case kStartLinearAddress: set_entry(line, type, big_endian(data)); break;
    }
  }

  void set_entry(const Line& line, Type type, std::uint32_t address) {
    std::optional<std::uint32_t>& entry = reading_.image().entry;
    if (!entry) {
      entry = address;
      entry_type_ = type;
      entry_place_ = reading_.at(line, kTypeAt);
    } else if (*entry != address) {
      reading_.add({.id = "entry-repeat",
                    .weight = Weight::warn,
                    .place = reading_.at(line, kTypeAt),
                    .what = "a second start address is not used",
                    .expected = fmt::format("${:04X}, as in line {}", *entry, entry_place_.line),
                    .found = fmt::format("${:04X}", address),
                    .hint = "remove one of the two records"});
    }
  }

  // Start records may come before the address records, so this has to wait for the end.
  void check_entry_type() {
    const bool unclear = linear_used_ == segments_used_;  // both or neither
    const Type fitting = linear_used_ ? kStartLinearAddress : kStartSegmentAddress;
    if (unclear || !reading_.image().entry || entry_type_ == kEndOfFile || entry_type_ == fitting) return;
    reading_.add({.id = "entry-type",
                  .weight = Weight::hint,
                  .place = entry_place_,
                  .what = fmt::format("{} does not belong to {} addresses", kKinds[entry_type_].name,
                                      linear_used_ ? "linear" : "segment"),
                  .expected = fmt::format("{:02X}", static_cast<unsigned>(fitting)),
                  .found = fmt::format("{:02X}", static_cast<unsigned>(entry_type_)),
                  .hint = fmt::format("check that the program starts at ${:04X}", *reading_.image().entry)});
  }

  static constexpr std::size_t kAddressAt = 3;  // after mark and length
  static constexpr std::size_t kTypeAt = 7;

  Reading& reading_;
  std::uint32_t base_ = 0;  // of the segment or of the linear address in force
  bool linear_ = false;     // a record does not have to end with its 64 KiB
  bool linear_used_ = false;
  bool segments_used_ = false;
  Type entry_type_ = kEndOfFile;
  Place entry_place_;
  bool ended_ = false;
};

}  // namespace

void read_intel_hex(Reading& reading) { IntelHexReader(reading).read(); }

}  // namespace prewire
