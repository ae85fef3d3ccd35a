#include "markup.h"

namespace prewire::handout {

std::string escaped(std::string_view text) {
  std::string result;
  for (const char c : text) {
    switch (c) {
      case '&': result += "&amp;"; break;
      case '<': result += "&lt;"; break;
      case '>': result += "&gt;"; break;
      case '"': result += "&quot;"; break;
      default: {
        const auto code = static_cast<unsigned char>(c);
        const bool allowed = code >= 0x20 || c == '\t' || c == '\n' || c == '\r';
        result += allowed ? c : '?';
      }
    }
  }
  return result;
}

}  // namespace prewire::handout
