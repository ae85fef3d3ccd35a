// State, saved and loaded.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <type_traits>
#include <vector>

namespace prewire {

/// Reads or writes the state of a chip, in the order of the calls.
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

  /// Types with padding are refused: their bytes would not be the same from run to run.
  template <class T>
  requires std::has_unique_object_representations_v<T>
  void operator()(T& value) { bytes(&value, sizeof value); }

  /// Saves or loads `size` bytes. A load beyond the end is a broken contract.
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

  std::vector<std::uint8_t>* out_ = nullptr;
  std::uint8_t* to_ = nullptr;
  const std::uint8_t* from_ = nullptr;
  std::size_t room_ = 0;  // bytes behind it
};

}  // namespace prewire
