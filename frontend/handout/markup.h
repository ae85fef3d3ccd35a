// Text that goes into XML.
#pragma once

#include <string>
#include <string_view>

namespace prewire::handout {

/// With &, < and so on written as XML wants them; characters that XML 1.0 forbids become '?'.
std::string escaped(std::string_view text);

}  // namespace prewire::handout
