// Accesses that look like a fault until the program shows what it wants with them: a test of memory reads what nobody
// has written and puts it back, a warm start looks for its mark, the end of the RAM is found by writing beyond it.
#pragma once

#include <cstdint>
#include <vector>

#include "clock/clock.h"
#include "prewire/archive.h"

namespace prewire {

/// One address in doubt. Part of the machine's state; whether it was told of is not.
struct Doubt {
  enum Kind : std::uint8_t { unwritten, nobody };
  static constexpr unsigned kPlaces = 4;

  Cycle read = -1, written = -1;  ///< the first time
  Cycle last = -1;                ///< the last time, where nobody answers
  std::uint32_t reads = 0, writes = 0;
  std::uint32_t cell = 0;
  std::uint16_t address = 0;
  std::uint16_t read_pc = 0, write_pc = 0;
  std::uint16_t places[kPlaces]{};  ///< instructions that have been there
  std::uint8_t place_count = 0;
  std::uint8_t kind = unwritten;
  std::uint8_t old = 0;    ///< what was there, or what the bus showed
  std::uint8_t value = 0;  ///< what the first write has put there
  std::uint8_t mark = 0;
  std::uint8_t has_mark : 1 = 0;
  std::uint8_t looked : 1 = 0;   ///< read again after a write, by another instruction
  std::uint8_t goes_on : 1 = 0;  ///< the next address was tried, too
  std::uint8_t unused : 5 = 0;

  Cycle since() const { return read < 0 || (written >= 0 && written < read) ? written : read; }
  /// Whether it has been written and looked at, as by a test for memory, and no loop goes there.
  bool answered() const { return kind == nobody && looked != 0 && goes_on == 0; }
};

class Doubts {
 public:
  /// Longer than a cold start takes to clear a small RAM.
  static constexpr Cycle kLongest = 65'536;
  /// After its answer a test for memory is over.
  static constexpr Cycle kAfter = 2'000;
  static constexpr std::size_t kMost = 16;

  bool empty() const { return list_.empty(); }
  const std::vector<Doubt>& list() const { return list_; }
  Doubt* find(Doubt::Kind kind, std::uint32_t cell);
  Doubt& open(Doubt::Kind kind, std::uint16_t address, std::uint32_t cell);
  void close(const Doubt& doubt);
  void clear() { list_.clear(); }

  /// What a write to a byte in doubt makes of it.
  enum class Verdict : std::uint8_t { open, meant, put_back, fault };
  static Verdict wrote(Doubt& doubt, std::uint16_t pc, std::uint8_t value, Cycle now);
  static void looked(Doubt& doubt, std::uint16_t pc);
  /// Whether that instruction has tried another address in vain. So it goes on beyond, and a test for memory would not.
  bool goes_on(std::uint16_t pc);
  /// An access where nobody answers or takes anything. A loop at one address is no test for memory.
  static Verdict tried(Doubt& doubt, std::uint16_t pc, bool write, std::uint8_t value, Cycle now);

  void archive(Archive& archive);

 private:
  std::vector<Doubt> list_;  // the oldest first
};

}  // namespace prewire
