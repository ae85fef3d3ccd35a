// Data, address and control lines of the chips that the machine file places by "at", and the decoder that selects them.
#include <fmt/format.h>

#include "builder.h"
#include "bus.h"

namespace prewire::handout {

namespace {

class BusWiring {
 public:
  explicit BusWiring(Builder& builder) : builder_(builder), cpu_(builder.part_of(-1)) {
    const Board& board = builder.board();
    const Part& cpu = board.parts[static_cast<std::size_t>(cpu_)];
    has_vma_ = cpu.pin("VMA") >= 0;
    for (std::size_t i = 0; i < board.parts.size(); ++i) {
      if (board.parts[i].ref == "CLK") clock_ = static_cast<int>(i);
    }
  }

  void add() {
    for (std::size_t i = 0; i < builder_.chips().size(); ++i) {
      const auto& place = builder_.chips()[i].place;
      if (place && !place->wired) add_chip(builder_.chips()[i], static_cast<int>(i));
    }
    if (decoder_ >= 0) add_decoder_inputs();
    leave_rest_open();
  }

 private:
  End cpu(const std::string& name) { return builder_.end(cpu_, name); }
  /// E comes from the clock generator, where there is one.
  End e() { return clock_ >= 0 ? builder_.block_end(clock_, "E") : cpu("E"); }
  int decoder() {
    if (decoder_ < 0)
      decoder_ = builder_.add_block("DEC", "address decoder: gates that make the selects below", "", {});
    return decoder_;
  }

  void add_chip(const ChipView& chip, int index) {
    Select select = select_for(chip, has_vma_);
    select.part = builder_.part_of(index);
    bool selected = false;
    const Part part = builder_.board().parts[static_cast<std::size_t>(select.part)];
    for (std::size_t i = 0; i < part.pins.size(); ++i) {
      const Terminal& pin = part.pins[i];
      const End end{select.part, static_cast<int>(i)};
      if (pin.model < 0 || chip.type->pins[static_cast<std::size_t>(pin.model)].implied != Implied::bus) continue;
      const BusPin bus = bus_pin(*chip.type, chip.place->spec, pin.name);
      switch (bus.role) {
        case Role::data: join(end, cpu(fmt::format("D{}", bus.bit)), Purpose::data); break;
        case Role::address: join(end, cpu(fmt::format("A{}", bus.bit)), Purpose::address); break;
        case Role::rw: join(end, cpu("R/W"), Purpose::control); break;
        case Role::e: join(end, e(), Purpose::control); break;
        case Role::plus: builder_.join(builder_.rail(kLogicHigh), end, "", Purpose::plus); break;
        case Role::ground: builder_.join(builder_.rail(0), end, "", Purpose::ground); break;
        case Role::read:
        case Role::write: {
          const bool read = bus.role == Role::read;
          (read ? reads_ : writes_) = true;
          const End strobe = builder_.block_end(decoder(), read ? "output RD" : "output WR");
          builder_.join(strobe, end, read ? "RD" : "WR", Purpose::control);
          break;
        }
        case Role::select:
        case Role::own_strobe: {
          const char* what = bus.role == Role::select ? "SEL" : select.rw == 1 ? "RD" : "WR";
          select.output = fmt::format("{} {}", what, part.name);
          const End output = builder_.block_end(decoder(), "output " + select.output);
          builder_.join(output, end, select.output, Purpose::select);
          selected = true;
          break;
        }
        case Role::unknown: builder_.leave_open(end, "a bus pin; its data sheet says where it goes"); break;
      }
    }
    if (!selected) select.output = fmt::format("SEL {}", part.name);
    builder_.board().selects.push_back(std::move(select));
  }

  void join(End end, End to, Purpose purpose) {
    const Terminal& line = builder_.board().terminal(to);
    builder_.join(to, end, line.name, purpose);
  }

  void add_decoder_inputs() {
    std::uint16_t lines = 0;
    bool with_e = reads_ || writes_, with_rw = reads_ || writes_;
    for (const Select& select : builder_.board().selects) {
      for (const AddressBlock& block : select.blocks) lines |= block.mask;
      with_e = with_e || select.e;
      with_rw = with_rw || select.rw >= 0;
    }
    const auto input = [&](End from, Purpose purpose) {
      const std::string name = builder_.board().terminal(from).name;
      builder_.join(from, builder_.block_end(decoder_, "input " + name), name, purpose);
    };
    for (int line = 0; line < 16; ++line) {
      if ((lines >> line & 1) != 0) input(cpu(fmt::format("A{}", line)), Purpose::address);
    }
    if (has_vma_) input(cpu("VMA"), Purpose::control);
    if (with_rw) input(cpu("R/W"), Purpose::control);
    if (with_e) input(e(), Purpose::control);
  }

  /// Outputs of the processor that nothing needs.
  void leave_rest_open() {
    const std::vector<Terminal> pins = builder_.board().parts[static_cast<std::size_t>(cpu_)].pins;
    for (std::size_t i = 0; i < pins.size(); ++i) {
      const End end{cpu_, static_cast<int>(i)};
      if (builder_.wired(end)) continue;
      if (pins[i].kind == PinKind::output || pins[i].kind == PinKind::three_state) {
        builder_.leave_open(end, "an output that this board does not need");
      }
    }
  }

  Builder& builder_;
  int cpu_;
  int clock_ = -1;
  int decoder_ = -1;
  bool has_vma_ = false, reads_ = false, writes_ = false;
};

}  // namespace

void add_bus(Builder& builder) { BusWiring(builder).add(); }

}  // namespace prewire::handout
