#include "sdl_painter.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "fonts.h"
#include "utf8.h"

namespace prewire::front::desk {

namespace {

SDL_Rect sdl(const Rect& r) { return {r.x, r.y, r.w, r.h}; }

std::uint64_t code(Colour c) { return std::uint64_t{c.r} << 24 | c.g << 16 | c.b << 8 | c.a; }

double clamp01(double v) { return std::clamp(v, 0.0, 1.0); }

/// Signed distance in pixels to the edge of a disc, negative inside.
double disc(double x, double y, double cx, double cy, double r) { return std::hypot(x - cx, y - cy) - r; }

/// Distance to a stretch of line.
double stretch(double x, double y, double ax, double ay, double bx, double by) {
  const double dx = bx - ax, dy = by - ay;
  const double t = clamp01(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy));
  return std::hypot(x - ax - t * dx, y - ay - t * dy);
}

/// A bar with pointed ends between two points, as the segments of a digit have them.
double bar(double x, double y, double ax, double ay, double bx, double by, double half) {
  const double length = std::hypot(bx - ax, by - ay);
  const double ux = (bx - ax) / length, uy = (by - ay) / length;
  const double along = (x - ax) * ux + (y - ay) * uy;
  const double across = std::abs((x - ax) * uy - (y - ay) * ux);
  const double beyond = std::max(-along, along - length);
  return std::max(across - half, (beyond + across) * std::numbers::sqrt2 / 2);
}

constexpr double kGaugeStart = 0.75 * std::numbers::pi;  // lower left, clockwise on the screen
constexpr double kGaugeSweep = 1.5 * std::numbers::pi;

/// How much of the pixel is covered by one segment of a digit that fills w x h. Digits lean to the right by a tenth.
double segment(double x, double y, int w, int h, int which) {
  const double half = 0.052 * h, gap = 0.012 * h;
  const double point = 1.25 * half;
  const double lean = 0.09;
  const double top = half, bottom = h - half, middle = h / 2.0;
  // Undo the lean, so that the upright digit is looked at.
  const double skew = lean * (h - y);
  const double ux = x - skew;
  const double left = half, right = w - lean * h - 2.6 * point - half;
  const auto across = [&](double at) { return bar(ux, y, left + gap, at, right - gap, at, half); };
  const auto down = [&](double at, double from, double to) { return bar(ux, y, at, from + gap, at, to - gap, half); };
  double distance = 0;
  switch (which) {
    case 0: distance = across(top); break;
    case 1: distance = down(right, top, middle); break;
    case 2: distance = down(right, middle, bottom); break;
    case 3: distance = across(bottom); break;
    case 4: distance = down(left, middle, bottom); break;
    case 5: distance = down(left, top, middle); break;
    case 6: distance = across(middle); break;
    default: distance = disc(x, y, w - point - 0.5, h - point, point); break;
  }
  return clamp01(0.5 - distance);
}

double cover(Shape shape, double x, double y, int w, int h, int detail) {
  const double cx = w / 2.0, cy = h / 2.0, r = std::min(w, h) / 2.0;
  switch (shape) {
    case Shape::disc: return clamp01(0.5 - disc(x, y, cx, cy, r - 0.5));
    case Shape::arc: {
      const double width = 0.16 * r;
      double angle = std::atan2(y - cy, x - cx) - kGaugeStart;
      while (angle < 0) angle += 2 * std::numbers::pi;
      const double mean = r - width / 2;
      const double sweep = kGaugeSweep * detail / 100, turn = 2 * std::numbers::pi;
      // Beyond either end, along the ring.
      const double past =
          (angle > sweep ? std::min(angle - sweep, turn - angle) : std::max(angle - sweep, -angle)) * mean;
      return clamp01(0.5 - std::max(std::abs(std::hypot(x - cx, y - cy) - mean) - width / 2, past));
    }
    case Shape::pointer: {
      const double angle = kGaugeStart + kGaugeSweep * detail / 100;
      const double c = std::cos(angle), s = std::sin(angle);
      return clamp01(0.5 + 0.09 * r -
                     stretch(x, y, cx + 0.35 * r * c, cy + 0.35 * r * s, cx + 0.85 * r * c, cy + 0.85 * r * s));
    }
    case Shape::segment: return segment(x, y, w, h, detail);
    case Shape::play: {
      // Half-planes of the two slanted sides.
      const double slope = std::hypot(w, h / 2.0);
      const double upper = ((cy - y) * w - (w - x) * h / 2.0) / slope;
      const double lower = ((y - cy) * w - (w - x) * h / 2.0) / slope;
      return clamp01(0.5 - std::max({upper, lower, -x}));
    }
  }
  return 0;
}

}  // namespace

