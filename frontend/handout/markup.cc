#include "markup.h"

#include "prewire/text.h"

namespace prewire::handout {

std::string escaped(std::string_view text) {
  std::string result;
  for (const char c : printable(text, "\t\n")) {
    switch (c) {
      case '&': result += "&amp;"; break;
      case '<': result += "&lt;"; break;
      case '>': result += "&gt;"; break;
      case '"': result += "&quot;"; break;
      default: result += c;
    }
  }
  return result;
}

}  // namespace prewire::handout
