#include "markup.h"

#include <nlohmann/json.hpp>

namespace prewire::handout {

namespace {

std::string valid_utf8(std::string_view text) {
  using Json = nlohmann::json;
  return Json::parse(Json(text).dump(-1, ' ', false, Json::error_handler_t::replace)).get<std::string>();
}

}  // namespace

std::string escaped(std::string_view text) {
  const std::string sure = valid_utf8(text);
  std::string result;
  for (std::string_view rest = sure; !rest.empty();) {
    const char c = rest.front();
    const bool no_character = rest.starts_with("\uFFFE") || rest.starts_with("\uFFFF");
    switch (c) {
      case '&': result += "&amp;"; break;
      case '<': result += "&lt;"; break;
      case '>': result += "&gt;"; break;
      case '"': result += "&quot;"; break;
      case '\t':
      case '\n':
      case '\r': result += c; break;
      default: result += static_cast<unsigned char>(c) < ' ' || no_character ? '?' : c;
    }
    rest.remove_prefix(no_character ? 3 : 1);
  }
  return result;
}

}  // namespace prewire::handout
