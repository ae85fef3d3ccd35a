// One function per chip source, so that the list in chips.cc can name it.
#pragma once

#include <span>
#include <vector>

#include "prewire/chip.h"

namespace prewire::chips {

std::vector<ChipType> static_ram();    // static_ram.cc: MCM6810, 6116, 62256, 2112, 2114
std::vector<ChipType> rom();           // rom.cc: 2716, 2732, 2764, 27256
ChipType mc6821();                     // mc6821.cc
std::vector<ChipType> adc080x();       // adc080x.cc: ADC0801 to ADC0805
ChipType seven_segment();              // seven_segment.cc
ChipType dm9368();                     // dm9368.cc
std::vector<ChipType> bcd_decoder();   // bcd_decoder.cc: 74LS47, 74LS48
ChipType led();                        // led.cc
ChipType toggle_switch();              // toggle_switch.cc
ChipType push_button();                // push_button.cc
ChipType potentiometer();              // potentiometer.cc
ChipType voltage_source();             // voltage_source.cc
ChipType resistor();                   // resistor.cc
ChipType oscillator();                 // oscillator.cc
std::vector<ChipType> octal_latch();   // octal_latch.cc: 74LS373, 74LS374, 74LS273
std::vector<ChipType> octal_buffer();  // octal_buffer.cc: 74LS240, 74LS244
std::vector<ChipType> gates();         // gates.cc: 74LS00, 02, 04, 06, 07, 08, 10, 14, 20, 30, 32, 86
std::vector<ChipType> line_decoder();  // line_decoder.cc: 74LS138, 74LS139, 74LS145, 74LS154
ChipType priority_encoder();           // priority_encoder.cc: 74LS148
std::vector<ChipType> bus_buffer();    // bus_buffer.cc: 74LS125, 74LS126, 74LS245
ChipType data_selector();              // data_selector.cc: 74LS257

std::span<const Rule> rules();  // rules.cc

}  // namespace prewire::chips
