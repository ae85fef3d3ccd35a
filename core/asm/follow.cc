#include "asm/follow.h"

#include <fmt/format.h>

#include <algorithm>

namespace prewire::assembler {

namespace {

constexpr std::size_t kLongest = 5;  // bytes of an instruction

}  // namespace

std::span<const std::uint8_t> Follower::code_at(std::uint16_t address) const {
  std::size_t size = 0;
  while (size < kLongest && present(address + static_cast<std::uint32_t>(size))) ++size;
  return bytes(address, size);
}

std::uint16_t Follower::owner(std::uint16_t address) const {
  while (cells_[address] == Cell::rest_of_code || cells_[address] == Cell::rest_of_word) --address;
  return address;
}

void Follower::lose(std::uint16_t address, std::string why) {
  if (losses_.emplace(address, why).second) note(address, std::move(why));
}

bool Follower::is_free_word(std::uint32_t address) const {
  return present(address) && present(address + 1) && cells_[address] == Cell::data && cells_[address + 1] == Cell::data;
}

bool Follower::take_word(std::uint16_t address) {
  if (present(address) && cells_[address] == Cell::word) return true;
  if (!is_free_word(address)) return false;
  cells_[address] = Cell::word;
  cells_[address + 1U] = Cell::rest_of_word;
  return true;
}

bool Follower::list(std::uint16_t address, unsigned use) {
  if (!take_word(address)) return false;
  const std::uint16_t target = word(address);
  const bool code = present(target) && cells_[target] != Cell::word && cells_[target] != Cell::rest_of_word;
  if (code) enter(target, use);
  return code;
}

void Follower::run() {
  while (!ways_.empty()) {
    const std::uint16_t address = ways_.front();
    ways_.pop_front();
    walk(address);
  }
  find_words();
}

void Follower::walk(std::uint16_t address) {
  while (present(address) && !seen_[address]) {
    if (cells_[address] == Cell::word || cells_[address] == Cell::rest_of_word) return;
    seen_.set(address);
    const std::span<const std::uint8_t> code = code_at(address);
    const Step step = read_step(reading_, address, code);
    if (step.row == nullptr) {
      return lose(address, step.cut ? "the image ends within this instruction" : "reached, and no instruction");
    }
    if (!claim(address, step)) {
      note(address, fmt::format("entered here it is {}", step.text));
    }
    take_uses(address, step);
    if (step.lost) lose(address, "only the run decides where this goes");
    if (!step.goes_on) return;
    const auto next = static_cast<std::uint16_t>(address + step.size);
    if (!present(next)) return lose(address, fmt::format("goes on at ${:04X}, outside the image", next));
    if (cells_[next] == Cell::word || cells_[next] == Cell::rest_of_word) {
      return lose(address, fmt::format("goes on at ${:04X}, in a table of addresses", next));
    }
    address = next;
  }
}

bool Follower::claim(std::uint16_t address, const Step& step) {
  for (int i = 0; i < step.size; ++i) {
    if (cells_[address + static_cast<std::size_t>(i)] != Cell::data) return false;
  }
  cells_[address] = Cell::code;
  for (int i = 1; i < step.size; ++i) cells_[address + static_cast<std::size_t>(i)] = Cell::rest_of_code;
  steps_.emplace(address, step);
  return true;
}

void Follower::take_uses(std::uint16_t address, const Step& step) {
  if (step.named) use_[*step.named] |= step.use;
  if (step.target) ways_.push_back(*step.target);
  if (!step.pointer) return;
  if (present(*step.pointer) && take_word(*step.pointer)) {
    list(*step.pointer, step.way);
  } else {
    lose(address, "only the run decides where this goes");
  }
}

/// A word that is read is one; and so are words, at the beginning of data that is used, each of which is the address of
/// a known instruction.
void Follower::find_words() {
  const auto is_code = [&](std::uint32_t at) {
    return is_free_word(at) && cells_[word(static_cast<std::uint16_t>(at))] == Cell::code;
  };
  const std::map<std::uint16_t, unsigned> uses = use_;
  for (const auto& [address, use] : uses) {
    if ((use & (kAccessed | kValue | kWord)) == 0) continue;
    std::uint32_t at = address;
    while (is_code(at) && (at == address || uses.count(static_cast<std::uint16_t>(at + 1)) == 0)) at += 2;
    if (at - address == 2 && (use & kWord) == 0) continue;
    for (std::uint32_t word_at = address; word_at < at; word_at += 2)
      list(static_cast<std::uint16_t>(word_at), kListed);
    if (at == address && (use & kWord) != 0) take_word(address);
  }
}

}  // namespace prewire::assembler
