#include "asm/naming.h"

#include <fmt/format.h>

#include <algorithm>

#include "asm/data_runs.h"

namespace prewire::assembler {

namespace {

using Cell = Follower::Cell;

// Numbers below this are counts more often than addresses.
constexpr std::uint16_t kLeastValue = 0x0100;
constexpr std::size_t kLookAhead = 64;  // bytes of data, to tell what they are

}  // namespace

bool Written::holds(std::uint32_t address, std::size_t size) const {
  for (std::size_t i = 0; i < size; ++i) {
    const std::uint32_t at = address + static_cast<std::uint32_t>(i);
    if (!code_.present(at) || (range_ && !range_->contains(static_cast<std::uint16_t>(at)))) return false;
  }
  return true;
}

std::uint16_t Written::line_start(std::uint16_t address) const {
  const std::uint16_t owner = code_.owner(address);
  return holds(owner) ? owner : address;
}

Naming::Naming(const Follower& code, const Written& written, const std::vector<AddressName>& given,
               const std::map<std::uint16_t, std::string>& vectors)
    : code_(code), written_(written), vectors_(vectors) {
  for (const AddressName& name : given) {
    if (taken_.count(name.name) == 0 && given_.emplace(name.address, &name).second) taken_.insert(name.name);
  }
  std::map<std::uint16_t, unsigned> wanted;
  for (const auto& [address, use] : code_.uses()) {
    if (!is_named(address, use)) continue;
    const std::uint16_t owner = alone(address) ? address : written_.line_start(address);
    wanted[owner] |= owner == address ? use : 0;
  }
  for (const auto& [address, name] : given_) {
    if (written_.holds(address)) wanted[address] |= 0;
  }
  for (const auto& [address, use] : wanted) name(address, use);
}

bool Naming::is_named(std::uint16_t address, unsigned use) const {
  if ((use & ~static_cast<unsigned>(kValue)) != 0) return true;
  return address >= kLeastValue && (written_.holds(address) || given_.count(address) != 0);
}

void Naming::name(std::uint16_t address, unsigned use) {
  if (const auto given = given_.find(address); given != given_.end()) {
    names_.emplace(address, given->second->name);
    return;
  }
  const auto vector = vectors_.find(address);
  std::string name =
      vector != vectors_.end() ? vector->second : fmt::format("{}_{:04X}", kind_of(address, use), address);
  while (!taken_.insert(name).second) name += '_';
  names_.emplace(address, std::move(name));
}

const char* Naming::kind_of(std::uint16_t address, unsigned use) const {
  if ((use & kCalled) != 0) return "call";
  if ((use & kJumped) != 0) return "to";
  if ((use & kEntry) != 0) return "entry";
  if (!is_label(address)) return "mem";
  switch (code_.cell(address)) {
    case Cell::code: return "code";
    case Cell::word: return (use & kWord) != 0 ? "word" : "table";
    default: break;
  }
  std::size_t size = 0;
  while (size < kLookAhead && code_.present(address + static_cast<std::uint32_t>(size)) &&
         code_.cell(static_cast<std::uint16_t>(address + size)) == Cell::data) {
    ++size;
  }
  return text_length(code_.bytes(address, size)) != 0 ? "text" : "data";
}

std::string Naming::at(std::uint16_t address) const {
  const auto name = names_.find(address);
  return name == names_.end() ? std::string() : name->second;
}

std::string Naming::about(std::uint16_t address) const {
  const auto given = given_.find(address);
  return given == given_.end() ? std::string() : given->second->about;
}

std::optional<std::string> Naming::expression(std::uint16_t address, unsigned use) const {
  if (!is_named(address, use)) return std::nullopt;
  const std::uint16_t owner = alone(address) ? address : written_.line_start(address);
  const auto name = names_.find(owner);
  if (name == names_.end()) return std::nullopt;
  return owner == address ? name->second : fmt::format("{}+{}", name->second, address - owner);
}

std::vector<AddressName> Naming::outside() const {
  std::vector<AddressName> list;
  for (const auto& [address, name] : names_) {
    if (!is_label(address)) list.push_back({address, name, about(address)});
  }
  return list;
}

}  // namespace prewire::assembler
