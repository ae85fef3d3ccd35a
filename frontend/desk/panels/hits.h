// Where on the screen what can be done.
#pragma once

#include <string>
#include <vector>

#include "action.h"
#include "geometry.h"

namespace prewire::front::desk {

struct HitBox {
  Rect box;
  Action press{};       ///< when the pointer goes down
  Action release{};     ///< when it comes up again, wherever that is
  Action hover{};       ///< while it is here
  Action wheel{};       ///< with `number` times the steps of the wheel
  std::string focus{};  ///< keys can come here, by this name
};

class HitBoxes {
 public:
  void clear() { boxes_.clear(); }
  void add(HitBox box) { boxes_.push_back(std::move(box)); }
  const std::vector<HitBox>& all() const { return boxes_; }
  /// The one on top.
  const HitBox* at(Point point) const {
    for (auto box = boxes_.rbegin(); box != boxes_.rend(); ++box) {
      if (box->box.contains(point)) return &*box;
    }
    return nullptr;
  }

 private:
  std::vector<HitBox> boxes_;
};

}  // namespace prewire::front::desk
