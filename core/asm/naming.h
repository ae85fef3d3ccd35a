// Names for the addresses of a program that is read back.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "asm/follow.h"
#include "prewire/disassembler.h"

namespace prewire::assembler {

/// The part of a program that gets lines.
class Written {
 public:
  Written(const Follower& code, const std::optional<AddressRange>& range) : code_(code), range_(range) {}

  bool holds(std::uint32_t address, std::size_t size = 1) const;
  /// Where the line begins that the byte belongs to.
  std::uint16_t line_start(std::uint16_t address) const;

 private:
  const Follower& code_;
  const std::optional<AddressRange> range_;
};

class Naming {
 public:
  /// Names that are given come first, then those of vectors, by their targets.
  Naming(const Follower& code, const Written& written, const std::vector<AddressName>& given,
         const std::map<std::uint16_t, std::string>& vectors);

  /// Empty if it has none.
  std::string at(std::uint16_t address) const;
  /// A comment for the line of that address; may be empty.
  std::string about(std::uint16_t address) const;
  /// What stands for an address that is used so; empty where the number does.
  std::optional<std::string> expression(std::uint16_t address, unsigned use) const;
  /// Names that are no labels of lines, ascending by address.
  std::vector<AddressName> outside() const;

 private:
  /// Whether it is worth a name, or is a number that happens to be an address.
  bool is_named(std::uint16_t address, unsigned use) const;
  /// The address has a name of its own, rather than a distance from that of its line.
  bool alone(std::uint16_t address) const { return !written_.holds(address) || given_.count(address) != 0; }
  bool is_label(std::uint16_t address) const {
    return written_.holds(address) && written_.line_start(address) == address;
  }
  void name(std::uint16_t address, unsigned use);
  const char* kind_of(std::uint16_t address, unsigned use) const;

  const Follower& code_;
  const Written& written_;
  const std::map<std::uint16_t, std::string>& vectors_;
  std::map<std::uint16_t, const AddressName*> given_;
  std::set<std::string> taken_;
  std::map<std::uint16_t, std::string> names_;
};

}  // namespace prewire::assembler
