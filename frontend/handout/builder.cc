#include "builder.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "package.h"

namespace prewire::handout {

Builder::Builder(const Machine& machine) : machine_(machine), chips_(machine.chips()) {}

ChipView Builder::view(const Part& part) const {
  return part.chip < 0 ? machine_.processor() : chips_[static_cast<std::size_t>(part.chip)];
}

int Builder::add(Part part) {
  const int index = static_cast<int>(board_.parts.size());
  if (part.chip != Part::kNoChip) part_of_[part.chip] = index;
  board_.parts.push_back(std::move(part));
  return index;
}

std::string Builder::next_ref(const std::string& prefix) {
  for (;;) {
    std::string ref = fmt::format("{}{}", prefix, ++next_[prefix]);
    const bool taken =
        std::any_of(chips_.begin(), chips_.end(), [&](const ChipView& chip) { return chip.name == ref; });
    if (!taken) return ref;
  }
}

int Builder::add_loose(const std::string& prefix, std::string what, std::string value,
                       std::vector<std::string> terminals) {
  Part part{.kind = Part::Kind::loose, .ref = next_ref(prefix), .what = std::move(what), .value = std::move(value)};
  for (std::string& terminal : terminals) part.pins.push_back({.name = std::move(terminal)});
  return add(std::move(part));
}

int Builder::add_block(std::string ref, std::string what, std::string value, std::vector<std::string> terminals) {
  Part part{.kind = Part::Kind::block, .ref = std::move(ref), .what = std::move(what), .value = std::move(value)};
  for (std::string& terminal : terminals) part.pins.push_back({.name = std::move(terminal)});
  return add(std::move(part));
}

End Builder::end(int chip, int model_pin) const {
  const int part = part_of_.at(chip);
  const std::vector<Terminal>& pins = board_.parts[static_cast<std::size_t>(part)].pins;
  for (std::size_t i = 0; i < pins.size(); ++i) {
    if (pins[i].model == model_pin) return {part, static_cast<int>(i)};
  }
  return {part, -1};
}

End Builder::end(int part, std::string_view terminal) const {
  return {part, board_.parts[static_cast<std::size_t>(part)].pin(terminal)};
}

End Builder::block_end(int part, const std::string& terminal) {
  Part& block = board_.parts[static_cast<std::size_t>(part)];
  if (block.pin(terminal) < 0) block.pins.push_back({.name = terminal});
  return {part, block.pin(terminal)};
}

End Builder::rail(std::int32_t microvolts) {
  if (!rails_.contains(microvolts)) {
    const std::string name = rail_name(microvolts);
    Part part{.kind = Part::Kind::rail, .ref = name, .what = name + " rail"};
    part.pins.push_back({.name = name, .kind = PinKind::supply, .microvolts = microvolts});
    const int index = add(std::move(part));
    rails_[microvolts] = index;
    net_of_[{index, 0}] = static_cast<int>(board_.nets.size());
    board_.nets.push_back({.name = name,
                           .purpose = microvolts == 0  ? Purpose::ground
                                      : microvolts > 0 ? Purpose::plus
                                                       : Purpose::minus,
                           .ends = {{index, 0}},
                           .rail = true});
  }
  return {rails_[microvolts], 0};
}

void Builder::join(End a, End b, std::string_view name, Purpose purpose) {
  if (!wired(a) && !wired(b)) {
    const int net = static_cast<int>(board_.nets.size());
    board_.nets.push_back({.name = std::string(name), .purpose = purpose, .ends = {a, b}});
    net_of_[a] = net_of_[b] = net;
    return;
  }
  if (!wired(a)) std::swap(a, b);
  const int net = net_of(a);
  Net& into = board_.nets[static_cast<std::size_t>(net)];
  if (!wired(b)) {
    into.ends.push_back(b);
    net_of_[b] = net;
    return;
  }
  const int other = net_of(b);
  if (other == net) return;
  Net& from = board_.nets[static_cast<std::size_t>(other)];
  for (const End end : from.ends) net_of_[end] = net;
  into.ends.insert(into.ends.end(), from.ends.begin(), from.ends.end());
  from.ends.clear();
}

int Builder::net_of(End end) const {
  const auto found = net_of_.find(end);
  return found == net_of_.end() ? -1 : found->second;
}

int Part::pin(std::string_view terminal) const {
  for (std::size_t i = 0; i < pins.size(); ++i) {
    if (pins[i].name == terminal) return static_cast<int>(i);
  }
  return -1;
}

const PurposeStyle& style_of(Purpose purpose) {
  static constexpr std::array<PurposeStyle, kPurposes> kStyles{{{"supply +", 'P', "red"},
                                                                {"supply -", 'N', "pink"},
                                                                {"ground", 'G', "black"},
                                                                {"data", 'D', "blue"},
                                                                {"address", 'A', "yellow"},
                                                                {"control", 'C', "white"},
                                                                {"select", 'S', "grey"},
                                                                {"interrupt", 'I', "orange"},
                                                                {"logic", 'L', "green"},
                                                                {"volts", 'V', "violet"},
                                                                {"display", 'K', "brown"}}};
  return kStyles[static_cast<std::size_t>(purpose)];
}

const Net* Board::net_at(End end) const {
  for (const Net& net : nets) {
    if (std::find(net.ends.begin(), net.ends.end(), end) != net.ends.end()) return &net;
  }
  return nullptr;
}

std::vector<int> Board::pull_ups(End end) const {
  std::vector<int> found;
  const Net* net = net_at(end);
  if (net == nullptr) return found;
  for (const End other : net->ends) {
    const Part& resistor = part(other);
    if (!resistor.ref.starts_with('R') || resistor.kind != Part::Kind::loose || resistor.pins.size() != 2) continue;
    const Net* far = net_at({other.part, 1 - other.pin});
    if (far == nullptr || !far->rail || terminal(far->ends.front()).microvolts < kInputHigh) continue;
    found.push_back(other.part);
  }
  return found;
}

std::string to_string(const Board& board, End end) {
  const Part& part = board.part(end);
  const Terminal& pin = board.terminal(end);
  switch (part.kind) {
    case Part::Kind::chip:
      return fmt::format("{} pin {} ({}{}{})", part.ref, pin.number, part.name == part.ref ? "" : part.name,
                         part.name == part.ref ? "" : " ", pin.name);
    case Part::Kind::loose: {
      if (!part.package.empty()) return fmt::format("{} pin {} ({} {})", part.package, pin.number, part.name, pin.name);
      const bool number = !pin.name.empty() && pin.name[0] >= '0' && pin.name[0] <= '9';
      return fmt::format("{} {}{}{}", part.ref, number ? "end " : "", pin.name,
                         part.name.empty() || part.name == part.ref ? "" : fmt::format(" ({})", part.name));
    }
    case Part::Kind::block: return fmt::format("{} {}", part.ref, pin.name);
    case Part::Kind::rail: return part.what;
  }
  return {};
}

std::string terminals_of(const Part& part) {
  std::string in, out, plain;
  for (const Terminal& pin : part.pins) {
    std::string& list = pin.name.starts_with("input ") ? in : pin.name.starts_with("output ") ? out : plain;
    const std::size_t blank = &list == &plain ? std::string::npos : pin.name.find(' ');
    list += (list.empty() ? "" : ", ") + pin.name.substr(blank + 1);
  }
  if (in.empty()) return out.empty() ? plain : out;
  return fmt::format("in: {}; out: {}", in, out);
}

Board make_board(const Machine& machine) {
  Builder builder(machine);
  add_parts(builder);
  add_nets(builder);
  add_supplies(builder);
  add_clock_and_reset(builder);
  add_bus(builder);
  add_practice(builder);
  std::erase_if(builder.board().nets, [](const Net& net) { return net.ends.empty(); });
  add_steps(builder);
  add_notes(builder);
  return std::move(builder.board());
}

}  // namespace prewire::handout
