// A rain sensor: a bucket that tips when it is full, and closes a contact to ground for 20 ms each time.
#include <prewire/chip_library.h>

namespace {

enum Pin { kOut };
enum Tag : unsigned { kOver };
constexpr prewire::Picoseconds kClosed = 20'000'000'000;

class RainSensor final : public prewire::Chip {
 public:
  using Chip::Chip;

  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    return text == "tip" ? std::optional<std::int64_t>(1) : std::nullopt;
  }
  void input(std::int64_t /*value*/) override {
    socket().drive(kOut, prewire::open_low());
    socket().timer(kOver, socket().now() + socket().timebase().stamps(kClosed));
    socket().event("tip", ++tips_);
  }
  void on_timer(unsigned /*tag*/, prewire::Stamp /*when*/) override { socket().drive(kOut, prewire::release()); }
  void archive(prewire::Archive& archive) override { archive.number(tips_); }

 private:
  std::int64_t tips_ = 0;
};

prewire::ChipType rain_sensor() {
  prewire::ChipType type;
  type.name = "rain_sensor";
  type.title = "rain sensor with a tipping bucket";
  type.summary = "Pulls OUT to ground for 20 ms whenever its bucket tips.";
  type.pins = {{.name = "OUT", .kind = prewire::PinKind::open_drain}};
  type.input = "tip";
  type.events = {"tip"};
  type.make = [](prewire::Socket& socket, const prewire::Parameters&) { return std::make_unique<RainSensor>(socket); };
  return type;
}

void add(prewire::Registry& registry) { registry.add(rain_sensor()); }

}  // namespace

extern "C" const prewire::ChipLibrary prewire_chip_library{add};
