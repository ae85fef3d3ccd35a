#include "prewire/trace.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <utility>

#include "prewire/machine.h"
#include "prewire/text.h"

namespace prewire {

namespace {

constexpr std::string_view kCyclesText = "#    cycle address data R/W\n";
constexpr std::string_view kCyclesCsv = "cycle,address,data,access,fetch,ba,bs,driven\n";
constexpr std::string_view kInstructionsText = "#    cycle address bytes           instruction\n";
constexpr std::string_view kInstructionsCsv = "cycle,address,bytes,instruction,registers,label,source\n";
constexpr std::string_view kJson = "{\"cycle\":";

const char* access_of(const BusCycle& cycle) { return !cycle.vma ? "-" : cycle.rw ? "R" : "W"; }

bool unanswered(const BusCycle& cycle) { return cycle.vma && cycle.rw && !cycle.driven; }

std::string cycle_line(const BusCycle& c, TraceFormat format) {
  switch (format) {
    case TraceFormat::text:
      return fmt::format("{:>10}   ${:04X}  ${:02X}  {}{}{}{}{}\n", c.cycle, c.address, c.data, access_of(c),
                         c.fetch ? " fetch" : "", c.ba ? " BA" : "", c.bs ? " BS" : "", unanswered(c) ? " nobody" : "");
    case TraceFormat::csv:
      return fmt::format("{},${:04X},${:02X},{},{:d},{:d},{:d},{:d}\n", c.cycle, c.address, c.data, access_of(c),
                         c.fetch, c.ba, c.bs, c.driven);
    case TraceFormat::json_lines: break;
  }
  return fmt::format(R"({{"cycle":{},"address":{},"data":{},"access":"{}","fetch":{},"ba":{},"bs":{},"driven":{}}})"
                     "\n",
                     c.cycle, c.address, c.data, access_of(c), c.fetch, c.ba, c.bs, c.driven);
}

struct Instruction {
  Cycle cycle;
  std::uint16_t pc;
  std::string bytes;  // "B6 40 01"
  std::string text;
  const Cpu& cpu;
  std::string_view label;
  std::string source;  // "gauge.asm:42"
};

/// RFC 8259; what is not UTF-8 is replaced.
std::string json_text(std::string_view text) {
  return printable_json(nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
}

std::string instruction_line(const Instruction& i, TraceFormat format) {
  switch (format) {
    case TraceFormat::text: {
      std::string line =
          fmt::format("{:>10}   ${:04X}  {:<14}  {:<20} {}", i.cycle, i.pc, i.bytes, i.text, to_string(i.cpu));
      if (!i.label.empty() || !i.source.empty()) line += "  ;";
      if (!i.label.empty()) line += fmt::format(" {}", i.label);
      if (!i.source.empty()) line += fmt::format(" {}", i.source);
      return line + '\n';
    }
    case TraceFormat::csv:
      return fmt::format("{},${:04X},{},{},{},{},{}\n", i.cycle, i.pc, i.bytes, csv_cell(i.text), to_string(i.cpu),
                         csv_cell(i.label), csv_cell(i.source));
    case TraceFormat::json_lines: break;
  }
  std::string registers;
  for (std::size_t r = 0; r < i.cpu.registers().size(); ++r) {
    registers += fmt::format("{}\"{}\":{}", r == 0 ? "" : ",", i.cpu.registers()[r].name, i.cpu.get(r));
  }
  std::string line = fmt::format(R"({{"cycle":{},"address":{},"bytes":"{}","instruction":{},"registers":{{{}}})",
                                 i.cycle, i.pc, i.bytes, json_text(i.text), registers);
  if (!i.label.empty()) line += fmt::format(",\"label\":{}", json_text(i.label));
  if (!i.source.empty()) line += fmt::format(",\"source\":{}", json_text(i.source));
  return line + "}\n";
}

}  // namespace

std::string_view Trace::mark(const TracePlan& plan) {
  const bool cycles = plan.of == TraceOf::cycles;
  switch (plan.format) {
    case TraceFormat::text: return cycles ? kCyclesText : kInstructionsText;
    case TraceFormat::csv: return cycles ? kCyclesCsv : kInstructionsCsv;
    case TraceFormat::json_lines: return kJson;
  }
  return "";
}

Trace::Trace(const Machine& machine, const TracePlan& plan, Write write)
    : machine_(machine), plan_(plan), write_(std::move(write)), on_(!plan.from) {
  if (plan.format != TraceFormat::json_lines) write_(mark(plan));
}

unsigned Trace::wants() const {
  const bool at_addresses = (plan_.from && plan_.from->address) || (plan_.until && plan_.until->address);
  if (plan_.of == TraceOf::instructions) return kInstructions;
  return at_addresses ? kCycles | kInstructions : unsigned{kCycles};
}

/// Moments that are cycles.
void Trace::mind_cycle(Cycle cycle) {
  const auto come = [&](const std::optional<TraceMoment>& moment, bool& over) {
    if (!moment || moment->address || over || cycle < moment->cycle) return false;
    return over = true;
  };
  if (come(plan_.from, from_over_)) on_ = true;
  if (come(plan_.until, until_over_)) on_ = false;
}

void Trace::on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) {
  const auto here = [&](const std::optional<TraceMoment>& moment) {
    return opcode >= 0 && moment && moment->address == pc;
  };
  if (here(plan_.from)) on_ = true;
  if (here(plan_.until)) on_ = false;
  if (plan_.of != TraceOf::instructions) return;
  mind_cycle(cycle);
  if (!on_ || pc < plan_.first || pc > plan_.last) return;
  Instruction seen{cycle, pc, "", fmt::format("({})", to_string(static_cast<Entry>(opcode))), cpu, {}, ""};
  if (opcode >= 0) {
    const Disassembly line = disassemble(machine_, pc);
    const auto code = code_at(machine_, pc);
    for (int i = 0; i < line.bytes; ++i) {
      seen.bytes += fmt::format("{}{:02X}", i == 0 ? "" : " ", code[static_cast<std::size_t>(i)]);
    }
    seen.text = line.text;
  }
  // Where RESET came says nothing.
  if (opcode != static_cast<int>(Entry::reset)) {
    const Origin& from = origin(pc);
    seen.label = from.label;
    seen.source = from.place;
  }
  put(instruction_line(seen, plan_.format));
}

const Trace::Origin& Trace::origin(std::uint16_t pc) {
  const auto [found, added] = origins_.try_emplace(pc);
  if (added) {
    found->second.label = machine_.label_at(pc);
    if (const auto place = machine_.source_at(pc)) found->second.place = to_string(*place);
  }
  return found->second;
}

void Trace::on_cycle(const BusCycle& cycle) {
  mind_cycle(cycle.cycle);
  if (!on_ || cycle.address < plan_.first || cycle.address > plan_.last) return;
  unsigned kinds = !cycle.vma ? TracePlan::kIdle : cycle.rw ? TracePlan::kRead : TracePlan::kWrite;
  if (cycle.fetch) kinds |= TracePlan::kFetch;
  if (unanswered(cycle)) kinds |= TracePlan::kNobody;
  if ((kinds & plan_.kinds) != 0) put(cycle_line(cycle, plan_.format));
}

void Trace::put(std::string line) {
  if (plan_.keep == 0) return write_(line);
  if (kept_.size() == plan_.keep) kept_.pop_front();
  kept_.push_back(std::move(line));
}

void Trace::finish() {
  for (const std::string& line : kept_) write_(line);
  kept_.clear();
}

}  // namespace prewire
