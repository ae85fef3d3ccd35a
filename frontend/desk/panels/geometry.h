// Points, sizes and boxes in pixels.
#pragma once

namespace prewire::front::desk {

struct Point {
  int x = 0, y = 0;
  friend bool operator==(const Point&, const Point&) = default;
};

struct Size {
  int w = 0, h = 0;
  friend bool operator==(const Size&, const Size&) = default;
};

struct Rect {
  int x = 0, y = 0, w = 0, h = 0;

  int right() const { return x + w; }
  int bottom() const { return y + h; }
  bool empty() const { return w <= 0 || h <= 0; }
  bool contains(Point p) const { return p.x >= x && p.y >= y && p.x < right() && p.y < bottom(); }
  bool contains(const Rect& r) const { return r.x >= x && r.y >= y && r.right() <= right() && r.bottom() <= bottom(); }
  bool meets(const Rect& r) const { return r.x < right() && x < r.right() && r.y < bottom() && y < r.bottom(); }
  Point centre() const { return {x + w / 2, y + h / 2}; }

  /// The same box, smaller by as much on every side.
  Rect inset(int dx, int dy) const { return {x + dx, y + dy, w - 2 * dx, h - 2 * dy}; }
  Rect inset(int by) const { return inset(by, by); }

  /// Cuts a strip off and returns it.
  Rect take_top(int size) {
    const Rect strip{x, y, w, size};
    y += size;
    h -= size;
    return strip;
  }
  Rect take_bottom(int size) {
    h -= size;
    return {x, bottom(), w, size};
  }
  Rect take_left(int size) {
    const Rect strip{x, y, size, h};
    x += size;
    w -= size;
    return strip;
  }
  Rect take_right(int size) {
    w -= size;
    return {right(), y, size, h};
  }

  friend bool operator==(const Rect&, const Rect&) = default;
};

}  // namespace prewire::front::desk
