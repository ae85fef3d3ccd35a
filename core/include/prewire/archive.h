// State, saved and loaded.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <type_traits>
#include <vector>

namespace prewire {

class Archive;

/// What brings its own way through an archive: a member `archive`, as chips have.
template <class T>
concept Archived = requires(T& value, Archive& archive) {
  value.archive(archive);
};

/// Reads or writes the state of a chip, in the order of the calls.
///
/// A state may come from outside, from a file say, and then hold anything. A load checks what it can: its length, and
/// that each `bool` is one. What else a chip relies on, such as an index that must be within a table, it checks with
/// `within`, `number` and `require`. A check that fails throws `InputError`, and the machine takes up the state again
/// that it had.
class Archive {
 public:
  /// Saves into `out`, from its beginning; it has its size when the archive goes.
  explicit Archive(std::vector<std::uint8_t>& out) : out_(&out), to_(out.data()), room_(out.size()) {}
  explicit Archive(std::span<const std::uint8_t> in) : from_(in.data()), room_(in.size()) {}
  ~Archive() {
    if (out_ != nullptr) out_->resize(out_->size() - room_);
  }
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  bool loading() const { return out_ == nullptr; }

  /// Types with padding are refused: their bytes would not be the same from run to run. A `bool` within a structure is
  /// not checked: give it a member `archive`.
  template <class T>
  requires Archived<T> || std::has_unique_object_representations_v<T>
  void operator()(T& value) {
    if constexpr (Archived<T>) {
      value.archive(*this);
    } else if constexpr (std::is_same_v<T, bool>) {
      std::uint8_t byte = value ? 1 : 0;
      bytes(&byte, 1);
      require(byte <= 1);
      value = byte == 1;
    } else {
      bytes(&value, sizeof value);
    }
  }
  template <class T, std::size_t N>
  requires Archived<T> || std::is_same_v<T, bool>
  void operator()(std::array<T, N>& values) {
    for (T& value : values) (*this)(value);
  }

  /// Refuses what is being loaded unless this holds.
  void require(bool holds) const {
    if (!holds && loading()) [[unlikely]]
      refuse();
  }
  /// A number or an enumerator from `least` to `most`.
  template <class T>
  void within(T& value, std::type_identity_t<T> least, std::type_identity_t<T> most) {
    bytes(&value, sizeof value);
    require(value >= least && value <= most);
  }
  /// Stamps, cycles and counts are not farther from 0 than this, so that sums of a few do not overflow.
  static constexpr std::int64_t kFar = std::int64_t{1} << 60;
  void number(std::int64_t& value) { within(value, -kFar, kFar); }
  /// How many there are of something that takes `size` bytes and comes next: no more than are left.
  void count(std::uint64_t& value, std::size_t size) {
    bytes(&value, sizeof value);
    require(value <= room_ / size);
  }
  /// Of a load: bytes that are left.
  std::size_t left() const { return room_; }

  /// Saves or loads `size` bytes. A load beyond the end is refused.
  void bytes(void* data, std::size_t size) {
    if (size == 0) return;  // an empty vector's data may be null
    if (size > room_) [[unlikely]]
      make_room(size);
    if (loading()) {
      std::memcpy(data, from_, size);
      from_ += size;
    } else {
      std::memcpy(to_, data, size);
      to_ += size;
    }
    room_ -= size;
  }

 private:
  void make_room(std::size_t size);
  [[noreturn]] static void refuse();

  std::vector<std::uint8_t>* out_ = nullptr;
  std::uint8_t* to_ = nullptr;
  const std::uint8_t* from_ = nullptr;
  std::size_t room_ = 0;  // bytes behind it
};

}  // namespace prewire
