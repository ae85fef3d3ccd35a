// The painter of windows and pictures: SDL, with every curve and every letter drawn once and kept.
#pragma once

#include <SDL.h>
#include <SDL_ttf.h>

#include <cstdint>
#include <map>
#include <memory>
#include <unordered_map>

#include "desk/panels/painter.h"

namespace prewire::front::desk {

class SdlPainter final : public Painter {
 public:
  /// The renderer must outlive the painter. Throws `std::runtime_error` if there are no fonts.
  explicit SdlPainter(SDL_Renderer* renderer);
  ~SdlPainter() override;
  SdlPainter(const SdlPainter&) = delete;
  SdlPainter& operator=(const SdlPainter&) = delete;

  void fill(const Rect& box, Colour colour, int radius = 0) override;
  void frame(const Rect& box, Colour colour, int width, int radius = 0) override;
  void shape(Shape shape, const Rect& box, Colour colour, int detail = 0) override;
  void text(const Rect& box, std::string_view text, Type type, Colour colour, Align align) override;
  int width(std::string_view text, Type type) override;
  void clip(const std::optional<Rect>& box) override;

  /// Forgets all pictures: the renderer has lost its textures, or the sizes of everything have changed.
  void forget();

 private:
  struct Texture {
    void operator()(SDL_Texture* texture) const { SDL_DestroyTexture(texture); }
  };
  using TexturePtr = std::unique_ptr<SDL_Texture, Texture>;
  struct Glyph {
    TexturePtr texture;
    int w = 0, h = 0, left = 0;
  };
  /// A font at a size, with how far each character moves on.
  struct Cut {
    TTF_Font* font = nullptr;
    int ascent = 0, capital = 0;
    std::unordered_map<std::uint32_t, int> advance;
  };

  Cut& cut(Type type);
  /// The cut that has the character, `type`'s own or the one with the most characters.
  Cut& cut_for(Type type, std::uint32_t character);
  int advance(Cut& cut, std::uint32_t character);
  const Glyph& glyph(Type type, std::uint32_t character, Colour colour);
  /// A texture from how much of each pixel is covered, 0 to 1.
  template <class Cover>
  SDL_Texture* sprite(std::uint64_t key, int w, int h, Colour colour, const Cover& cover);
  void draw(SDL_Texture* texture, const Rect& from, const Rect& to);
  void ink(Colour colour);
  void corners(const Rect& box, Colour colour, int radius, int width);

  SDL_Renderer* renderer_;
  std::map<std::pair<int, int>, Cut> cuts_;
  std::unordered_map<std::uint64_t, Glyph> glyphs_;
  std::map<std::pair<std::uint64_t, std::uint64_t>, TexturePtr> sprites_;
};

}  // namespace prewire::front::desk
