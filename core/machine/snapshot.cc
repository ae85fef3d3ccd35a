#include "prewire/snapshot.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>

#include "machine/hash.h"

namespace prewire {

namespace {

// A byte that is no text, a name, and line ends that a transfer as text would change (as in PNG, ISO/IEC 15948, 5.2).
constexpr std::array<std::uint8_t, 12> kSign{0x89, 'P', 'R', 'E', 'W', 'I', 'R', 'E', '\r', '\n', 0x1A, '\n'};
constexpr std::uint32_t kForm = 1;
constexpr std::uint32_t kByteOrder = 0x01020304;

/// What comes before the state, as this computer writes numbers: the state itself is no different.
struct Header {
  std::array<std::uint8_t, 12> mark = kSign;
  std::uint32_t order = kByteOrder;
  std::uint64_t version = kForm;
  std::uint64_t length = 0;  // of the state
  std::uint64_t sum = 0;     // of the header but for this, and the state
};
static_assert(sizeof(Header) == 40 && std::has_unique_object_representations_v<Header>);

std::uint64_t sum_of(const Header& header, std::span<const std::uint8_t> state) {
  Hash hash;
  hash.add({reinterpret_cast<const std::uint8_t*>(&header), offsetof(Header, sum)});
  hash.add(state);
  return hash.value();
}

[[noreturn]] void refuse_bytes(std::string_view name, std::string what, std::string expected, std::string found,
                               std::string hint) {
  throw InputError(Fault{.id = "bad-snapshot",
                         .place = {.file = std::string(name)},
                         .what = std::move(what),
                         .expected = std::move(expected),
                         .found = std::move(found),
                         .hint = std::move(hint)});
}

}  // namespace

std::vector<std::uint8_t> Snapshot::to_bytes() const {
  Header header;
  header.length = bytes_.size();
  header.sum = sum_of(header, bytes_);
  std::vector<std::uint8_t> bytes(sizeof header + bytes_.size());
  std::memcpy(bytes.data(), &header, sizeof header);
  std::copy(bytes_.begin(), bytes_.end(), bytes.begin() + sizeof header);
  return bytes;
}

Snapshot Snapshot::from_bytes(std::span<const std::uint8_t> bytes, std::string_view name) {
  const std::string again = "save the state anew; it may have been cut short or changed on its way";
  Header header;
  if (bytes.size() < sizeof header || !std::equal(kSign.begin(), kSign.end(), bytes.begin())) {
    refuse_bytes(name, "this is no saved state",
                 fmt::format("{} bytes or more, the first of which say what they are", sizeof header),
                 bytes.size() < sizeof header ? counted(bytes.size(), "byte") : "others",
                 "only bytes that a machine's saved state was made into can be loaded");
  }
  std::memcpy(&header, bytes.data(), sizeof header);
  if (header.order != kByteOrder) {
    refuse_bytes(name, "this saved state comes from another kind of computer", "one with the same order of bytes",
                 "another", "save the state anew on this one");
  }
  if (header.version != kForm) {
    refuse_bytes(name, "this saved state has a form that is not known here", fmt::format("version {}", kForm),
                 fmt::format("version {}", header.version), "save the state anew with this version of the library");
  }
  const std::span<const std::uint8_t> state = bytes.subspan(sizeof header);
  if (header.length != state.size()) {
    refuse_bytes(name, "this saved state is not as long as it says", counted(header.length, "byte"),
                 counted(state.size(), "byte"), again);
  }
  if (header.sum != sum_of(header, state)) {
    refuse_bytes(name, "this saved state has been changed: its sum is wrong", fmt::format("{:016x}", header.sum),
                 fmt::format("{:016x}", sum_of(header, state)), again);
  }
  Snapshot snapshot;
  snapshot.bytes_.assign(state.begin(), state.end());
  return snapshot;
}

}  // namespace prewire
