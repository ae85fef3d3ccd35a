// A session: what a person does to the machine.
#include "session.h"

#include <fmt/format.h>

namespace prewire::front::desk {

void Session::press_reset() { act({0, Deed::Kind::reset, {}, {}}); }

bool Session::set(const std::string& part, const std::string& value) {
  return act({0, Deed::Kind::input, part, value});
}

bool Session::poke(std::uint16_t address, std::uint8_t value) {
  return act({0, Deed::Kind::poke, {}, {}, address, value});
}

bool Session::change_register(std::size_t index, std::uint16_t value) {
  return act({0, Deed::Kind::change_register, {}, {}, static_cast<std::uint16_t>(index), value});
}

bool Session::act(Deed deed) {
  if (!machine_) return false;
  if (goal_ == Goal::back) stop();
  deed.when = machine_->now();
  deed.moment = machine_->moment();
  try {
    if (!apply(*machine_, deed)) return false;
  } catch (const InputError& error) {
    const Fault& fault = error.faults().front();
    why_ = fmt::format("{}: expected {}", fault.what, fault.expected);
    return false;
  }
  deeds_.add(std::move(deed));
  return true;
}

}  // namespace prewire::front::desk
