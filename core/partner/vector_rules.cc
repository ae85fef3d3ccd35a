#include "partner/vector_rules.h"

#include <fmt/format.h>

#include <algorithm>

namespace prewire::partner {

namespace {

constexpr std::size_t kLongest = 256;  // instructions of a handler

/// Whether the opcode makes something new of a register: all but loads, stores, comparisons, tests and CLR.
bool calculates(const Op& op, int opcode) {
  if (opcode >= 0x80) {
    const int what = opcode & 0x0F;
    return op.mode != Mode::relative && (what == 0 || what == 2 || what == 8 || what == 9 || what == 0xB);
  }
  if (opcode >= 0x40) return (opcode & 0x0F) != 0x0D && (opcode & 0x0F) != 0x0F;
  return op.has(kModify) ? opcode != 0x0F : opcode == 0x1B || opcode == 0x08 || opcode == 0x09 || opcode == 0x3A;
}

}  // namespace

std::string_view vector_name(std::uint16_t vector) {
  switch (vector) {
    case 0xFFFE: return "RESET";
    case 0xFFFC: return "NMI";
    case 0xFFFA: return "SWI";
    case 0xFFF8: return "IRQ";
    case 0xFFF6: return "FIRQ";
    case 0xFFF4: return "SWI2";
    case 0xFFF2: return "SWI3";
    default: return "an interrupt";
  }
}

bool VectorRules::Reads::has(const Asking& asking) const {
  return std::any_of(addresses.begin(), addresses.end(), [&](std::uint16_t address) {
    return address >= asking.place.mirror_first && address <= asking.place.mirror_last &&
           ((address - asking.place.first) & (asking.place.spec.size - 1)) == asking.reg;
  });
}

std::vector<VectorRules::Asking> VectorRules::asking(std::string_view line) const {
  std::vector<Asking> found;
  const Machine& machine = scene_.machine;
  const int own = machine.processor().type->pin(line);
  const std::vector<ChipView> chips = machine.chips();
  for (const NetView& net : machine.nets()) {
    const auto on_it = [&](const NetView::Pin& pin) { return pin.chip < 0 && pin.pin == own; };
    if (own < 0 || net.rail || std::none_of(net.pins.begin(), net.pins.end(), on_it)) continue;
    for (const NetView::Pin& pin : net.pins) {
      if (pin.chip < 0) continue;
      const ChipView& chip = chips[static_cast<std::size_t>(pin.chip)];
      const PinSpec& spec = chip.type->pins[static_cast<std::size_t>(pin.pin)];
      if (spec.ended_by < 0 || !chip.place) continue;
      // An open drain shares its line: does it pull?
      if (spec.kind == PinKind::open_drain && !machine.why_not(pin.chip, pin.pin).why.empty()) continue;
      found.push_back({fmt::format("{}.{}", chip.name, spec.name), std::string(chip.name), *chip.place,
                       static_cast<unsigned>(spec.ended_by)});
    }
  }
  return found;
}

VectorRules::Reads VectorRules::reads(std::uint16_t handler) const {
  Reads reads;
  std::vector<std::uint16_t> seen, waiting{handler};
  while (!waiting.empty() && seen.size() < kLongest) {
    const std::uint16_t pc = waiting.back();
    waiting.pop_back();
    if (std::find(seen.begin(), seen.end(), pc) != seen.end()) continue;
    seen.push_back(pc);
    const Outline there = outline(scene_.machine, pc);
    if (!there.defined) continue;
    const int opcode = scene_.peek(pc);
    const Op& op = scene_.op_at(pc, opcode);
    const std::uint16_t operand = scene_.operand_at(pc, opcode);
    reads.counts = reads.counts || calculates(op, opcode);
    // TSX; or a store by S.
    const bool by_stack = op.mode == Mode::indexed && postbyte(scene_.peek(operand)).base == 3;
    reads.frame = reads.frame || (scene_.mc6809 ? by_stack && op.has(kWrites) : opcode == 0x30);
    if (op.has(kRead | kModify)) {
      const unsigned page = scene_.mc6809 ? scene_.dp(std::as_const(scene_.machine).cpu()) << 8 : 0U;
      if (op.mode == Mode::direct) reads.addresses.push_back(static_cast<std::uint16_t>(page | scene_.peek(operand)));
      if (op.mode == Mode::extended) reads.addresses.push_back(scene_.peek16(operand));
      reads.unknown = reads.unknown || op.indexed();
    }
    if (there.target) waiting.push_back(*there.target);
    const bool leaves = there.flow == Flow::jump || there.flow == Flow::call;
    reads.unknown = reads.unknown || (leaves && !there.target);
    if (there.flow == Flow::jump || there.flow == Flow::ret || there.flow == Flow::interrupt_return) continue;
    waiting.push_back(static_cast<std::uint16_t>(pc + there.bytes));
  }
  reads.unknown = reads.unknown || !waiting.empty();
  return reads;
}

std::optional<std::pair<std::string, std::string>> VectorRules::exchanged(std::uint16_t vector) const {
  const std::string_view line = vector_name(vector);
  const std::vector<Asking> asks = asking(line);
  const std::uint16_t handler = scene_.peek16(vector);
  const Reads own = reads(handler);
  const auto serves = [&](const Reads& some) {
    return std::find_if(asks.begin(), asks.end(), [&](const Asking& each) { return some.has(each); });
  };
  if (own.unknown || asks.empty() || serves(own) != asks.end()) return std::nullopt;
  for (std::uint32_t each = scene_.mc6809 ? 0xFFF2 : 0xFFF8; each < 0xFFFE; each += 2) {
    const auto other = static_cast<std::uint16_t>(each);
    const std::uint16_t start = scene_.peek16(other);
    if (other == vector || start == handler || start == scene_.peek16(0xFFFE) || !scene_.known_code(start)) continue;
    const auto served = serves(reads(start));
    if (served == asks.end()) continue;
    return std::pair(
        fmt::format("the handler of {} at {} leaves {} alone, which asks by {}, and that of {} at {} reads ${:04X}, "
                    "which ends the request: the two vectors seem to be exchanged",
                    line, scene_.at(handler), served->chip, served->pin, vector_name(other), scene_.at(start),
                    served->address()),
        fmt::format("put the right handler at ${:04X}, the vector of {}, and at ${:04X}, that of {}", vector, line,
                    other, vector_name(other)));
  }
  return std::nullopt;
}

bool VectorRules::changes_registers() const {
  for (const std::uint16_t vector : {std::uint16_t{0xFFFC}, std::uint16_t{0xFFF8}, std::uint16_t{0xFFF6}}) {
    if (vector == 0xFFF6 && !scene_.mc6809) continue;
    if (scene_.has_handler(vector) && reads(scene_.peek16(vector)).frame) return true;
  }
  return false;
}

bool VectorRules::counts(std::uint16_t vector) const {
  const Reads own = reads(scene_.peek16(vector));
  return own.counts || own.unknown;
}

std::string VectorRules::left_alone(std::uint16_t vector) const {
  const Reads own = reads(scene_.peek16(vector));
  for (const Asking& each : asking(vector_name(vector))) {
    if (own.has(each)) {
      return fmt::format(". {} asks: a read of ${:04X} would end it, and the handler does not come to its read",
                         each.pin, each.address());
    }
    if (own.unknown) continue;
    return fmt::format(". {} asks: a read of ${:04X} would end it, and the handler has none", each.pin, each.address());
  }
  return {};
}

}  // namespace prewire::partner
