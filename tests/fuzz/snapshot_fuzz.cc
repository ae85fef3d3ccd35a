// Any bytes as a saved state, whole or as changes to a good one: refused with one fault and nothing changed, or taken,
// and then the machine runs on. The states of a small machine with one of each chip are the corpus.
//
// The first byte says which: below 64 the rest is a state with everything around it; else it is a list of changes to
// the good one, each of an offset (two bytes) and what stands there then (one).
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <vector>

#include "machine/hash.h"
#include "prewire/chips.h"
#include "prewire/machine.h"

namespace {

using namespace prewire;

constexpr const char* kMachine = R"({
  "machine": "fuzz", "cpu": { "type": "mc6809", "crystal": "4 MHz" },
  "chips": { "RAM": { "type": "mcm6810", "at": "$0000-$007F" }, "ROM": { "type": "2716", "at": "$F800-$FFFF" },
             "PIA": { "type": "mc6821", "at": "$4000-$4003" }, "OUT": { "type": "74ls374", "at": "$4010" },
             "IN": { "type": "74ls244" }, "ADC": { "type": "adc0804", "clock_r": "10 kOhm", "clock_c": "150 pF" },
             "HEX": { "type": "dm9368" }, "BCD": { "type": "74ls47" }, "D": { "type": "seven_segment" },
             "FLOAT": { "type": "potentiometer" }, "KEY": { "type": "button" }, "FULL": { "type": "led" },
             "SUPPLY": { "type": "voltage_source" }, "Y": { "type": "oscillator", "frequency": "50 kHz" },
             "R1": { "type": "resistor", "ohms": "330 Ohm" } },
  "wires": [ ["FLOAT.1", "GND"], ["FLOAT.3", "+5V"], ["FLOAT.wiper", "ADC.VIN+"], ["SUPPLY.OUT", "ADC.VIN-"],
             ["PIA.PA0..PA7", "ADC.DB0..DB7"], ["ADC.CS", "ADC.RD", "GND"], ["ADC.WR", "PIA.CA2"],
             ["ADC.INTR", "PIA.CA1"], ["PIA.PB0..PB3", "HEX.A0..A3"], ["PIA.PB4", "HEX.LE", "BCD.A"],
             ["HEX.a", "D.a"], ["HEX.b", "D.b"], ["D.COM", "GND"], ["Y.OUT", "PIA.CB1", "IN.1A1"], ["IN.1G", "GND"],
             ["IN.1Y1", "BCD.B"], ["R1.1", "+5V"], ["R1.2", "FULL.A"], ["FULL.K", "KEY.1"], ["KEY.2", "GND"],
             ["PIA.IRQA", "CPU.IRQ"], ["CPU.FIRQ", "CPU.NMI", "CPU.HALT", "CPU.DMA/BREQ", "+5V"],
             ["PIA.PB7", "CPU.MRDY"] ]
})";

Machine build() {
  LoadOptions options;
  options.run_faulty = true;
  Machine machine = Machine::from_text(kMachine, "fuzz", standard_chips(), options);
  // LDA #$2D; STA $4001; LDA #$7F; STA $4002; LDA #$3C; STA $4003; loop: STA $4010; INC $10; LDA $4000; STA $4002; BRA
  // loop
  const std::uint8_t code[] = {0x86, 0x2D, 0xB7, 0x40, 0x01, 0x86, 0x7F, 0xB7, 0x40, 0x02, 0x86, 0x3C, 0xB7, 0x40,
                               0x03, 0xB7, 0x40, 0x10, 0x0C, 0x10, 0xB6, 0x40, 0x00, 0xB7, 0x40, 0x02, 0x20, 0xF3};
  std::uint16_t address = 0xF800;
  for (const std::uint8_t byte : code) machine.poke(address++, byte);
  machine.poke(0xFFFE, 0xF8);
  machine.poke(0xFFFF, 0x00);
  machine.set("FLOAT", "1.7 V");
  machine.run_until(1'003);  // within an instruction
  machine.set("KEY", "pressed");
  machine.schedule("KEY", "released", machine.moment() + 9'000);
  machine.run_for(40);
  return machine;
}

/// With a length and a sum that are right.
void sign(std::vector<std::uint8_t>& bytes) {
  const std::uint64_t length = bytes.size() - 40;
  std::memcpy(&bytes[24], &length, sizeof length);
  Hash hash;
  hash.add(std::span<const std::uint8_t>(bytes).first(32));
  hash.add(std::span<const std::uint8_t>(bytes).subspan(40));
  const std::uint64_t sum = hash.value();
  std::memcpy(&bytes[32], &sum, sizeof sum);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static Machine machine = build();
  static const Snapshot kGood = machine.save();
  static const std::vector<std::uint8_t> kBytes = kGood.to_bytes();
  if (size == 0) return 0;
  std::vector<std::uint8_t> bytes;
  if (data[0] < 64) {
    bytes.assign(data + 1, data + size);
    if (data[0] % 2 == 1 && bytes.size() >= 40) sign(bytes);
  } else {
    bytes = kBytes;
    for (std::size_t at = 1; at + 2 < size; at += 3) {
      const std::size_t where = 48 + (data[at] + 256U * data[at + 1]) % (bytes.size() - 48);
      bytes[where] = data[at + 2];
    }
    sign(bytes);
  }
  try {
    machine.restore(Snapshot::from_bytes(bytes, "fuzz"));
    // What has been taken is what is saved.
    const Snapshot taken = machine.save();
    machine.restore(taken);
    if (!(machine.save() == taken)) __builtin_trap();
    machine.run_for(3'000);
    machine.set("KEY", "released");
    machine.set("FLOAT", "2 V");
    machine.run_for(1'000);
    machine.step_instruction();
    machine.restore(kGood);
  } catch (const InputError& error) {
    if (error.faults().size() != 1 || error.faults()[0].hint.empty()) __builtin_trap();
    if (!(machine.save() == kGood)) __builtin_trap();
  }
  return 0;
}
