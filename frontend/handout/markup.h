// Text that goes into XML.
#pragma once

#include <string>
#include <string_view>

namespace prewire::handout {

/// With &, < and so on written as XML wants them, and made printable, but for tabs and line ends: so there is no character
/// that XML 1.0 forbids (section 2.2), and no byte that is not UTF-8.
std::string escaped(std::string_view text);

}  // namespace prewire::handout