SdlPainter::SdlPainter(SDL_Renderer* renderer) : renderer_(renderer) {
  if (TTF_Init() != 0) throw std::runtime_error(TTF_GetError());
}

SdlPainter::~SdlPainter() {
  forget();
  for (auto& [key, cut] : cuts_) TTF_CloseFont(cut.font);
  TTF_Quit();
}

void SdlPainter::forget() {
  glyphs_.clear();
  sprites_.clear();
}

void SdlPainter::draw(SDL_Texture* texture, const Rect& from, const Rect& to) {
  const SDL_Rect source = sdl(from), target = sdl(to);
  SDL_RenderCopy(renderer_, texture, &source, &target);
}

template <class Cover>
SDL_Texture* SdlPainter::sprite(std::uint64_t key, int w, int h, Colour colour, const Cover& cover) {
  auto& kept = sprites_[{key, code(colour)}];
  if (kept) return kept.get();
  if (sprites_.size() > 4000) {  // something changes its size all the time
    sprites_.clear();
    return sprite(key, w, h, colour, cover);
  }
  const std::unique_ptr<SDL_Surface, void (*)(SDL_Surface*)> surface(
      SDL_CreateRGBSurfaceWithFormat(0, w, h, 32, SDL_PIXELFORMAT_ARGB8888), SDL_FreeSurface);
  for (int y = 0; y < h; ++y) {
    auto* row = reinterpret_cast<std::uint32_t*>(static_cast<std::uint8_t*>(surface->pixels) + y * surface->pitch);
    for (int x = 0; x < w; ++x) {
      const auto alpha = static_cast<std::uint32_t>(std::lround(colour.a * cover(x + 0.5, y + 0.5)));
      row[x] = alpha << 24 | std::uint32_t{colour.r} << 16 | std::uint32_t{colour.g} << 8 | colour.b;
    }
  }
  kept.reset(SDL_CreateTextureFromSurface(renderer_, surface.get()));
  return kept.get();
}

void SdlPainter::corners(const Rect& box, Colour colour, int radius, int width) {
  const int r = radius;
  const std::uint64_t key =
      std::uint64_t{0xFF} << 56 | static_cast<std::uint64_t>(r) << 16 | static_cast<unsigned>(width);
  SDL_Texture* texture = sprite(key, 2 * r, 2 * r, colour, [r, width](double x, double y) {
    const double edge = disc(x, y, r, r, r);
    return clamp01(0.5 - (width == 0 ? edge : std::max(edge, -edge - width)));
  });
  draw(texture, {0, 0, r, r}, {box.x, box.y, r, r});
  draw(texture, {r, 0, r, r}, {box.right() - r, box.y, r, r});
  draw(texture, {0, r, r, r}, {box.x, box.bottom() - r, r, r});
  draw(texture, {r, r, r, r}, {box.right() - r, box.bottom() - r, r, r});
}

void SdlPainter::ink(Colour colour) {
  // The software renderer takes many times longer to blend than to set, even where nothing shines through.
  SDL_SetRenderDrawBlendMode(renderer_, colour.a == 255 ? SDL_BLENDMODE_NONE : SDL_BLENDMODE_BLEND);
  SDL_SetRenderDrawColor(renderer_, colour.r, colour.g, colour.b, colour.a);
}

void SdlPainter::fill(const Rect& box, Colour colour, int radius) {
  if (box.empty()) return;
  radius = std::min({radius, box.w / 2, box.h / 2});
  ink(colour);
  if (radius < 1) {
    const SDL_Rect all = sdl(box);
    SDL_RenderFillRect(renderer_, &all);
    return;
  }
  const SDL_Rect parts[] = {{box.x + radius, box.y, box.w - 2 * radius, radius},
                            {box.x, box.y + radius, box.w, box.h - 2 * radius},
                            {box.x + radius, box.bottom() - radius, box.w - 2 * radius, radius}};
  SDL_RenderFillRects(renderer_, parts, 3);
  corners(box, colour, radius, 0);
}

void SdlPainter::frame(const Rect& box, Colour colour, int width, int radius) {
  if (box.empty()) return;
  radius = std::min({radius, box.w / 2, box.h / 2});
  ink(colour);
  const int beside = std::max(radius, width);
  const SDL_Rect parts[] = {{box.x + radius, box.y, box.w - 2 * radius, width},
                            {box.x + radius, box.bottom() - width, box.w - 2 * radius, width},
                            {box.x, box.y + beside, width, box.h - 2 * beside},
                            {box.right() - width, box.y + beside, width, box.h - 2 * beside}};
  SDL_RenderFillRects(renderer_, parts, 4);
  if (radius >= 1) corners(box, colour, radius, width);
}

