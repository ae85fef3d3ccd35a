// What the end of a file's name says about it, for all that a command writes.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>

namespace prewire::front {

/// Throws `Trouble` with `Exit::usage` if the name ends as that of another kind of file than the option writes: a
/// waveform in x.wav helps nobody. `own` are the endings of its own, such as ".vcd"; names with an ending that nobody
/// knows, or with none, are as good as these. A file that is there is judged by what it holds, when it is to be
/// replaced.
void refuse_other_kind(std::string_view option, const std::string& file, std::initializer_list<std::string_view> own);

}  // namespace prewire::front
