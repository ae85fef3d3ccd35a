#include "asm/layout.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace prewire::assembler {

using Op = Statement::Op;

void Layout::run() {
  for (Statement& statement : program_.statements) {
    if (statement.op == Op::instruction) Encoder::shorten(statement);
  }
  int number = 1;
  while (pass(number) && number < kMostPasses) ++number;
  emit(number + 1);
}

Value Layout::value_of(int node, int line, bool final_pass) const {
  return program_.evaluate(node, number_, location_, line, final_pass ? &program_.faults : nullptr);
}

Value Layout::operand_of(const Statement& statement, bool final_pass) const {
  if (statement.operand.value < 0) return {0, true, true, false};
  return value_of(statement.operand.value, statement.line, final_pass);
}

void Layout::fault(const char* id, const Statement& statement, int node, Words words) {
  const std::size_t offset = program_.nodes[static_cast<std::size_t>(node)].offset;
  program_.faults.report(id, Weight::stop, {statement.line, offset}, std::move(words));
}

bool Layout::define(const Statement& statement, int number, std::int64_t value) {
  if (statement.label < 0) return false;
  Symbol& symbol = program_.symbols[statement.label];
  const bool changed = !symbol.known || symbol.value != value;
  symbol.value = value;
  symbol.known = true;
  symbol.early = true;
  symbol.pass = number;
  return changed;
}

bool Layout::assign(Statement& statement, int number, bool final_pass) {
  const int node = program_.values[static_cast<std::size_t>(statement.first)];
  const Value value = value_of(node, statement.line, final_pass);
  Symbol& symbol = program_.symbols[statement.label];
  const bool changed = symbol.known != value.known || symbol.value != value.number;
  statement.result = symbol.value = value.number;
  symbol.known = value.known;
  symbol.early = value.early;
  symbol.moves = value.moves;
  symbol.pass = number;
  // A variable changes within a pass; what it does to addresses is seen there.
  return changed && statement.op == Op::equ;
}

std::int64_t Layout::directive(const Statement& statement, int index, std::int64_t least, std::int64_t most,
                               std::int64_t fallback, bool final_pass) {
  const int node = program_.values[static_cast<std::size_t>(statement.first + index)];
  const Value value = value_of(node, statement.line, final_pass);
  const bool good = value.known && value.early && value.number >= least && value.number <= most;
  if (good) return value.number;
  if (final_pass && value.known && !value.early) {
    fault("asm-forward", statement, node,
          {.what = "this must be known where it stands",
           .expected = "names that are defined above this line",
           .hint = "move the definitions up"});
  } else if (final_pass && value.known) {
    fault("asm-range", statement, node,
          {.what = "the value is out of range",
           .expected = fmt::format("{} to {} (${:X})", least, most, most),
           .found = shown_value(value.number),
           .hint = statement.op == Op::setdp ? "SETDP takes the page: the high byte of the addresses" : ""});
  }
  return fallback;
}

std::int64_t Layout::space(const Statement& statement, bool final_pass) {
  return directive(statement, statement.op == Op::fill ? 1 : 0, 0, kEnd, 0, final_pass);
}

bool Layout::pass(int number) {
  number_ = number;
  location_ = 0;
  direct_page_ = 0;
  bool changed = false;
  for (Statement& statement : program_.statements) {
    program_.watch.tick();
    statement.address = static_cast<std::uint32_t>(location_);
    if (statement.op == Op::org) {
      location_ = directive(statement, 0, 0, kEnd - 1, location_, false);
      statement.result = location_;
    }
    if (statement.op == Op::equ || statement.op == Op::set) {
      changed = assign(statement, number, false) || changed;
      continue;
    }
    changed = define(statement, number, location_) || changed;
    switch (statement.op) {
      case Op::instruction: {
        const int width = statement.width;
        Encoder::grow(statement, operand_of(statement, false), direct_page_);
        if (number > kPatience) Encoder::widen(statement);
        changed = changed || statement.width != width;
        statement.size = Encoder::size(statement);
        break;
      }
      case Op::fcb: statement.size = static_cast<std::uint32_t>(statement.count); break;
      case Op::fdb: statement.size = 2 * static_cast<std::uint32_t>(statement.count); break;
      case Op::fcc: statement.size = static_cast<std::uint32_t>(statement.text.size()); break;
      case Op::rmb:
      case Op::fill: statement.size = static_cast<std::uint32_t>(space(statement, false)); break;
      case Op::setdp: direct_page_ = static_cast<int>(directive(statement, 0, 0, 255, direct_page_, false)); break;
      case Op::bad: statement.size = statement.mnemonic == nullptr ? 0 : 2; break;  // near enough to go on
      default: break;
    }
    // Far behind the end nothing matters any more.
    location_ = std::min<std::int64_t>(location_ + statement.size, 2 * kEnd);
  }
  return changed;
}

void Layout::use(std::size_t address) {
  const std::size_t page = address / kPage;
  if (used_[page]) return;
  used_[page] = true;
  std::fill_n(owner_.begin() + static_cast<std::ptrdiff_t>(page * kPage), kPage, -1);
  std::fill_n(memory_.begin() + static_cast<std::ptrdiff_t>(page * kPage), kPage, std::uint8_t{0});
}

