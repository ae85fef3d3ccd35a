// Loops that wait for something that cannot come. Looked for now and then, since it costs.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "partner/scene.h"
#include "partner/wake_rules.h"

namespace prewire::partner {

class LoopRules {
 public:
  /// What may happen while the loop runs.
  enum class Around {
    nothing,     ///< nothing is due, and no interrupt can come
    requests,    ///< nothing is due; an interrupt could come, if anything asked
    everything,  ///< then only a loop is judged that looks at nothing but registers
  };

  LoopRules(Scene& scene, WakeRules& wake) : scene_(scene), wake_(wake) {}

  bool looking() const { return left_ > 0; }
  /// Begins to look. `since`: when the program last did something that it had not done before.
  void begin(const Step& step, Around around, Cycle since);
  void look(const Step& step);
  void give_up() { left_ = 0; }

 private:
  /// A register of a chip that came into an accumulator, or only into the flags, and which of its bits were looked at.
  struct Followed {
    std::vector<std::size_t> polls{};  // in `polls_`
    unsigned value = 0xFF;             // its bits that are still there
    unsigned tested = 0xFF;            // those that the flags tell of
    int shift = 0;                     // to the left
    int carried = -1;                  // bit that is in the carry
  };
  enum : std::size_t { kA, kB, kFlags };

  bool access(const Step& step);
  void poll(const Step& step, std::uint16_t address);
  void follow(const Step& step);
  void decide(int opcode);
  unsigned original(const Followed& at, unsigned bits) const;
  void told(const Step& step);
  std::vector<std::uint16_t> registers(const Cpu& cpu) const;

  Scene& scene_;
  WakeRules& wake_;
  Around around_ = Around::nothing;
  Cycle since_ = 0;
  int rounds_ = 0;
  int left_ = 0;  // instructions to look at
  int turn_ = 0;  // those of a turn
  std::uint16_t start_ = 0, lowest_ = 0;
  std::vector<std::uint16_t> before_;
  bool tests_ = false;           // there is a conditional branch in it
  bool stores_ = false;          // into RAM
  bool unsure_ = false;          // the byte goes ways that nobody follows
  std::int32_t waits_for_ = -1;  // an address of RAM that it reads
  std::vector<WakeRules::Poll> polls_;
  std::array<Followed, 3> followed_;
  std::size_t latest_ = kFlags;  // what the flags tell of
};

}  // namespace prewire::partner
