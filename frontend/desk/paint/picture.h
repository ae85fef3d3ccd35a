// Pictures without a screen, and PNG files.
#pragma once

#include <SDL.h>

#include <memory>
#include <string>

#include "desk/panels/geometry.h"

namespace prewire::front::desk {

struct SurfaceEnd {
  void operator()(SDL_Surface* surface) const { SDL_FreeSurface(surface); }
};
struct RendererEnd {
  void operator()(SDL_Renderer* renderer) const { SDL_DestroyRenderer(renderer); }
};

/// A surface to draw on, with SDL's software renderer: the same pixels as in a window.
class Picture {
 public:
  /// Throws `std::runtime_error` if there is no memory for it.
  explicit Picture(Size size);
  SDL_Renderer* renderer() { return renderer_.get(); }
  SDL_Surface* surface() { return surface_.get(); }

 private:
  std::unique_ptr<SDL_Surface, SurfaceEnd> surface_;
  std::unique_ptr<SDL_Renderer, RendererEnd> renderer_;
};

/// As a PNG file (ISO/IEC 15948), under another name until it is whole. Replaces nothing but a PNG file. Throws
/// `Trouble`.
void write_png(SDL_Surface* surface, const std::string& file);

/// "name-1.ext", with the first number that is free.
std::string free_name(const std::string& stem, const std::string& extension);

}  // namespace prewire::front::desk
