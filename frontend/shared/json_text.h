// JSON as the commands print it.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace prewire::front {

using Json = nlohmann::ordered_json;

/// Two blanks for each level; what is not UTF-8, in a file name for example, is replaced.
inline std::string print_json(const Json& json) {
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace prewire::front
