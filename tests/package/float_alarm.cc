// An embedding program: loads the rain barrel lab, brings a chip of its own, turns the float, reads the digits.
#include <prewire/chips.h>
#include <prewire/machine.h>
#include <prewire/version.h>

#include <iostream>
#include <string>

namespace {

/// A buzzer driver that listens to a net and counts how often it went low.
class Alarm final : public prewire::Chip {
 public:
  explicit Alarm(prewire::Socket& socket) : Chip(socket) {}
  void on_edge(int /*pin*/, prewire::Level level, prewire::Stamp /*when*/) override {
    if (level != prewire::Level::low) return;
    ++count_;
    socket().event("alarm", count_);
  }
  void archive(prewire::Archive& archive) override { archive(count_); }

 private:
  std::int64_t count_ = 0;
};

prewire::ChipType alarm_type() {
  prewire::ChipType type;
  type.name = "float_alarm";
  type.title = "Float alarm";
  type.summary = "Counts how often its input goes low.";
  type.pins = {{.name = "IN", .kind = prewire::PinKind::input, .listens = true}};
  type.events = {"alarm"};
  type.make = [](prewire::Socket& socket, const prewire::Parameters&) { return std::make_unique<Alarm>(socket); };
  return type;
}

struct Listener final : prewire::Observer {
  unsigned wants() const override { return kEvents; }
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, prewire::Stamp) override {
    if (event == "alarm") std::cout << chip << ": alarm " << value << '\n';
  }
};

}  // namespace

int main(int argc, char** argv) try {
  if (argc != 2) {
    std::cerr << "usage: float_alarm MACHINE\n";
    return 2;
  }
  prewire::Registry chips = prewire::standard_chips();
  chips.add(alarm_type());
  prewire::Machine machine = prewire::Machine::from_file(argv[1], chips);
  Listener listener;
  machine.watch(listener);

  machine.set("FLOAT", "1.28 V");
  machine.run_for(machine.timebase().cycles(20'000'000'000));  // 20 ms
  std::cout << "level " << machine.display("LEVEL") << '\n';
  machine.set("FLOAT", "4.2 V");
  machine.run_for(machine.timebase().cycles(20'000'000'000));
  std::cout << "level " << machine.display("LEVEL") << '\n';
  return 0;
} catch (const prewire::InputError& error) {
  std::cerr << error.what();
  return 3;
}
