// Motorola S-records, as in srec_motorola(5).
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "image/readers.h"

namespace prewire {

namespace {

constexpr std::array<std::size_t, 10> kAddressBytes = {2, 2, 3, 4, 0, 2, 3, 4, 3, 2};  // of S0 to S9; S4 is reserved

class SRecordReader {
 public:
  explicit SRecordReader(Reading& reading) : reading_(reading) {}

  void read() {
    while (!ended_) {
      const auto line = reading_.next_line();
      if (!line) break;
      read(*line);
    }
    check_end(reading_, ended_, "S7, S8 or S9");
  }

 private:
  void read(const Line& line) {
    if (!check_mark(reading_, line, "Ss", "an S-record")) return;
    const std::string_view digit = line.text.substr(1, 1);
    if (digit.empty() || digit[0] < '0' || digit[0] > '9' || digit[0] == '4') {
      reading_.add({.id = "record-type",
                    .weight = Weight::stop,
                    .place = reading_.at(line, 1),
                    .what = "there is no such record type",
                    .expected = "S0 to S3 or S5 to S9 (S4 is reserved)",
                    .found = quote(line.text.substr(0, 2)),
                    .hint = "correct the digit after the S"});
      return;
    }

    const int type = digit[0] - '0';
    const std::size_t width = kAddressBytes[static_cast<std::size_t>(type)];
    const bool is_data = type >= 1 && type <= 3;
    const bool is_end = type >= 7;
    // A damaged record still counts as what its type says, so that one mistake gives one fault. An end record with
    // data is more likely a data record with a wrong type.
    if (is_data) {
      ++data_records_;
      widest_ = std::max(widest_, width);
    }
    ended_ = is_end && line.text.size() <= 2 * width + 6;

    const auto record = read_record(reading_, line, {.prefix = 2, .uncounted = 1, .least = width + 2, .total = 0xFF});
    if (!record) return;
    ended_ = is_end;
    const std::span<const std::uint8_t> fields = std::span(*record).subspan(1);
    const std::uint32_t address = big_endian(fields.first(width));
    const std::span<const std::uint8_t> data = fields.subspan(width);
    if (type == 0) {
      set_header(data);
    } else if (is_data) {
      reading_.add_data(line, kAddressAt, address, data, std::uint64_t{1} << (8 * width));
    } else if (!data.empty()) {
      reading_.add({.id = "record-data",
                    .weight = Weight::stop,
                    .place = reading_.at(line, 2),
                    .what = fmt::format("an S{} record holds no data", type),
                    .expected = fmt::format("record length ${:02X}", width + 1),
                    .found = fmt::format("${:02X}", record->front()),
                    .hint = "correct the record type"});
    } else if (is_end) {
      set_entry(line, type, width, address);
    } else if (address != data_records_) {
      reading_.add({.id = "record-count",
                    .weight = Weight::stop,
                    .place = reading_.at(line, kAddressAt),
                    .what = fmt::format("the count in the S{} record disagrees with the lines before it", type),
                    .expected = fmt::format("a count of {}", data_records_),
                    .found = fmt::format("{}", address),
                    .hint = "a line was lost or added; get the file again from where it came"});
    }
  }

  void set_header(std::span<const std::uint8_t> text) {
    if (!reading_.image().header.empty()) return;
    for (const std::uint8_t c : text) {
      reading_.image().header += c >= ' ' && c <= '~' ? static_cast<char>(c) : '.';
    }
  }

  void set_entry(const Line& line, int type, std::size_t width, std::uint32_t address) {
    reading_.image().entry = address;
    if (widest_ == 0 || widest_ == width) return;
    reading_.add({.id = "entry-type",
                  .weight = Weight::hint,
                  .place = reading_.at(line, 0),
                  .what = fmt::format("S{} does not belong to S{} records", type, widest_ - 1),
                  .expected = fmt::format("S{}", 11 - widest_),
                  .found = fmt::format("S{}", type),
                  .hint = fmt::format("check that the program starts at ${:04X}", address)});
  }

  static constexpr std::size_t kAddressAt = 4;  // after mark, type and length

  Reading& reading_;
  std::uint32_t data_records_ = 0;
  std::size_t widest_ = 0;  // address bytes of the widest data record
  bool ended_ = false;
};

}  // namespace

void read_s_record(Reading& reading) { SRecordReader(reading).read(); }

}  // namespace prewire
