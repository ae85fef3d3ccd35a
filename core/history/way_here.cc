// The last instructions before now.
#include <fmt/format.h>

#include "history/past.h"

namespace prewire {

std::vector<PastInstruction> Machine::way_here(std::size_t count) {
  struct Recorder final : Observer {
    unsigned wants() const override { return kInstructions; }
    void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
      std::string text = opcode < 0 ? fmt::format("({})", to_string(static_cast<Entry>(opcode)))
                                    : disassemble(cpu.type(), pc, machine->code_at(pc)).text;
      past.push_back({cycle, pc, opcode, to_string(cpu), std::move(text)});
      if (past.size() > 2 * keep) past.erase(past.begin(), past.end() - static_cast<std::ptrdiff_t>(keep));
    }
    const Impl* machine = nullptr;
    std::size_t keep = 0;
    std::vector<PastInstruction> past;
  };
  Impl::Act act(*impl_, "Machine::way_here");
  if (count == 0) return {};
  Recorder recorder;
  recorder.machine = impl_.get();
  recorder.keep = count;
  std::vector<PastInstruction> past;
  Past& known = Past::of(*impl_);
  Past::Again again(known, recorder);
  for (Cycle end = now(); past.size() < count && end > known.begin();) {
    const Cycle begin = again.rewind(end - 1);
    if (!again.run(end)) break;
    past.insert(past.begin(), recorder.past.begin(), recorder.past.end());
    recorder.past.clear();
    end = begin;
  }
  again.finish();
  if (past.size() > count) past.erase(past.begin(), past.end() - static_cast<std::ptrdiff_t>(count));
  return past;
}

}  // namespace prewire
