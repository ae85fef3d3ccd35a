#include <fmt/format.h>

#include <algorithm>

#include "desk/session/session.h"
#include "see.h"

namespace prewire::front::desk {

namespace {

bool has_pin(const Machine& machine, std::string_view name) { return machine.processor().type->pin(name) >= 0; }

std::string about(const Machine& machine, const BusLog::Entry& entry) {
  const BusCycle& bus = entry.bus;
  std::string text = fmt::format("cycle {}  ", bus.cycle);
  if (!bus.vma) return text + (bus.ba ? "the processor has let go of the bus" : "no valid address");
  text += fmt::format("{:04X}  {:02X}  {}", bus.address, bus.data,
                      !bus.rw     ? "write"
                      : bus.fetch ? "read opcode"
                                  : "read");
  if (!bus.driven) text += ", data lines float";
  const auto who = machine.answering(bus.address);
  if (!who.empty()) text += fmt::format("  {}", list_of(who));
  return text;
}

}  // namespace

void see_bus(const Session& session, const Choices& choices, int cells, View& view) {
  const Machine& machine = *session.machine();
  const auto& entries = session.bus().entries();
  const auto wanted = static_cast<std::size_t>(std::max(cells, 0));
  const std::size_t end = entries.size() - std::min<std::size_t>(static_cast<std::size_t>(choices.bus_back),
                                                                 entries.size() > wanted ? entries.size() - wanted : 0);
  const std::size_t begin = end > wanted ? end - wanted : 0;
  BusView& shown = view.bus;
  BusLine rw{"R/W", {}, true}, vma{"VMA", {}}, ba{"BA", {}}, bs{"BS", {}};
  const auto level = [](bool high) { return high ? Level::high : Level::low; };
  for (std::size_t i = begin; i < end; ++i) {
    const BusCycle& bus = entries[i].bus;
    if (choices.bus_cursor == bus.cycle) shown.chosen = i - begin;
    shown.cells.push_back({bus.cycle, bus.address, bus.data, bus.vma, bus.rw, bus.fetch, bus.driven});
    rw.levels.push_back(level(bus.rw));
    vma.levels.push_back(level(bus.vma));
    ba.levels.push_back(level(bus.ba));
    bs.levels.push_back(level(bus.bs));
  }
  shown.lines.push_back(std::move(rw));
  if (has_pin(machine, "VMA")) shown.lines.push_back(std::move(vma));
  if (has_pin(machine, "BS")) {
    shown.lines.push_back(std::move(ba));
    shown.lines.push_back(std::move(bs));
  }
  const auto& probes = session.bus().probes();
  for (std::size_t probe = 0; probe < probes.size(); ++probe) {
    BusLine line{probes[probe], {}};
    for (std::size_t i = begin; i < end; ++i) line.levels.push_back(entries[i].probes[probe]);
    shown.lines.push_back(std::move(line));
  }
  if (shown.chosen) {
    shown.about = about(machine, entries[begin + *shown.chosen]);
  } else if (!session.busy() && end > begin) {
    shown.about = about(machine, entries[end - 1]);
  }
}

}  // namespace prewire::front::desk
