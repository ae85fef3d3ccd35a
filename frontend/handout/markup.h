// Text that goes into XML.
#pragma once

#include <string>
#include <string_view>

namespace prewire::handout {

/// With &, < and so on written as XML wants them. Characters that XML 1.0 forbids (section 2.2) become '?', and bytes
/// that are not UTF-8, in a source of another encoding for example, U+FFFD.
std::string escaped(std::string_view text);

}  // namespace prewire::handout
