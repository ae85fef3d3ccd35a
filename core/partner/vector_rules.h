// Which handler belongs to which request: what each of them reads, as far as its bytes tell.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class VectorRules {
 public:
  explicit VectorRules(Scene& scene) : scene_(scene) {}

  /// Message and hint if the handler at `vector` leaves alone what asks on its line, and that of another vector would
  /// end the request.
  std::optional<std::pair<std::string, std::string>> exchanged(std::uint16_t vector) const;
  /// What to add to a message about a handler that leaves its line low; may be empty.
  std::string left_alone(std::uint16_t vector) const;
  /// Whether the handler may do something else each time: it counts or turns something over.
  bool counts(std::uint16_t vector) const;
  /// Whether some interrupt may come back with other registers than it found: its handler reaches for the stack.
  bool changes_registers() const;

 private:
  /// A pin that asks, and the register whose read ends it.
  struct Asking {
    std::string pin, chip;
    BusPlace place;
    unsigned reg;
    std::uint16_t address() const { return static_cast<std::uint16_t>(place.first + reg); }
  };
  struct Reads {
    std::vector<std::uint16_t> addresses;
    bool unknown = false;  // there are others
    bool counts = false;   // something is calculated
    bool frame = false;    // it may store among what was stacked
    bool has(const Asking& asking) const;
  };
  std::vector<Asking> asking(std::string_view line) const;
  Reads reads(std::uint16_t handler) const;

  Scene& scene_;
};

std::string_view vector_name(std::uint16_t vector);

}  // namespace prewire::partner
