#include "description/circuit.h"

#include <algorithm>

#include "description/values.h"

namespace prewire {

Circuit::Circuit(const MachineSpec& spec, const JsonText& places) : spec_(spec), places_(places), nets_(spec) {
  for (int chip = -1; chip < static_cast<int>(spec.chips.size()); ++chip) {
    if (chip < 0 ? spec.cpu != nullptr : spec.chips[static_cast<std::size_t>(chip)].type != nullptr) {
      chips_.push_back(chip);
    }
  }
  find_spans();
}

const ChipType& Circuit::type(int chip) const {
  return chip < 0 ? spec_.cpu->chip : *spec_.chips[static_cast<std::size_t>(chip)].type;
}

bool Circuit::on_bus(int chip) const { return chip < 0 || spec_.chips[static_cast<std::size_t>(chip)].at.has_value(); }

std::optional<std::int64_t> Circuit::ohms(int chip) const {
  if (chip < 0 || type(chip).links.size() != 1 || !type(chip).has_parameter("ohms")) return std::nullopt;
  return spec_.chips[static_cast<std::size_t>(chip)].parameters["ohms"];
}

bool Circuit::is_source(PinRef ref) const {
  if (pin(ref).kind != PinKind::passive || is_lamp(ref.chip)) return false;
  const auto& links = type(ref.chip).links;
  return std::none_of(links.begin(), links.end(),
                      [&](const LinkSpec& link) { return link.pin_a == ref.pin || link.pin_b == ref.pin; });
}

bool Circuit::open(PinRef ref) const {
  const NetSpec* net = nets_.at(ref);
  return net == nullptr || (net->pins.size() == 1 && !net->rail_microvolts);
}

bool Circuit::wired(int chip) const {
  for (std::size_t i = 0; i < type(chip).pins.size(); ++i) {
    if (!open({chip, static_cast<int>(i)})) return true;
  }
  return false;
}

bool Circuit::matters(PinRef input) const {
  if (input.chip < 0) return true;
  const std::uint8_t group = pin(input).group;
  for (int other = 0; other < static_cast<int>(type(input.chip).pins.size()); ++other) {
    const PinRef ref{input.chip, other};
    if (other == input.pin || !drives(pin(ref).kind) || (group != 0 && pin(ref).group != group)) continue;
    if (!open(ref) || held(ref)) return true;
  }
  return false;
}

std::optional<std::int32_t> Circuit::rail(int index) const {
  if (net(index).rail_microvolts) return net(index).rail_microvolts;
  for (PinRef ref : net(index).pins) {
    if (pin(ref).kind == PinKind::supply) return pin(ref).microvolts;
  }
  return std::nullopt;
}

std::vector<Way> Circuit::ways(int index) const {
  std::vector<Way> list;
  for (PinRef ref : net(index).pins) {
    for (const LinkSpec& link : type(ref.chip).links) {
      if (link.pin_a != ref.pin && link.pin_b != ref.pin) continue;
      const PinRef to{ref.chip, link.pin_a == ref.pin ? link.pin_b : link.pin_a};
      list.push_back({nets_.index_at(to), ref, to});
    }
  }
  return list;
}

void Circuit::find_spans() {
  spans_.assign(static_cast<std::size_t>(count()), {});
  std::vector<int> work;
  for (int i = 0; i < count(); ++i) {
    Span& span = spans_[static_cast<std::size_t>(i)];
    if (const auto volts = rail(i)) {
      span.lowest = span.highest = *volts;
    } else {
      for (PinRef ref : net(i).pins) {
        const PinSpec& what = pin(ref);
        const bool drives = what.kind == PinKind::output || what.kind == PinKind::three_state || is_source(ref);
        if (drives || is_reset(ref)) span.take(Span{0, kLogicHigh});
        if (what.kind == PinKind::open_drain) span.take(0);
        if (what.pull_up > 0) span.take(kLogicHigh);
      }
    }
    if (span.any()) work.push_back(i);
  }
  while (!work.empty()) {
    const int from = work.back();
    work.pop_back();
    for (const Way& way : ways(from)) {
      if (way.net < 0 || rail(way.net)) continue;
      if (spans_[static_cast<std::size_t>(way.net)].take(span(from))) work.push_back(way.net);
    }
  }
}

std::vector<std::string> Circuit::names(const NetSpec& net, PinKind kind) const {
  std::vector<std::string> list;
  for (PinRef ref : net.pins) {
    if (pin(ref).kind == kind) list.push_back(name(ref));
  }
  return list;
}

std::string Circuit::name(int index) const {
  const NetSpec& of = net(index);
  if (of.rail_microvolts) return of.rail;
  if (!of.label.empty()) return of.label;
  return of.pins.empty() ? "" : name(of.pins.front());
}

Place Circuit::place(const std::string& pointer) const {
  const auto value = places_.find(pointer);
  return value ? value->key_place() : Place{.file = spec_.file, .line = 0, .column = 0, .pointer = pointer};
}

}  // namespace prewire
