// The lines of a processor: its inputs as it latches them, and who hears its outputs.
#include "cpu/processor.h"

#include <string_view>

namespace prewire {

/// Inputs are latched at one moment of every cycle. Changes come in order: what is latched before this one is what the
/// lines were so far.
void Processor::latch(Stamp when) {
  const Cycle latest = (world_.clock.e_time(when) - latching_.quarter) >> 2;
  if (latest <= latched_) return;
  before_ = latest == latched_ + 1 ? latest_ : lines_;
  latest_ = lines_;
  latched_ = latest;
}

bool Processor::interrupt_seen(std::int64_t left) const {
  const Clock& clock = world_.clock;
  const Cycle ahead = mode_ == Mode::live ? clock.horizon() - left - clock.now : 0;
  const Lines& seen = latched(clock.e_cycle() + ahead - latching_.cycles);
  return lines_.irq || lines_.firq || lines_.nmi || seen.irq || seen.firq || seen.nmi;
}

void Processor::set_irq(bool low, Stamp when) {
  latch(when);
  lines_.irq = low;
  if (low) world_.clock.attend(kInterrupt);
}

void Processor::set_firq(bool low, Stamp when) {
  latch(when);
  lines_.firq = low;
  if (low) world_.clock.attend(kInterrupt);
}

void Processor::set_nmi(bool low, Stamp when) {
  latch(when);
  if (low == nmi_level_) return;
  nmi_level_ = low;
  // A level that no cycle has latched makes no edge.
  const bool unseen = latching_.edges && latched_ == nmi_moved_;
  nmi_moved_ = latched_;
  if (low && !unseen) {
    lines_.nmi = true;
    world_.clock.attend(kInterrupt);
  }
  if (!low && unseen) lines_.nmi = false;
}

void Processor::set_halt(bool low, Stamp when) {
  latch(when);
  lines_.halt = low;
  world_.clock.attend(kInterrupt);
}

void Processor::set_reset(bool low, Stamp when) {
  latch(when);
  lines_.reset = low;
  world_.clock.attend(kInterrupt);
  update_signals();
}

void Processor::set_breq(bool low, Stamp when) {
  latch(when);
  lines_.breq = low;
  update_signals();
}

void Processor::set_tsc(bool high) {
  if (tsc_ && !high) tsc_tail_ = true;
  tsc_ = high;
  update_signals();
}

void Processor::set_mrdy(bool low) {
  memory_waits_ = low;
  if (low) memory_may_wait_ = true;  // tied to GND, too
  update_signals();
}

void Processor::set_data_enabled(bool on) {
  data_enabled_ = on;
  update_signals();
}

Processor::Part Processor::part_of(const ChipType& type) {
  const auto pin = [&](std::string_view name) { return type.pin(name); };
  const int e = pin("E"), mr = pin("MR");
  return {type.name,
          {.halt = pin("HALT"),
           .irq = pin("IRQ"),
           .firq = pin("FIRQ"),
           .nmi = pin("NMI"),
           .reset = pin("RESET"),
           .tsc = pin("TSC"),
           .dbe = pin("DBE"),
           .breq = pin("DMA/BREQ"),
           .mrdy = mr < 0 ? pin("MRDY") : mr,
           .e = e < 0 ? pin("PHI2") : e,  // the MC6800 is given its E
           .q = pin("Q"),
           .rw = pin("R/W"),
           .vma = pin("VMA"),
           .ba = pin("BA"),
           .bs = pin("BS"),
           .avma = pin("AVMA"),
           .busy = pin("BUSY"),
           .lic = pin("LIC"),
           .address = pin("A0"),
           .data = pin("D0")},
          mr >= 0};
}

void Processor::start() {
  const Pins& p = pins();
  for (int pin : {p.halt, p.irq, p.firq, p.nmi, p.reset, p.tsc, p.dbe, p.breq, p.mrdy}) {
    if (pin >= 0) on_edge(pin, socket().level(pin), 0);
  }
}

void Processor::on_edge(int pin, Level level, Stamp when) {
  // An input that nobody holds any more keeps its charge: a line without its pull-up stays low after its first pull.
  if (level == Level::floating && when > 0) return;
  // One that was never held is no request; the static check warns about it.
  const bool low = level == Level::low;
  const Pins& p = pins();
  if (pin == p.irq) set_irq(low, when);
  if (pin == p.firq) set_firq(low, when);
  if (pin == p.nmi) set_nmi(low, when);
  if (pin == p.halt) set_halt(low, when);
  if (pin == p.reset) set_reset(low, when);
  if (pin == p.tsc) set_tsc(level == Level::high);
  if (pin == p.dbe) set_data_enabled(!low);
  if (pin == p.breq) set_breq(low, when);
  if (pin == p.mrdy) set_mrdy(low);
}

void Processor::wire_outputs() {
  const Pins& p = pins();
  const auto heard = [&](int pin) { return pin >= 0 && socket().heard(pin) ? pin : -1; };
  memory_may_wait_ = p.mrdy >= 0 && socket().wired(p.mrdy) && !socket().on_rail(p.mrdy);
  if (!memory_may_wait_) {  // else E and Q are not regular
    if (p.e >= 0) socket().offer_beat(p.e, {socket().timebase().millihertz(), e_rise(0)});
    if (p.q >= 0) socket().offer_beat(p.q, {socket().timebase().millihertz(), e_rise(0) - 1});
  }
  heard_ = {.e = heard(p.e),
            .q = heard(p.q),
            .rw = heard(p.rw),
            .vma = heard(p.vma),
            .ba = p.ba,
            .bs = heard(p.bs),
            .avma = heard(p.avma),
            .busy = heard(p.busy),
            .lic = heard(p.lic)};
  heard_address_ = heard_data_ = 0;
  for (int line = 0; p.address >= 0 && line < 16; ++line) {
    if (socket().wired(p.address + line) && socket().heard(p.address + line)) heard_address_ |= 1U << line;
  }
  for (int line = 0; p.data >= 0 && line < 8; ++line) {
    if (socket().wired(p.data + line) && socket().heard(p.data + line)) heard_data_ |= 1U << line;
  }
  foresees_ = heard_.avma >= 0 || heard_.busy >= 0 || heard_.lic >= 0;
  signals_wired_ = foresees_ || heard_.e >= 0 || heard_.q >= 0 || heard_.rw >= 0 || heard_.vma >= 0 || heard_.bs >= 0 ||
                   (heard_address_ | heard_data_) != 0;
  if (p.ba >= 0) socket().drive(p.ba, drive_low());
  update_signals();
}

void Processor::set_doing(CpuState doing, bool ba, bool bs) {
  set_buses(ba, bs);
  if (doing == doing_) return;
  doing_ = doing;
  update_signals();
}

void Processor::set_buses(bool ba, bool bs) {
  if (ba != ba_ && heard_.ba >= 0) socket().drive(heard_.ba, drive(ba));
  ba_ = ba;
  bs_ = bs;
}

void Processor::keep_attention(bool on) {
  // A short request may be over, and the boundaries to come see it yet.
  if (on || !inputs_steady()) {
    world_.clock.attend(kInterrupt);
  } else {
    world_.clock.disregard(kInterrupt);
  }
}

void Processor::update_signals() {
  const bool cut_short = lines_.reset && doing_ != CpuState::reset;
  const bool held =
      tsc_ || tsc_tail_ || lines_.breq || latest_.breq || lent_ != 0 || memory_waits_ || world_.clock.held;
  if (signals_wired_ || held || !data_enabled_ || cut_short) {
    world_.clock.attend(kSignals);
  } else {
    world_.clock.disregard(kSignals);
  }
}

}  // namespace prewire
