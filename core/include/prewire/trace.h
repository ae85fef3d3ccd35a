// What a machine does, cycle by cycle or instruction by instruction, as text for people and for other tools.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "prewire/bus.h"
#include "prewire/watch.h"

namespace prewire {

class Machine;

enum class TraceOf : std::uint8_t { cycles, instructions };

enum class TraceFormat : std::uint8_t {
  text,        ///< columns for people
  csv,         ///< RFC 4180, with a header line
  json_lines,  ///< one JSON object in each line
};

/// A moment in a run: the beginning of a cycle, or each time the instruction at an address is about to be executed.
struct TraceMoment {
  std::optional<std::uint16_t> address{};
  Cycle cycle = 0;  ///< without an address
};

/// What goes into a trace.
struct TracePlan {
  /// Kinds of bus cycles; a cycle is of one kind only, but `fetch` and `nobody` may come with `read`.
  enum Kind : unsigned {
    kFetch = 1,  ///< first cycle of an instruction
    kRead = 2,   ///< any read, fetches too
    kWrite = 4,
    kIdle = 8,     ///< without a valid address
    kNobody = 16,  ///< a read to which not all data lines were driven
    kAll = kRead | kWrite | kIdle,
  };
  TraceOf of = TraceOf::cycles;
  TraceFormat format = TraceFormat::text;
  unsigned kinds = kAll;                   ///< a cycle of any of these; of cycles only
  std::uint16_t first = 0, last = 0xFFFF;  ///< addresses: of the bus, or of the instruction
  std::optional<TraceMoment> from{},
      until{};           ///< begins at the one and ends before the other; again, if they come again
  std::size_t keep = 0;  ///< only the last so many; 0: all
};

/// Writes lines as things happen, or keeps the last ones. docs/watching.md describes the columns.
class Trace final : public Observer {
 public:
  using Write = std::function<void(std::string_view)>;

  /// The machine must outlive it. `write` gets whole lines; the header, if there is one, at once.
  Trace(const Machine& machine, const TracePlan& plan, Write write);

  unsigned wants() const override;
  void on_cycle(const BusCycle& cycle) override;
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override;

  /// Writes the lines that were kept back.
  void finish();

  /// The line that begins a trace of this kind; a JSON line begins with it.
  static std::string_view mark(const TracePlan& plan);

 private:
  /// What the source says of an address.
  struct Origin {
    std::string_view label;
    std::string place;  ///< "gauge.asm:42"
  };

  void put(std::string line);
  void mind_cycle(Cycle cycle);
  const Origin& origin(std::uint16_t pc);

  const Machine& machine_;
  const TracePlan plan_;
  const Write write_;
  bool on_;
  bool from_over_ = false, until_over_ = false;  // moments that come once
  std::deque<std::string> kept_;
  std::map<std::uint16_t, Origin> origins_;  // looked up once: the search is long, and programs do not change
};

}  // namespace prewire
