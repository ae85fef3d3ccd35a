// Standard input, output and error, as whoever starts a program has left them.
#pragma once

namespace prewire::front {

/// To be called first in a program. One that is closed is opened where nothing comes in and nothing goes out, or else
/// the next file that the program opens would take its place, and text for a person would end up in it. Writing to an
/// output that was closed is an error, as on a full disk.
void open_standard_streams();

}  // namespace prewire::front
