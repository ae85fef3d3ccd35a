// Rules about lines of ports whose direction does not fit what hangs on them.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "partner/scene.h"

namespace prewire::partner {

class PortRules {
 public:
  explicit PortRules(Scene& scene);

  void on_net(std::string_view net, const NetState& state, Stamp when);
  void look(Cycle now);
  /// At the end of a run.
  void conclude();
  void forget();

 private:
  /// A line that a contact connects to a rail.
  struct Contact {
    std::string_view net;  // as observers get it, by the address of its text
    NetView::Pin port;
    std::string name, rail;
    bool driven = false;
    Stamp since = 0;
  };
  /// Lamps that a pin of a port alone could switch.
  struct Lamps {
    NetView::Pin port;
    std::string names;
  };
  std::string pin_name(const NetView::Pin& pin) const;
  void follow(Contact& contact, const NetState& state, Stamp when);

  Scene& scene_;
  std::vector<Contact> contacts_;
  std::vector<Lamps> lamps_;
};

}  // namespace prewire::partner
