// Sees what a person at the machine would see, as it changes.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/eye.h"
#include "prewire/machine.h"
#include "prewire/stimulus.h"

namespace prewire {

class Onlooker final : public Observer {
 public:
  /// One line of the timeline.
  struct Event {
    enum class Kind : std::uint8_t { input, display, led, finding };
    Kind kind = Kind::input;
    Stamp when = 0;
    std::string subject{};         ///< part, group of digits, LED, or id of a finding
    std::string text{};            ///< value, what is shown, or message
    Weight weight = Weight::hint;  ///< findings only, as are the hint and the place
    std::string hint{};
    std::uint16_t pc = 0;
    std::size_t finding = 0;  ///< counts in `Machine::findings`
  };

  /// `inputs` are for the timeline; the machine has them already. It must outlive the onlooker.
  Onlooker(Machine& machine, std::vector<TimedInput> inputs);
  ~Onlooker() override { machine_.unwatch(*this); }

  unsigned wants() const override { return kFindings; }
  void on_finding(const Finding& finding) override;

  /// Takes in what is to be seen. Call it every `Eye::kGlance`.
  void look();
  /// What has happened and was not taken yet, in order of time. What is younger than `kSteady` waits for the next call,
  /// since something may turn out to have happened before it.
  std::vector<Event> take();
  /// Switches the machine off and on. Its own time begins again; that of the timeline goes on.
  void power_cycle(std::uint64_t seed);
  /// Since the machine was first switched on.
  Stamp moment() const { return before_ + machine_.moment(); }
  /// All that is left, at the end.
  std::vector<Event> take_rest();

  /// What a group of digits shows.
  const std::string& text(std::string_view group) const { return find(group).shown(); }
  /// Whether it has shown something for long enough to be seen.
  bool steady(std::string_view group) const { return find(group).known; }
  struct Lit {
    std::string name;
    bool on;
  };
  std::vector<Lit> leds() const;
  /// Inputs that have not been applied yet.
  std::size_t inputs_to_come() const;

  /// What stays for this long has been seen: one picture fades into another for as long as the eye remembers.
  static constexpr Picoseconds kSteady = Eye::kPersistence;

 private:
  /// A group of digits or an LED.
  struct Sight {
    Event::Kind kind = Event::Kind::display;
    std::string name{};
    std::size_t chip = 0, lamp = 0;  // of an LED
    std::string now{};               // at the last look
    Stamp since = 0;                 // for how long it has looked like this
    std::string steady{};
    bool known = false;  // it has been steady once

    const std::string& shown() const { return known ? steady : now; }
  };
  void add(Sight sight);
  void take_in(const Finding& finding, std::size_t number);
  const Sight& find(std::string_view group) const;
  std::string show(const Sight& sight) const;
  std::vector<Event> take_until(Stamp end);
  void drop_consequences();

  Machine& machine_;
  std::vector<TimedInput> inputs_;
  std::size_t told_ = 0;  // of `inputs_`
  Stamp before_ = 0;      // that passed before the machine was last switched on
  Eye eye_;
  std::vector<Sight> sights_;
  std::vector<Event> events_;
};

/// "input", "display", "led" or "finding".
std::string_view to_string(Onlooker::Event::Kind kind);

}  // namespace prewire
