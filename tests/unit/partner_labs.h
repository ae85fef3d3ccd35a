// Small labs for the lab partner: a machine file and a source, made on the fly.
#pragma once

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

#include "machine_fixture.h"
#include "prewire/partner.h"

namespace prewire::testing {

struct RuleLab {
  std::string rule;  ///< that the lab is about
  std::string name;
  bool triggers = true;
  /// Lines of source from `start` at $F800 on. Labels `irq`, `swi`, `nmi` and `firq` fill the vectors.
  std::string source;
  std::string chips{};  ///< more of them, as members of "chips"
  std::string wires{};  ///< as elements of "wires"
  Cycle cycles = 5'000;
  std::vector<std::pair<std::string, std::string>> inputs{};  ///< "KEY", "pressed@1000": parts, values, cycles
  std::string at{};                                           ///< label of the instruction that is to blame
  bool mc6809 = false;
  std::string memory = R"("RAM": {"type": "6116", "at": "$0000-$07FF"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"})";
  std::string end{};                ///< of the source, in place of the vectors
  std::vector<std::string> also{};  ///< other rules that are bound to speak, too
};
inline void PrintTo(const RuleLab& lab, std::ostream* out) { *out << lab.rule << " " << lab.name; }

inline bool defines(const std::string& source, const std::string& label) {
  return ("\n" + source).find("\n" + label + ":") != std::string::npos;
}

inline std::string source_of(const RuleLab& lab) {
  std::string text =
      fmt::format("        cpu {}\n        org $F800\n{}\n", lab.mc6809 ? "mc6809" : "mc6800", lab.source);
  if (!lab.end.empty()) return text + lab.end;
  text += "astray: bra astray\n";
  const auto vector = [&](const char* name) { return defines(lab.source, name) ? name : "astray"; };
  if (lab.mc6809) text += fmt::format("        org $FFF2\n        fdb astray,astray,{}\n", vector("firq"));
  text += fmt::format("        org $FFF8\n        fdb {},{},{},start\n", vector("irq"), vector("swi"), vector("nmi"));
  return text;
}

/// The machine with the partner at its side.
class LabRun {
 public:
  explicit LabRun(const RuleLab& lab, bool with_partner = true, const RuleWeights& weights = {})
      : folder_(make_folder()), machine(build(lab, weights)) {
    if (with_partner) partner = std::make_unique<Partner>(machine);
    for (const auto& [part, value] : lab.inputs) {
      const auto at = value.find('@');
      machine.schedule(part, value.substr(0, at), stamp_of(std::stoll(value.substr(at + 1))));
    }
  }
  ~LabRun() {
    partner.reset();
    std::filesystem::remove_all(folder_);
  }
  LabRun(const LabRun&) = delete;
  LabRun& operator=(const LabRun&) = delete;

  void run(Cycle cycles) {
    machine.run_for(cycles);
    if (partner) partner->conclude();
  }
  const Finding* find(std::string_view id) const {
    for (const Finding& finding : machine.findings()) {
      if (finding.id == id) return &finding;
    }
    return nullptr;
  }
  std::string said() const {
    std::string text;
    for (const Finding& finding : machine.findings()) {
      text += fmt::format("{}: {} [{}] at ${:04X}, cycle {}\n  {}\n", to_string(finding.weight), finding.message,
                          finding.id, finding.pc, finding.first, finding.hint);
    }
    const std::string folder = folder_.string() + "/";
    for (auto at = text.find(folder); at != std::string::npos; at = text.find(folder, at))
      text.erase(at, folder.size());
    return text;
  }

 private:
  static std::filesystem::path make_folder() {
    static std::atomic<int> number = 0;
    const auto folder = std::filesystem::temp_directory_path() / fmt::format("prewire-lab-{}-{}", getpid(), number++);
    std::filesystem::create_directories(folder);
    return folder;
  }
  Machine build(const RuleLab& lab, const RuleWeights& weights) const {
    std::ofstream(folder_ / "lab.asm") << source_of(lab);
    // What the lab does not wire is at rest.
    std::string wires = lab.wires;
    std::vector<std::string> inputs{"IRQ", "NMI", "HALT"};
    if (lab.mc6809) inputs.insert(inputs.end(), {"FIRQ", "DMA/BREQ", "MRDY"});
    for (const std::string& pin : inputs) {
      if (wires.find("CPU." + pin + "\"") != std::string::npos) continue;
      wires += fmt::format("{}[\"CPU.{}\", \"+5V\"]", wires.empty() ? "" : ", ", pin);
    }
    std::ofstream(folder_ / "lab.json") << fmt::format(
        R"({{"machine": "lab", "cpu": {{{}}}, "chips": {{{}{}{}}}, "wires": [{}], "program": ["lab.asm"]}})",
        lab.mc6809 ? R"("type": "mc6809", "crystal": "4 MHz")" : R"("type": "mc6800", "clock": "1 MHz")", lab.memory,
        lab.chips.empty() ? "" : ", ", lab.chips, wires);
    LoadOptions options;
    options.run_faulty = true;
    options.weights = weights;
    return Machine::from_file(folder_ / "lab.json", bench_registry(), options);
  }

  std::filesystem::path folder_;

 public:
  Machine machine;
  std::unique_ptr<Partner> partner;
};

}  // namespace prewire::testing
