// Every rule of the machine and of the partner. Chips list theirs in peripherals/rules.cc.
#include <array>

#include "prewire/rule.h"

namespace prewire {

namespace {

constexpr Rule by_machine(std::string_view id, Weight weight, Sight sees, std::string_view title) {
  return {id, weight, sees, title, false};
}
constexpr Rule by_partner(std::string_view id, Weight weight, Sight sees, std::string_view title) {
  return {id, weight, sees, title, true};
}

constexpr std::array kRules{
    by_machine("decode-overlap", Weight::stop, Sight::wiring, "two chips answer at one address"),
    by_machine("select-no-logic", Weight::stop, Sight::wiring, "a select that is more than logic of the bus"),
    by_machine("never-selected", Weight::warn, Sight::wiring, "a chip that no address selects"),
    by_machine("selected-too-often", Weight::warn, Sight::wiring, "a chip that most addresses select"),
    by_machine("select-without-vma", Weight::warn, Sight::wiring, "a chip that dead cycles can reach"),
    by_machine("write-without-e", Weight::warn, Sight::wiring, "a write before E has risen"),
    by_machine("strobe-too-early", Weight::warn, Sight::wiring, "a strobe before the data are there"),
    by_machine("data-lines-crossed", Weight::warn, Sight::wiring, "data pins on lines of other numbers"),
    by_machine("open-data-line", Weight::warn, Sight::wiring, "a data pin that is on no data line"),
    by_machine("two-outputs", Weight::stop, Sight::wiring, "two outputs on one net"),
    by_machine("output-on-rail", Weight::stop, Sight::wiring, "an output tied to a supply"),
    by_machine("wrong-supply", Weight::stop, Sight::wiring, "a supply pin at the wrong voltage"),
    by_machine("fixed-pin", Weight::stop, Sight::wiring, "a pin of the processor that cannot be used that way"),
    by_machine("unwired-input", Weight::warn, Sight::wiring, "an input that nothing is wired to"),
    by_machine("undriven-input", Weight::warn, Sight::wiring, "a net of inputs that nothing drives or pulls"),
    by_machine("no-pull-up", Weight::warn, Sight::wiring, "an open drain that nothing pulls high"),
    by_machine("missing-data-lines", Weight::warn, Sight::wiring, "a memory without its other half"),
    by_machine("no-reset-vector", Weight::warn, Sight::wiring, "nothing at $FFFE-$FFFF"),
    by_machine("reset-vector", Weight::warn, Sight::wiring, "a reset vector that leads nowhere"),
    by_machine("same-data-lines", Weight::stop, Sight::wiring, "two halves of a byte on the same data lines"),
    by_machine("active-on-open-drain", Weight::warn, Sight::wiring,
               "an output that drives both ways on an open-drain line"),
    by_machine("input-disabled", Weight::warn, Sight::wiring, "an input that keeps its chip from working"),
    by_machine("input-held", Weight::warn, Sight::wiring, "a request for an interrupt that never ends"),
    by_machine("irq-on-nmi", Weight::warn, Sight::wiring, "requests that stay low on an input that looks for edges"),
    by_machine("latch-always-open", Weight::warn, Sight::wiring, "a latch that also follows what is meant for another"),
    by_machine("open-control-input", Weight::hint, Sight::wiring, "a control input that hangs open"),
    by_machine("open-end", Weight::warn, Sight::wiring, "a part with an end in the air"),
    by_machine("contact-without-effect", Weight::warn, Sight::wiring, "a contact that makes no difference"),
    by_machine("pulled-the-wrong-way", Weight::warn, Sight::wiring,
               "a resistor that pulls where a contact switches, too"),
    by_machine("wiper-on-rail", Weight::warn, Sight::wiring, "a potentiometer whose wiper is at a rail"),
    by_machine("led-reversed", Weight::warn, Sight::wiring, "an LED the wrong way round"),
    by_machine("digit-wrong-common", Weight::warn, Sight::wiring,
               "a digit of the other kind than its driver or its COM"),
    by_machine("digits-share-select", Weight::hint, Sight::wiring, "two scanned digits with one select"),
    by_machine("output-overload", Weight::warn, Sight::wiring, "an output that is asked for more than it gives"),
    by_machine("led-too-dim", Weight::warn, Sight::wiring, "an LED that gets too little current"),
    by_machine("logic-stuck", Weight::warn, Sight::wiring, "an output of logic that never changes"),
    by_machine("open-logic-input", Weight::hint, Sight::wiring, "an input of logic that is open"),
    by_machine("idle-chip", Weight::hint, Sight::wiring, "a chip that is not connected"),
    by_machine("repeated-end", Weight::warn, Sight::wiring, "a wire that names one end twice"),
    by_partner("led-current", Weight::warn, Sight::wiring, "a resistor that lets too much through an LED"),

    by_machine("undriven-read", Weight::warn, Sight::bus, "a read where no chip answers"),
    by_machine("undriven-lines", Weight::warn, Sight::bus, "a read with data lines that nobody drives"),
    by_machine("bus-contention", Weight::stop, Sight::bus, "two chips drive the data bus"),
    by_machine("unmapped-write", Weight::warn, Sight::bus, "a store that reaches no chip"),
    by_machine("rom-write", Weight::warn, Sight::bus, "a store into a ROM"),
    by_machine("uninitialised-read", Weight::warn, Sight::bus, "RAM is read before it is written"),
    by_machine("uninitialised-fetch", Weight::warn, Sight::bus, "RAM is executed before it is written"),
    by_partner("mirror-write", Weight::warn, Sight::bus, "a store through a mirror changes a byte in use"),

    by_machine("net-contention", Weight::stop, Sight::net, "outputs disagree on a net"),
    by_machine("net-unsettled", Weight::stop, Sight::net, "a ring of gates that does not come to rest"),
    by_partner("irq-masked", Weight::warn, Sight::net, "IRQ is low and the processor does not look"),
    by_partner("firq-masked", Weight::warn, Sight::net, "FIRQ is low and the processor does not look"),
    by_partner("nmi-not-armed", Weight::warn, Sight::net, "NMI falls before the MC6809 heeds it"),
    by_partner("bounce-counted", Weight::hint, Sight::net, "the program is told of each bounce of a contact"),
    by_partner("reset-held", Weight::warn, Sight::net, "RESET never rises"),
    by_partner("halt-held", Weight::warn, Sight::net, "HALT keeps the processor from its first instruction"),

    by_partner("flag-never-cleared", Weight::warn, Sight::chip, "a flag is polled, seen, and never cleared"),
    by_partner("rmw-clears-flag", Weight::hint, Sight::chip, "CLR or its like clears a flag by its read"),
    by_partner("edge-missed", Weight::warn, Sight::chip, "edges come faster than their handler"),
    by_partner("flag-unserved", Weight::warn, Sight::chip, "a flag stands, may not ask, and nobody reads it"),
    by_machine("port-bit-input", Weight::warn, Sight::chip,
               "a bit of a port is an input, and something hangs on it as on an output"),
    by_partner("segments-inverted", Weight::hint, Sight::chip, "lit and dark segments exchanged"),
    by_partner("segments-reversed", Weight::hint, Sight::chip, "segments in reverse order"),
    by_partner("digits-together", Weight::hint, Sight::chip, "a scan that selects several digits at once"),
    by_partner("no-character", Weight::hint, Sight::chip, "patterns of segments that are no characters"),
    by_partner("converter-never-started", Weight::hint, Sight::chip, "a free-running converter that nobody starts"),
    by_partner("output-on-contact", Weight::warn, Sight::chip, "an output on the line of a contact"),
    by_partner("handshake-open", Weight::hint, Sight::chip, "a handshake that nobody ends"),

    by_partner("undefined-opcode", Weight::stop, Sight::program, "a byte that is no instruction"),
    by_partner("inside-instruction", Weight::warn, Sight::program, "a jump into the middle of an instruction"),
    by_partner("runs-into-data", Weight::warn, Sight::program, "data are executed"),
    by_partner("runs-into-blank", Weight::warn, Sight::program, "an empty part of a ROM is executed"),
    by_partner("runs-into-device", Weight::warn, Sight::program, "a chip's register is executed"),
    by_partner("astray", Weight::warn, Sight::program, "the program runs where no code is"),
    by_partner("program-wrap", Weight::warn, Sight::program, "an instruction goes on at $0000"),
    by_partner("self-modifying", Weight::hint, Sight::program, "the program changes itself"),
    by_partner("index-wrap", Weight::warn, Sight::program, "an indexed address leaves memory"),
    by_partner("address-as-value", Weight::hint, Sight::program, "# before the name of a variable"),
    by_partner("register-never-loaded", Weight::warn, Sight::program, "an index register is used and was never loaded"),
    by_partner("number-as-address", Weight::hint, Sight::program, "a number without #"),
    by_partner("space-in-rom", Weight::warn, Sight::program, "variables that the source reserves in a ROM"),
    by_partner("space-without-memory", Weight::warn, Sight::program, "variables where no memory is"),
    by_partner("setdp-mismatch", Weight::warn, Sight::program, "SETDP and DP name different pages"),
    by_partner("daa-misplaced", Weight::warn, Sight::program, "DAA after something that is no addition"),
    by_partner("cpx-carry", Weight::warn, Sight::program, "a branch on the carry after CPX of the MC6800"),
    by_partner("wait-stuck", Weight::warn, Sight::program, "nothing can end the wait any more"),
    by_partner("no-progress", Weight::warn, Sight::program, "a loop waits for what cannot change"),

    by_partner("stack-never-set", Weight::warn, Sight::program, "the stack is used and S was never loaded"),
    by_partner("stack-outside-ram", Weight::warn, Sight::program, "a push where no RAM is"),
    by_partner("stack-into-program", Weight::warn, Sight::program, "a push over an instruction"),
    by_partner("stack-into-data", Weight::warn, Sight::program, "a push over a variable"),
    by_partner("stack-unbalanced", Weight::warn, Sight::program, "pushes and pulls of a subroutine do not balance"),
    by_partner("stack-overwritten", Weight::warn, Sight::program, "a return address that something has stored over"),
    by_partner("stack-grows", Weight::hint, Sight::program, "a stack that is lower each time"),
    by_partner("return-without-call", Weight::warn, Sight::program, "a return that no call belongs to"),
    by_partner("rts-in-handler", Weight::warn, Sight::program, "RTS at the end of an interrupt handler"),
    by_partner("rti-in-subroutine", Weight::warn, Sight::program, "RTI at the end of a subroutine"),

    by_partner("vector-not-code", Weight::warn, Sight::program, "a vector that leads to no instruction"),
    by_partner("vectors-exchanged", Weight::warn, Sight::program, "two vectors lead to each other's handlers"),
    by_partner("interrupt-without-stack", Weight::warn, Sight::program, "an interrupt before S was loaded"),
    by_partner("irq-storm", Weight::warn, Sight::program, "a handler that leaves IRQ low"),
    by_partner("firq-storm", Weight::warn, Sight::program, "a handler that leaves FIRQ low"),
    by_partner("handler-never-returns", Weight::warn, Sight::program, "an interrupt ends in a branch to itself"),
    by_partner("nmi-nested", Weight::warn, Sight::program, "NMI comes faster than it is served"),
    by_partner("wait-masked", Weight::warn, Sight::program, "WAI with its interrupts masked"),
    by_partner("firq-clobbers", Weight::warn, Sight::program, "a FIRQ handler changes registers"),
};

}  // namespace

std::string_view to_string(Sight sight) {
  switch (sight) {
    case Sight::wiring: return "wiring";
    case Sight::bus: return "bus";
    case Sight::net: return "net";
    case Sight::chip: return "chip";
    case Sight::program: return "program";
  }
  return "";
}

std::span<const Rule> rules() { return kRules; }

}  // namespace prewire
