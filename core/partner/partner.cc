#include "prewire/partner.h"

#include <utility>

#include "partner/code_rules.h"
#include "partner/digit_rules.h"
#include "partner/line_rules.h"
#include "partner/loop_rules.h"
#include "partner/op.h"
#include "partner/port_rules.h"
#include "partner/scene.h"
#include "partner/stack_rules.h"
#include "partner/start_rules.h"
#include "partner/store_rules.h"
#include "partner/wake_rules.h"
#include "partner/wiring_rules.h"

namespace prewire {

using namespace partner;

struct Partner::Impl {
  // Instructions between two looks at what takes time.
  static constexpr unsigned kLook = 1024;
  static constexpr std::uint32_t kCare = kMoves | kWrites | kSign;

  explicit Impl(Machine& machine) : scene(machine), stores(scene), stack(scene, stores) {}

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
    if (scene.marks[pc] == (Scene::kStart | Scene::kSpared | opcode) && !scene.astray()) {
      // Nothing is new about it, whatever the instructions before were.
      if (!loops_due && !loops.looking()) return scene.machine.spare(pc);
      return look_at_loop(Step{cpu, scene.op_at(pc, opcode), pc, scene.operand_at(pc, opcode), opcode, cycle});
    }
    if (stack.arriving()) stack.arrive(cpu, pc);
    const Op* op = &scene.op_at(pc, opcode);
    const std::uint16_t operand = scene.operand_at(pc, opcode);
    const Step step{cpu, *op, pc, operand, opcode, cycle};
    const bool was_astray = scene.astray();
    if (scene.marks[pc] != (Scene::kStart | opcode) && !was_astray) visit(step);
    scene.led_away = -1;
    if (scene.astray()) {
      // What nobody has written as a program does not deserve a lesson.
      if (!op->has(kDefined) && was_astray) code.undefined(step, before);
    } else {
      if (op->has(kCare) || op->indexed()) care(step);
      if (++count % kLook == 0) look(cpu, cycle);
      look_at_loop(step);
    }
    before = {op, pc, cycle};
    before_operand = operand;
  }

  void look_at_loop(const Step& step) {
    if (loops_due) {
      loops_due = false;
      loops.begin(step, around(step.cpu), newest);
    }
    if (loops.looking()) loops.look(step);
  }

  /// Whether there is nothing more to learn from the instruction at its address.
  bool learned(const Step& step) const {
    const Op& op = step.op;
    if (op.has(kMoves) || !op.has(kDefined)) return false;
    // With an offset of 0 an index cannot wrap.
    const bool plain_index = op.mode == Mode::offset && scene.peek(step.operand) == 0;
    if (op.indexed() && !plain_index) return false;
    if (op.has(kWrites) && (scene.code_in_ram || scene.has_mirrors())) return false;
    if (!op.has(kRead | kModify | kSign)) return true;
    if (op.has(kSign)) return !reads(before) || !follows(before, step.pc);
    bool wrapped = false;
    const auto address = scene.effective(step, wrapped);
    return !address || !scene.is(*address, kDevice);
  }

  bool reads(const CodeRules::Before& some) const { return some.op != nullptr && some.op->has(kRead); }
  /// Whether `pc` is right behind it.
  bool follows(const CodeRules::Before& some, std::uint16_t pc) const {
    return some.op != nullptr && static_cast<std::uint16_t>(some.pc + outline(scene.machine, some.pc).bytes) == pc;
  }

  void visit(const Step& step) {
    if (!stack.in_interrupt()) newest = step.cycle;
    code.first_visit(step, before, stack.in_handler());
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
    if (scene.is(step.pc, kRam) && !scene.code_in_ram) {
      // From now on stores may change what was executed.
      scene.code_in_ram = true;
      spare_none();
    }
    const bool defined_here = scene.marks[step.pc] == (Scene::kStart | step.opcode);
    if (defined_here && there.flow != Flow::ret && learned(step)) scene.marks[step.pc] |= Scene::kSpared;
  }

  void spare_none() {
    for (std::uint16_t& mark : scene.marks) mark = static_cast<std::uint16_t>(mark & ~Scene::kSpared);
    scene.machine.spare_none();
  }

  void care(const Step& step) {
    const Op& op = step.op;
    if (op.has(kMoves)) stack.move(step);
    if (op.has(kWait)) lines.wait(step);
    if (op.has(kWrites) || (op.indexed() && op.has(kRead))) stores.access(step);
    if (op.has(kSign) && lines.flag_pending() && reads(before) && follows(before, step.pc)) {
      lines.sign_tested(step, {step.cpu, *before.op, before.pc, before_operand, 0, step.cycle});
    }
  }

