// JSON as the commands print it.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "prewire/text.h"

namespace prewire::front {

using Json = nlohmann::ordered_json;

/// Two blanks for each level; what is not UTF-8, in a file name for example, is replaced, and what a terminal should
/// not get is escaped.
inline std::string print_json(const Json& json) {
  return printable_json(json.dump(2, ' ', false, Json::error_handler_t::replace)) + "\n";
}

}  // namespace prewire::front