void SdlPainter::shape(Shape shape, const Rect& box, Colour colour, int detail) {
  if (box.empty()) return;
  const std::uint64_t key =
      static_cast<std::uint64_t>(shape) << 56 | static_cast<std::uint64_t>(detail & 0xFFFF) << 40 |
      static_cast<std::uint64_t>(box.w & 0xFFFF) << 16 | static_cast<std::uint64_t>(box.h & 0xFFFF);
  SDL_Texture* texture =
      sprite(key, box.w, box.h, colour, [&](double x, double y) { return cover(shape, x, y, box.w, box.h, detail); });
  draw(texture, {0, 0, box.w, box.h}, box);
}

SdlPainter::Cut& SdlPainter::cut(Type type) {
  Cut& cut = cuts_[{static_cast<int>(type.face), type.px}];
  if (cut.font != nullptr) return cut;
  const auto bytes = font_file(type.face);
  cut.font = TTF_OpenFontRW(SDL_RWFromConstMem(bytes.data(), static_cast<int>(bytes.size())), 1, std::max(type.px, 4));
  if (cut.font == nullptr) throw std::runtime_error(TTF_GetError());
  TTF_SetFontHinting(cut.font, TTF_HINTING_LIGHT);
  cut.ascent = TTF_FontAscent(cut.font);
  int top = 0;
  TTF_GlyphMetrics32(cut.font, 'H', nullptr, nullptr, nullptr, &top, nullptr);
  cut.capital = top;
  return cut;
}

SdlPainter::Cut& SdlPainter::cut_for(Type type, std::uint32_t character) {
  Cut& own = cut(type);
  if (character < 0x80 || TTF_GlyphIsProvided32(own.font, character) != 0) return own;
  const bool bold = type.face == Face::label_bold || type.face == Face::mono_bold;
  return cut({bold ? Face::mono_bold : Face::mono, type.px});
}

int SdlPainter::advance(Cut& cut, std::uint32_t character) {
  const auto known = cut.advance.find(character);
  if (known != cut.advance.end()) return known->second;
  int step = 0;
  TTF_GlyphMetrics32(cut.font, character, nullptr, nullptr, nullptr, nullptr, &step);
  cut.advance.emplace(character, step);
  return step;
}

const SdlPainter::Glyph& SdlPainter::glyph(Type type, std::uint32_t character, Colour colour) {
  // 24 bits of colour: letters are never transparent.
  const std::uint64_t key = std::uint64_t{character & 0x1FFFFF} | static_cast<std::uint64_t>(type.px & 0x3FF) << 21 |
                            static_cast<std::uint64_t>(type.face) << 31 | (code(colour) >> 8) << 34;
  const auto known = glyphs_.find(key);
  if (known != glyphs_.end()) return known->second;
  if (glyphs_.size() > 8000) glyphs_.clear();
  Glyph made;
  Cut& cut = cut_for(type, character);
  const std::unique_ptr<SDL_Surface, void (*)(SDL_Surface*)> surface(
      TTF_RenderGlyph32_Blended(cut.font, character, {colour.r, colour.g, colour.b, 255}), SDL_FreeSurface);
  int left = 0;
  TTF_GlyphMetrics32(cut.font, character, &left, nullptr, nullptr, nullptr, nullptr);
  if (surface) {
    made.texture.reset(SDL_CreateTextureFromSurface(renderer_, surface.get()));
    made.w = surface->w;
    made.h = surface->h;
    made.left = std::min(left, 0);
  }
  return glyphs_.emplace(key, std::move(made)).first->second;
}

int SdlPainter::width(std::string_view text, Type type) {
  int sum = 0;
  while (!text.empty()) {
    const std::uint32_t character = take_character(text);
    sum += advance(cut_for(type, character), character);
  }
  return sum;
}

void SdlPainter::text(const Rect& box, std::string_view text, Type type, Colour colour, Align align) {
  int x = box.x;
  if (align != Align::left) {
    const int left_over = box.w - width(text, type);
    x += align == Align::right ? left_over : left_over / 2;
  }
  const Cut& own = cut(type);
  // Capitals stand in the middle of the box.
  const int baseline = box.y + (box.h + own.capital) / 2;
  while (!text.empty()) {
    const std::uint32_t character = take_character(text);
    Cut& cut = cut_for(type, character);
    if (character != ' ') {
      const Glyph& shown = glyph(type, character, colour);
      if (shown.texture) {
        draw(shown.texture.get(), {0, 0, shown.w, shown.h}, {x + shown.left, baseline - cut.ascent, shown.w, shown.h});
      }
    }
    x += advance(cut, character);
  }
}

void SdlPainter::clip(const std::optional<Rect>& box) {
  if (!box) {
    SDL_RenderSetClipRect(renderer_, nullptr);
    return;
  }
  const SDL_Rect area = sdl(*box);
  SDL_RenderSetClipRect(renderer_, &area);
}

}  // namespace prewire::front::desk
