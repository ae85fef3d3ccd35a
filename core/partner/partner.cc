#include "prewire/partner.h"

#include "partner/code_rules.h"
#include "partner/line_rules.h"
#include "partner/loop_rules.h"
#include "partner/op.h"
#include "partner/scene.h"
#include "partner/stack_rules.h"
#include "partner/store_rules.h"
#include "partner/wake_rules.h"
#include "partner/wiring_rules.h"

namespace prewire {

using namespace partner;

struct Partner::Impl {
  // Instructions between two looks at what takes time.
  static constexpr unsigned kLook = 1024;
  static constexpr std::uint32_t kCare = kMoves | kWrites | kSign;

  explicit Impl(Machine& machine) : scene(machine), ops(scene.mc6809), stores(scene), stack(scene, stores) {}

  void instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) {
    if (cycle < last) forget();
    last = cycle;
    if (opcode < 0) {
      // A call may be followed by an interrupt at once. After RESET nothing of it matters.
      const bool reset = opcode == static_cast<int>(Entry::reset);
      if (stack.arriving() && !reset) stack.arrive(cpu, pc);
      if (reset) scene.come_back();
      stack.enter(cpu, static_cast<Entry>(opcode), before.op != nullptr && before.op->has(kWait), pc);
      before = {};
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
    if (scene.marks[pc] != (Scene::kStart | opcode) && !scene.astray()) visit(step);
    scene.led_away = -1;
    if (scene.astray()) {
      // What nobody has written as a program does not deserve a lesson.
      if (!op->has(kDefined)) code.undefined(step, before);
    } else {
      if (op->has(kCare) || op->indexed()) care(step);
      if (++count % kLook == 0) look(step);
      if (loops.looking()) loops.look(step);
    }
    before = {op, pc, cycle};
    before_operand = operand;
  }

  void visit(const Step& step) {
    code.first_visit(step, before);
    if (scene.astray()) {
      stack.forget_frames();
      loops.give_up();
      return;
    }
    if (step.op.has(kRead)) {
      bool wrapped = false;
      const auto address = scene.effective(step, wrapped);
      if (address && scene.is(*address, kDevice)) scene.device_reads.push_back(*address);
    }
    const Outline there = outline(scene.machine, step.pc);
    if (there.flow == Flow::jump && there.target == step.pc) stack.stops_here(step.pc);
  }

  void care(const Step& step) {
    const Op& op = step.op;
    if (op.has(kMoves)) stack.move(step);
    if (op.has(kWait)) lines.wait(step);
    if (op.has(kWrites) || (op.indexed() && op.has(kRead))) stores.access(step);
    if (op.has(kSign) && lines.flag_pending() && before.op != nullptr && before.op->has(kRead)) {
      lines.sign_tested(step, {step.cpu, *before.op, before.pc, before_operand, 0, step.cycle});
    }
  }

  void look(const Step& step) {
    lines.look(step.cpu, step.cycle, stack.in_handler());
    const bool interrupts = lines.may_interrupt(scene.cc(step.cpu));
    if (!interrupts || scene.machine.nothing_due()) loops.begin(step, interrupts);
  }

  /// The machine was put back into its past.
  void forget() {
    stack = StackRules(scene, stores);
    stores = StoreRules(scene);
    lines.forget();
    loops.give_up();
    before = {};
    scene.come_back();
    scene.bad_stack = -1;
    scene.device_reads.clear();
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
  WakeRules wake{scene};
  LoopRules loops{scene, wake};
  CodeRules::Before before;
  std::uint16_t before_operand = 0;
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
  impl_->lines.on_event(chip, event, value, when, impl_->before.op, impl_->before.pc,
                         impl_->stack.in_interrupt());
}

void Partner::conclude() {
  const Machine& machine = impl_->scene.machine;
  impl_->lines.look(machine.cpu(), machine.now(), impl_->stack.in_handler());
  impl_->lines.conclude(impl_->executed);
  if (machine.cpu().state() == CpuState::waiting && machine.nothing_due() && !impl_->scene.astray()) {
    impl_->wake.waits(impl_->before.pc, impl_->last);
  }
}

}  // namespace prewire
