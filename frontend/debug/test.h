// What a stop can depend on, a run wait for, and a script expect.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "prewire/machine.h"
#include "shared/condition.h"
#include "words.h"

namespace prewire::front::debug {

/// What the digits show, by group; empty name: any group.
using Shown = std::function<bool(const std::string& group, const std::string& text)>;

/// One comparison or several, all of which must hold.
class Test {
 public:
  /// Reads all that is left: `A=$35`, `[level]>=200 and X<$80`, `net:IRQ=low`, `display=125`.
  Test(const Machine& machine, Words& words);

  bool holds(const Machine& machine, const Shown& shown) const;
  /// "A is $12", for what does not hold.
  std::string found_instead(const Machine& machine, const Shown& shown) const;
  const std::string& text() const { return text_; }
  /// Which of them it asks about.
  bool of_nets() const { return has(Condition::Kind::net); }
  bool of_displays() const { return has(Condition::Kind::display); }
  bool of_values() const { return has(std::nullopt); }

 private:
  struct Operand {
    enum class What : std::uint8_t { value, memory, reg } what = What::value;
    std::uint16_t number = 0;  // value, address, or index of the register
    std::string text;
  };
  struct Part {
    std::optional<Condition> condition;  // of a net or of digits; none: a comparison
    Operand left, right;
    std::string relation;
  };

  static Operand read_operand(const Machine& machine, const std::string& text);
  static Part read_part(const Machine& machine, const std::string& text);
  static int value(const Machine& machine, const Operand& operand);
  static bool holds(const Machine& machine, const Part& part, const Shown& shown);
  bool has(std::optional<Condition::Kind> kind) const;

  std::string text_;
  std::vector<Part> parts_;
};

}  // namespace prewire::front::debug
