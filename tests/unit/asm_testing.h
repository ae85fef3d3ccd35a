// What the tests of the assembler share: bytes, or what was wrong, as text that can be compared.
#pragma once

#include <fmt/format.h>

#include <string>
#include <string_view>

#include "prewire/assembler.h"

namespace prewire::testing {

/// `$0100: 86 05 3F` for each segment, then the remarks.
inline std::string bytes_of(const Image& image) {
  std::string text;
  for (const Segment& segment : image.segments) {
    text += fmt::format("${:04X}:", segment.start);
    for (const std::uint8_t byte : segment.bytes) text += fmt::format(" {:02X}", byte);
    text += '\n';
  }
  return text;
}

/// The bytes, or the text of the `InputError`.
inline std::string assembled(std::string_view source, const std::string& cpu = "mc6809") {
  try {
    return bytes_of(assemble(source, "lab.asm", {.cpu = cpu, .folder = {}, .root = {}}));
  } catch (const InputError& error) {
    return error.what();
  }
}

/// `line:column id` of each fault or remark.
inline std::string faults_of(std::string_view source, const std::string& cpu = "mc6809") {
  std::vector<Fault> faults;
  try {
    faults = assemble(source, "lab.asm", {.cpu = cpu, .folder = {}, .root = {}}).remarks;
  } catch (const InputError& error) {
    faults = error.faults();
  }
  std::string text;
  for (const Fault& fault : faults) {
    text += fmt::format("{}:{} {}\n", fault.place.line, fault.place.column, fault.id);
  }
  return text;
}

}  // namespace prewire::testing
