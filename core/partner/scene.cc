#include "partner/scene.h"

#include <fmt/format.h>

#include <algorithm>
#include <bitset>
#include <cassert>

namespace prewire::partner {

const NetView* net_at(const std::vector<NetView>& nets, int chip, int pin) {
  for (const NetView& net : nets) {
    if (net.pins.size() < 2 && !net.rail) continue;  // a label alone wires nothing
    for (const NetView::Pin& each : net.pins) {
      if (each.chip == chip && each.pin == pin) return &net;
    }
  }
  return nullptr;
}

Scene::Scene(Machine& machine_)
    : machine(machine_), mc6809(std::as_const(machine_).cpu().type().starts_with("mc6809")) {
  const Cpu& cpu = std::as_const(machine).cpu();
  const auto registers = cpu.registers();
  const auto find = [&](std::string_view name) {
    for (std::size_t i = 0; i < registers.size(); ++i) {
      if (registers[i].name == name) return i;
    }
    return std::size_t{0};
  };
  a_ = find("A"), b_ = find("B"), x_ = find("X"), y_ = find("Y"), u_ = find("U"), s_ = find("S");
  dp_ = find("DP"), cc_ = find("CC");
  learn_places();
  learn_texts();
}

void Scene::learn_places() {
  const auto add = [&](const BusPlace& place) {
    const Place kind = place.spec.kind == BusSpec::Kind::ram   ? kRam
                       : place.spec.kind == BusSpec::Kind::rom ? kRom
                                                               : kDevice;
    for (std::uint32_t at = place.mirror_first; at <= place.mirror_last; ++at) places_[at] |= kind;
    for (std::uint32_t at = place.first; at <= place.last; ++at) places_[at] |= kind;
    for (const auto& [first, last] : place.elsewhere) {
      for (std::uint32_t at = first; at <= last; ++at) places_[at] |= kind;
    }
    if (kind != kRam || place.mirror_last - place.mirror_first <= place.last - place.first) return;
    for (std::uint32_t at = place.mirror_first; at <= place.mirror_last; ++at) places_[at] |= kMirrored;
    mirrors_.push_back({place.first, place.last, place.mirror_first, place.mirror_last, place.spec.size});
  };
  std::vector<std::string> names;
  for (const ChipView& chip : machine.chips()) {
    names.emplace_back(chip.name);
    if (chip.place) add(*chip.place);
  }
  // RAM inside the processor answers under a name that no chip can have.
  for (const std::string& name : machine.answering(0)) {
    if (std::find(names.begin(), names.end(), name) != names.end()) continue;
    for (std::uint16_t at = 0; at < 0x80; ++at) places_[at] |= kRam;
  }
}

void Scene::learn_texts() {
  std::bitset<65536> labelled;
  for (const Image* image : machine.programs()) {
    if (image->source == nullptr) continue;
    for (const SourceMap::Symbol& symbol : image->source->symbols) {
      if (symbol.kind == SourceMap::SymbolKind::label) labelled[static_cast<std::uint16_t>(symbol.value)] = true;
    }
    for (const SourceMap::Line& line : image->source->lines) {
      const bool data = line.kind == LineKind::data || line.kind == LineKind::space;
      if (!data && line.kind != LineKind::instruction) continue;
      std::uint16_t item = 0;
      if (data && labelled[line.address] && item_names_.size() < 0xFFFF) {
        item = static_cast<std::uint16_t>(item_names_.size());
        item_names_.emplace_back(machine.label_at(line.address));
      }
      for (std::uint32_t i = 0; i < line.size && line.address + i < 65536; ++i) {
        texts_[line.address + i] = data ? Text::data : i == 0 ? Text::start : Text::inside;
        items_[line.address + i] = item;
      }
    }
  }
}

std::vector<std::uint16_t> Scene::working(const Cpu& cpu) const {
  if (!mc6809) return {cpu.get(a_), cpu.get(b_), cpu.get(x_)};
  return {cpu.get(a_), cpu.get(b_), cpu.get(x_), cpu.get(y_), cpu.get(u_), cpu.get(dp_)};
}

std::string Scene::item_name(std::uint16_t item) const { return item_names_[item]; }

std::uint16_t Scene::home(std::uint16_t address) const {
  for (const Window& window : mirrors_) {
    if (address < window.mirror_first || address > window.mirror_last) continue;
    return static_cast<std::uint16_t>(cell_of(window.first, window.size, address));
  }
  return address;
}

bool Scene::known_code(std::uint16_t address) const {
  if (texts_[address] != Text::none) return texts_[address] == Text::start;
  if ((marks[address] & (kStart | kInside)) != 0) return (marks[address] & kStart) != 0;
  if (is(address, kDevice)) return false;
  if (!is(address, kRam | kRom)) return false;
  const ByteUse use = machine.use(address);
  return use.loaded || use.written;
}

bool Scene::stored_code(std::uint16_t address) const {
  constexpr int kFar = 32;  // instructions; handlers in RAM are mostly a jump
  for (int i = 0; i < kFar; ++i) {
    const Outline there = outline(machine, address);
    if (!there.defined) return false;
    for (int byte = 0; byte < there.bytes; ++byte) {
      const auto at = static_cast<std::uint16_t>(address + byte);
      if (!is(at, kRam) || !machine.use(at).written) return false;
    }
    if (there.flow == Flow::interrupt_return || there.flow == Flow::ret) return true;
    if (there.flow == Flow::jump)
      return !there.target || texts_[*there.target] == Text::start || known_code(*there.target);
    address = static_cast<std::uint16_t>(address + there.bytes);
  }
  return false;
}

bool Scene::has_handler(std::uint16_t vector) const {
  const std::uint16_t start = peek16(vector);
  if (start == peek16(0xFFFE) || (!known_code(start) && !stored_code(start))) return false;
  const Outline first = outline(machine, start);
  const bool trap = first.flow == Flow::jump && first.target == start;
  return !trap && first.flow != Flow::interrupt_return && first.flow != Flow::ret;
}

std::optional<std::uint16_t> Scene::effective(const Step& step, bool& wrapped) const {
  wrapped = false;
  switch (step.op.mode) {
    case Mode::direct: {
      const unsigned page = mc6809 ? step.cpu.get(dp_) : 0U;
      return static_cast<std::uint16_t>(page << 8 | peek(step.operand));
    }
    case Mode::extended: return peek16(step.operand);
    case Mode::offset: {
      const std::uint32_t sum = std::uint32_t{step.cpu.get(x_)} + peek(step.operand);
      wrapped = sum > 0xFFFF;
      return static_cast<std::uint16_t>(sum);
    }
    case Mode::indexed: return indexed(step, wrapped);
    default: return std::nullopt;
  }
}

/// M6809PM section 2.2.
std::uint16_t Scene::indexed(const Step& step, bool& wrapped) const {
  const std::uint8_t byte = peek(step.operand);
  const Postbyte post = postbyte(byte);
  const std::uint32_t after = step.operand + 1U;
  const std::array<std::size_t, 4> bases{x_, y_, u_, s_};
  const std::int32_t base = step.cpu.get(bases[static_cast<std::size_t>(post.base & 3)]);
  std::int32_t sum = base;
  bool short_offset = false;
  switch (post.form) {
    case Postbyte::Form::offset5:
      sum += (byte & 0x1F) - ((byte & 0x10) << 1);
      short_offset = true;
      break;
    case Postbyte::Form::offset8:
      sum += static_cast<std::int8_t>(peek(after));
      short_offset = true;
      break;
    case Postbyte::Form::offset16: sum += peek16(after); break;
    case Postbyte::Form::decrement1: sum -= 1; break;
    case Postbyte::Form::decrement2: sum -= 2; break;
    case Postbyte::Form::accumulator_a: sum += static_cast<std::int8_t>(step.cpu.get(a_)); break;
    case Postbyte::Form::accumulator_b: sum += static_cast<std::int8_t>(step.cpu.get(b_)); break;
    case Postbyte::Form::accumulator_d: sum += step.cpu.get(a_) << 8 | step.cpu.get(b_); break;
    case Postbyte::Form::pc8: sum = static_cast<std::int32_t>(after) + 1 + static_cast<std::int8_t>(peek(after)); break;
    case Postbyte::Form::pc16: sum = static_cast<std::int32_t>(after) + 2 + peek16(after); break;
    case Postbyte::Form::extended: sum = peek16(after); break;
    default: break;
  }
  wrapped = short_offset && (sum < 0 || sum > 0xFFFF);
  const auto address = static_cast<std::uint16_t>(sum);
  return post.indirect ? peek16(address) : address;
}

std::string Scene::at(std::uint16_t address) const {
  if (const auto place = machine.source_at(address)) return fmt::format("${:04X} ({})", address, to_string(*place));
  return fmt::format("${:04X}", address);
}

std::int32_t Scene::clears(unsigned bits) const {
  for (std::uint32_t at = 0; at < 65536; ++at) {
    const bool start = texts_[at] == Text::start || (marks[at] & kStart) != 0;
    if (!start) continue;
    const std::uint8_t opcode = peek(at);
    // ANDCC and CWAI of the MC6809 have the bits that stay; CLI of the MC6800 clears I.
    if (mc6809 ? (opcode == 0x1C || opcode == 0x3C) && (peek(at + 1) & bits) == 0 : opcode == 0x0E) {
      return static_cast<std::int32_t>(at);
    }
  }
  return -1;
}

std::string Scene::unmask_hint(bool fast) const {
  const std::int32_t there = clears(fast ? 0x40 : 0x10);
  const std::string clear = fast ? "clear F with ANDCC #$BF" : mc6809 ? "clear I with ANDCC #$EF" : "clear I with CLI";
  if (there < 0) return clear + " once everything is set up";
  const auto address = static_cast<std::uint16_t>(there);
  if ((marks[address] & kStart) == 0) {
    return fmt::format("the instruction at {} would clear {}, but the program has not come there: what keeps it?",
                       at(address), fast ? "F" : "I");
  }
  return fmt::format(
      "the instruction at {} has cleared {}, and something has set it again: {}, or an interrupt whose "
      "handler did not end in RTI",
      at(address), fast ? "F" : "I", mc6809 ? "ORCC" : "SEI");
}

std::string Scene::decimal_time(Cycle cycles) const {
  const Timebase& timebase = machine.timebase();
  if (!timebase.in_range(stamp_of(cycles))) return fmt::format("{:.0f} s", timebase.seconds(stamp_of(cycles)));
  const Picoseconds microseconds = timebase.span(cycles) / 1'000'000;
  return fmt::format("{}.{:02} ms", microseconds / 1000, microseconds % 1000 / 10);
}

bool Scene::reads_control(const BusPlace& place) const {
  return std::any_of(device_reads.begin(), device_reads.end(), [&](std::uint16_t address) {
    if (address < place.mirror_first || address > place.mirror_last) return false;
    const std::size_t reg = place.wired ? place.reg(address) : (address - place.first) & (place.spec.size - 1);
    if (reg >= place.spec.registers.size()) return true;
    const std::string_view name = place.spec.registers[reg];
    return name.starts_with("C") || name.starts_with("S");
  });
}

void Scene::go_astray(std::int64_t finding, Cycle since) {
  if (finding < 0) return;
  astray_ = finding;
  machine.blame(static_cast<std::size_t>(finding), since);
  machine.set_astray(finding);
}

void Scene::come_back() {
  astray_ = led_away = -1;
  machine.set_astray(-1);
}

std::int64_t Scene::latest(std::string_view id) const {
  const std::vector<Finding>& all = machine.findings();
  for (std::size_t i = all.size(); i-- > 0;) {
    if (all[i].id == id) return static_cast<std::int64_t>(i);
  }
  return -1;
}

Weight Scene::weight_of(std::string_view id) {
  const auto all = rules();
  const auto rule = std::find_if(all.begin(), all.end(), [&](const Rule& each) { return each.id == id; });
  assert(rule != all.end());
  return rule->weight;
}

}  // namespace prewire::partner