  LoopRules::Around around(const Cpu& cpu) const {
    if (!lines.may_interrupt(scene.cc(cpu))) return LoopRules::Around::nothing;
    return scene.machine.nothing_due() ? LoopRules::Around::requests : LoopRules::Around::everything;
  }

  void look(const Cpu& cpu, Cycle cycle) {
    if (scene.astray()) return;
    lines.look(cpu, cycle, stack.in_handler());
    ports.look(cycle);
    if (loops.looking()) return;
    // While anything may come, seldom: most programs wait for interrupts most of the time.
    if (around(cpu) == LoopRules::Around::everything && (++looks < next_look || stack.in_handler())) return;
    if (looks >= next_look) next_look = 2 * looks;
    // A loop is looked at as a whole.
    loops_due = true;
    scene.machine.spare_none();
  }

  /// The machine was put back into its past.
  void forget() {
    stack = StackRules(scene, stores);
    stores = StoreRules(scene);
    lines.forget();
    ports.forget();
    digits.forget();
    starts.forget();
    code.forget();
    loops.give_up();
    before = {};
    newest = 0;
    looks = 0;
    next_look = 1;
    scene.come_back();
    scene.bad_stack = -1;
    scene.device_reads.clear();
    scene.marks.fill(0);
    scene.stack_set = true;
    scene.served_irq = scene.served_firq = {};
    scene.saw_reset = false;
    executed = loops_due = false;
    scene.code_in_ram = false;
    scene.machine.spare_none();
  }

  Scene scene;
  CodeRules code{scene};
  StoreRules stores;
  StackRules stack;
  WakeRules wake{scene};
  LineRules lines{scene, wake};
  PortRules ports{scene};
  DigitRules digits{scene};
  StartRules starts{scene};
  LoopRules loops{scene, wake};
  CodeRules::Before before;
  std::uint16_t before_operand = 0;
  Cycle last = 0;
  unsigned count = 0;
  bool executed = false;
  bool loops_due = false;             // the next instruction may be in one
  Cycle newest = 0;                   // when the program, outside of handlers, last did something for the first time
  unsigned looks = 0, next_look = 1;  // at loops while anything may come
};

Partner::Partner(Machine& machine) : impl_(std::make_unique<Impl>(machine)) {
  look_at_wiring(impl_->scene);
  look_at_source(impl_->scene);
  machine.watch(*this);
}

Partner::~Partner() { impl_->scene.machine.unwatch(*this); }

void Partner::on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) {
  impl_->instruction(cpu, pc, opcode, cycle);
}

void Partner::on_moment(const Cpu& cpu, Cycle cycle) {
  if (impl_->executed && cpu.state() == CpuState::running) impl_->look(cpu, cycle);
}

void Partner::on_net(std::string_view net, const NetState& state, Stamp when) {
  impl_->lines.on_net(net, state, when);
  impl_->ports.on_net(net, state, when);
  impl_->digits.on_net(net, state, when);
}

void Partner::on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) {
  Impl& impl = *impl_;
  if (event == "pattern") return impl.digits.on_pattern(chip, value);
  if (event == "conversion-started") return impl.starts.on_start(chip);
  // The instruction under way is the one seen last, if it was not spared.
  const bool seen = std::as_const(impl.scene.machine).cpu().pc() == impl.before.pc;
  impl_->lines.on_event(chip, event, value, when, seen ? impl.before.op : nullptr, impl.before.pc,
                        impl.stack.in_interrupt());
}

void Partner::conclude() {
  impl_->scene.machine.conclude();
  const Machine& machine = impl_->scene.machine;
  if (impl_->stack.arriving()) impl_->stack.arrive(machine.cpu(), machine.cpu().pc());
  const bool waiting = machine.cpu().state() == CpuState::waiting && impl_->before.op != nullptr;
  impl_->lines.look(machine.cpu(), machine.now(), impl_->stack.in_handler(), waiting ? impl_->before.pc : -1);
  impl_->lines.conclude(impl_->executed);
  if (impl_->executed && !impl_->scene.astray()) {
    impl_->ports.conclude();
    impl_->starts.conclude();
  }
  if (machine.cpu().state() == CpuState::waiting && machine.nothing_due() && !impl_->scene.astray()) {
    impl_->wake.waits(impl_->before.pc, impl_->last);
  }
}

}  // namespace prewire
