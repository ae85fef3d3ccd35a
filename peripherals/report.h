// Findings whose texts are only made when they are told for the first time.
#pragma once

#include <string>
#include <string_view>
#include <utility>

#include "prewire/chip.h"

namespace prewire::chips {

/// `texts` returns a pair of message and hint. Later findings of the same subject are counted. `since`: as in
/// `Socket::finding`.
template <class Texts>
void report(Socket& socket, std::string_view id, Weight weight, int subject, Texts texts, Cycle since = -1) {
  if (socket.found(id, subject)) return socket.finding(id, weight, subject, "", "");
  const std::pair<std::string, std::string> said = texts();
  socket.finding(id, weight, subject, said.first, said.second, since);
}

}  // namespace prewire::chips
