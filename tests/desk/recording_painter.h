// A painter that writes down what it is told, and checks what a reader of the screen would mind.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "desk/paint/utf8.h"
#include "desk/panels/painter.h"
#include "desk/panels/theme.h"

namespace prewire::front::desk {

class RecordingPainter final : public Painter {
 public:
  struct Text {
    Rect box;  ///< that the letters take
    std::string text;
    Type type;
    Colour colour, ground;
  };

  void fill(const Rect& box, Colour colour, int /*radius*/ = 0) override {
    ++calls_;
    fills_.push_back({clipped(box), colour});
  }
  void frame(const Rect& /*box*/, Colour /*colour*/, int /*width*/, int /*radius*/ = 0) override { ++calls_; }
  void shape(Shape shape, const Rect& box, Colour colour, int /*detail*/ = 0) override {
    ++calls_;
    if (shape == Shape::disc) fills_.push_back({clipped(box), colour});
  }
  void text(const Rect& box, std::string_view text, Type type, Colour colour, Align align) override {
    ++calls_;
    const int w = width(text, type);
    const int x = align == Align::left ? box.x : align == Align::right ? box.right() - w : box.x + (box.w - w) / 2;
    // Capitals are about 0.73 of the size high.
    const int h = type.px * 73 / 100;
    const Rect ink{x, box.y + (box.h - h) / 2, w, h};
    texts_.push_back({ink, std::string(text), type, colour, ground_at(ink.centre())});
    if (clip_ && !clip_->contains(ink)) cut_.push_back(std::string(text));
  }
  int width(std::string_view text, Type type) override {
    int count = 0;
    while (!text.empty()) {
      take_character(text);
      ++count;
    }
    return count * (type.px * 602 / 1000);  // whole pixels for each, as fonts have them
  }
  void clip(const std::optional<Rect>& box) override { clip_ = box; }

  const std::vector<Text>& texts() const { return texts_; }
  const std::vector<std::string>& cut() const { return cut_; }
  int calls() const { return calls_; }
  bool says(std::string_view text) const {
    return std::any_of(texts_.begin(), texts_.end(),
                       [&](const Text& t) { return t.text.find(text) != std::string::npos; });
  }

 private:
  struct Fill {
    Rect box;
    Colour colour;
  };
  Rect clipped(const Rect& box) const {
    if (!clip_) return box;
    const int x = std::max(box.x, clip_->x), y = std::max(box.y, clip_->y);
    return {x, y, std::min(box.right(), clip_->right()) - x, std::min(box.bottom(), clip_->bottom()) - y};
  }
  Colour ground_at(Point point) const {
    for (auto fill = fills_.rbegin(); fill != fills_.rend(); ++fill) {
      if (fill->colour.a == 255 && fill->box.contains(point)) return fill->colour;
    }
    return {};
  }

  std::vector<Fill> fills_;
  std::vector<Text> texts_;
  std::vector<std::string> cut_;
  std::optional<Rect> clip_;
  int calls_ = 0;
};

}  // namespace prewire::front::desk
