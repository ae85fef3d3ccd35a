// What chips find fault with: one row for each id that a chip passes to `Socket::finding`.
#include <array>

#include "chips.h"

namespace prewire::chips {

namespace {

constexpr Rule by_chip(std::string_view id, Weight weight, std::string_view title) {
  return {id, weight, Sight::chip, title, false};
}

constexpr std::array kRules{
    by_chip("clock-too-fast", Weight::stop, "an oscillator too fast to be followed"),
    by_chip("floating-input", Weight::warn, "an input is read while nobody drives it"),
    by_chip("uncertain-input", Weight::warn, "an input is read between low and high"),
    by_chip("port-still-input", Weight::warn, "a port is written and has no outputs"),
    by_chip("ddr-not-port", Weight::warn, "the direction register is used like the port"),
    by_chip("port-registers-mixed", Weight::warn, "a control register is written as if it were a port"),
    by_chip("handshake-flag-set", Weight::warn, "a handshake begins while the answer of the last one stands"),
    by_chip("irq-unwired", Weight::warn, "an interrupt request that nothing is wired to"),
    by_chip("open-line-enabled", Weight::hint, "an open control line that may interrupt"),
    by_chip("edge-lost", Weight::hint, "an edge comes too early to count"),
    by_chip("converter-no-clock", Weight::warn, "a conversion without a clock"),
    by_chip("converter-clock", Weight::warn, "a converter is clocked too fast or too slowly"),
    by_chip("converter-input-range", Weight::warn, "a voltage beyond what a converter takes"),
    by_chip("converter-negative", Weight::warn, "a converter whose VIN- is above its VIN+"),
    by_chip("converter-span", Weight::hint, "the whole reference at VREF/2"),
    by_chip("converter-no-result", Weight::warn, "a converter is read before its first result"),
    by_chip("converter-busy", Weight::hint, "a converter is read during a conversion"),
    by_chip("converter-restarted", Weight::warn, "conversions are cut short by the next start"),
    by_chip("converter-restart-early", Weight::hint, "a converter is started as its INTR falls"),
    by_chip("converter-unread", Weight::hint, "results of a converter that nobody reads"),
    by_chip("latch-setup", Weight::warn, "data change as a latch takes them"),
    by_chip("latch-never-clocked", Weight::hint, "data that a latch never takes"),
    by_chip("digit-beyond-nine", Weight::warn, "a number above nine on a decimal digit"),
    by_chip("decoder-blanked", Weight::hint, "a decoder whose BI keeps all numbers dark"),
    by_chip("digit-never-lit", Weight::hint, "a digit of a scanned display that never gets its turn"),
    by_chip("display-flicker", Weight::warn, "a digit is lit less than 50 times a second"),
    by_chip("scan-stopped", Weight::hint, "one digit of a multiplexed display stays on"),
    by_chip("led-no-resistor", Weight::warn, "nothing limits the current through an LED"),
};

}  // namespace

std::span<const Rule> rules() { return kRules; }

}  // namespace prewire::chips
