#include "prewire/partner.h"

#include "partner/code_rules.h"
#include "partner/line_rules.h"
#include "partner/loop_rules.h"
#include "partner/op.h"
#include "partner/scene.h"
#include "partner/stack_rules.h"
#include "partner/store_rules.h"
#include "partner/wiring_rules.h"

namespace prewire {

using namespace partner;

struct Partner::Impl {
  // Instructions between two looks at what takes time.
  static constexpr unsigned kLook = 4096;
  static constexpr std::uint32_t kCare = kMoves | kWrites | kSign;

  explicit Impl(Machine& machine) : scene(machine), ops(scene.mc6809), stores(scene), stack(scene, stores) {}

  void instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) {
    if (cycle < last) forget();
    last = cycle;
    if (opcode < 0) {
      // A call may be followed by an interrupt at once. After RESET nothing of it matters.
      if (stack.arriving() && opcode != static_cast<int>(Entry::reset)) stack.arrive(cpu, pc);
      stack.enter(cpu, static_cast<Entry>(opcode), before_op != nullptr && before_op->has(kWait), pc);
      before_op = nullptr;
      loops.give_up();
      return;
    }
    executed = true;
    if (stack.arriving()) stack.arrive(cpu, pc);
    const Op* op = &ops.of(0, opcode);
    std::uint16_t operand = static_cast<std::uint16_t>(pc + 1);
    if (op->traits == kPrefix) {
      op = &ops.of(opcode == 0x10 ? 1 : 2, scene.peek(operand));
      ++operand;
    }
    const Step step{cpu, *op, pc, operand, opcode, cycle};
    if (scene.marks[pc] != (Scene::kStart | opcode)) code.first_visit(step, before_op, before_pc);
    if (op->has(kCare) || op->indexed()) care(step);
    if (++count % kLook == 0) look(step);
    if (loops.looking()) loops.look(step);
    before_op = op;
    before_pc = pc;
    before_operand = operand;
  }

  void care(const Step& step) {
    const Op& op = step.op;
    if (op.has(kMoves)) stack.move(step);
    if (op.has(kWait)) lines.wait(step);
    if (op.has(kWrites) || (op.indexed() && op.has(kRead))) stores.access(step);
    if (op.has(kSign) && lines.flag_pending() && before_op != nullptr && before_op->has(kRead)) {
      lines.sign_tested(step, {step.cpu, *before_op, before_pc, before_operand, 0, step.cycle});
    }
  }

  void look(const Step& step) {
    lines.look(step.cpu, step.cycle, stack.in_handler());
    if (!lines.may_interrupt(scene.cc(step.cpu))) loops.begin(step);
  }

  /// The machine was put back into its past.
  void forget() {
    stack = StackRules(scene, stores);
    stores = StoreRules(scene);
    lines.forget();
    loops.give_up();
    before_op = nullptr;
    scene.marks.fill(0);
    scene.stack_set = true;
    scene.saw_reset = false;
    executed = false;
  }

  Scene scene;
  const Ops ops;
  CodeRules code{scene};
  StoreRules stores;
  StackRules stack;
  LineRules lines{scene};
  LoopRules loops{scene};
  const Op* before_op = nullptr;
  std::uint16_t before_pc = 0, before_operand = 0;
  Cycle last = 0;
  unsigned count = 0;
  bool executed = false;
};

Partner::Partner(Machine& machine) : impl_(std::make_unique<Impl>(machine)) {
  look_at_wiring(impl_->scene);
  machine.watch(*this);
}

Partner::~Partner() { impl_->scene.machine.unwatch(*this); }

void Partner::on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) {
  impl_->instruction(cpu, pc, opcode, cycle);
}

void Partner::on_net(std::string_view net, const NetState& state, Stamp when) { impl_->lines.on_net(net, state, when); }

void Partner::on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) {
  impl_->lines.on_event(chip, event, value, when, impl_->before_op, impl_->before_pc);
}

void Partner::conclude() {
  const Machine& machine = impl_->scene.machine;
  impl_->lines.look(machine.cpu(), machine.now(), impl_->stack.in_handler());
  impl_->lines.conclude(impl_->executed);
}

}  // namespace prewire