void Layout::place(int index, std::span<const std::uint8_t> bytes) {
  const Statement& statement = program_.statements[static_cast<std::size_t>(index)];
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    const std::size_t at = statement.address + i;
    if (at >= kEnd) return;  // reported
    use(at);
    if (owner_[at] >= 0) {
      const Statement& other = program_.statements[static_cast<std::size_t>(owner_[at])];
      program_.faults.fault("asm-overlap", {statement.line, 0},
                            {.what = fmt::format("this gives a byte for ${:04X}, and {} has given one already", at,
                                                 program_.source.shown(other.line)),
                             .expected = "one byte for each address",
                             .hint = "look at the ORG above, or shorten what runs into it"});
      return;
    }
    owner_[at] = index;
    memory_[at] = bytes[i];
  }
}

void Layout::data(int index) {
  const Statement& statement = program_.statements[static_cast<std::size_t>(index)];
  std::vector<std::uint8_t> bytes;
  const bool word = statement.op == Op::fdb;
  for (int i = 0; i < (statement.op == Op::fill ? 1 : statement.count); ++i) {
    const int node = program_.values[static_cast<std::size_t>(statement.first + i)];
    const Value value = value_of(node, statement.line, true);
    const std::int64_t least = word ? -32768 : -128, most = word ? 65535 : 255;
    if (value.known && (value.number < least || value.number > most)) {
      fault("asm-range", statement, node,
            {.what = fmt::format("the value does not fit into {} bits", word ? 16 : 8),
             .expected = fmt::format("{} to {}", least, most),
             .found = shown_value(value.number),
             .hint = word ? "" : "FDB makes 16 bits"});
    }
    if (word) bytes.push_back(static_cast<std::uint8_t>(value.number >> 8));
    bytes.push_back(static_cast<std::uint8_t>(value.number));
  }
  // Behind the end, which is reported, there is nothing to fill.
  const std::int64_t room = std::max<std::int64_t>(kEnd - statement.address, 0);
  if (statement.op == Op::fill) bytes.resize(std::min<std::size_t>(statement.size, room), bytes.front());
  place(index, bytes);
}

void Layout::emit(int number) {
  number_ = number;
  location_ = 0;
  direct_page_ = 0;
  for (std::size_t i = 0; i < program_.statements.size() && !program_.faults.full(); ++i) {
    program_.watch.tick();
    Statement& statement = program_.statements[i];
    const int index = static_cast<int>(i);
    location_ = statement.address;
    if (statement.op == Op::org) {
      location_ = directive(statement, 0, 0, kEnd - 1, location_, true);
      past_end_ = false;
    }
    if (statement.op == Op::equ || statement.op == Op::set) {
      assign(statement, number, true);
      continue;
    }
    define(statement, number, location_);
    if (location_ + statement.size > kEnd && !past_end_) {
      past_end_ = true;
      program_.faults.fault("asm-past-end", {statement.line, 0},
                            {.what = "this goes past $FFFF, the last address",
                             .expected = fmt::format("room for {}", counted(statement.size, "byte")),
                             .found = fmt::format("{} from ${:04X} on", std::max<std::int64_t>(kEnd - location_, 0),
                                                  static_cast<std::uint32_t>(location_)),
                             .hint = "look at the ORG above"});
    }
    switch (statement.op) {
      case Op::instruction: {
        const Value value = operand_of(statement, true);
        if (value.known) place(index, encoder_.encode(statement, value, direct_page_));
        break;
      }
      case Op::fcb:
      case Op::fdb: data(index); break;
      case Op::fill:
        space(statement, true);
        if (statement.size > 0) data(index);
        break;
      case Op::fcc:
        place(index, {reinterpret_cast<const std::uint8_t*>(statement.text.data()), statement.text.size()});
        break;
      case Op::rmb: space(statement, true); break;
      case Op::setdp: direct_page_ = static_cast<int>(directive(statement, 0, 0, 255, direct_page_, true)); break;
      default: break;
    }
  }
  if (program_.entry >= 0) {
    const Value entry = value_of(program_.entry, program_.entry_line, true);
    if (entry.known && (entry.number < 0 || entry.number >= kEnd)) {
      program_.faults.fault("asm-range", {program_.entry_line, 0},
                            {.what = "the program cannot start there",
                             .expected = "an address from $0000 to $FFFF",
                             .found = std::to_string(entry.number)});
    }
  }
  // What is unknown for no other reason refers to itself.
  if (program_.faults.any()) return;
  for (const Statement& statement : program_.statements) {
    if (statement.op != Op::equ || program_.symbols[statement.label].known) continue;
    program_.faults.fault(
        "asm-circular", {statement.line, 0},
        {.what = fmt::format("the value of {} does not settle", program_.symbols[statement.label].name),
         .expected = "a value that comes from numbers, labels, and names defined above",
         .hint = "does an EQU refer to itself, by way of others?"});
  }
}

}  // namespace prewire::assembler
