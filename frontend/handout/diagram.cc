#include "diagram.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <map>
#include <set>

#include "diagram_buses.h"
#include "markup.h"

namespace prewire::handout {

namespace {

// Sizes in user units; a row is as wide as the text on the page, which makes a unit about 0.31 mm.
constexpr int kWidth = 580;
constexpr int kPitch = 13;  // from pin to pin
constexpr int kBody = 92;   // width of a package
constexpr int kShort = 16;  // line of a pin that ends in a label
constexpr int kLong = 60;   // line of a pin that goes into a bus
constexpr int kLane = 8;    // from bus to bus beside a package
constexpr int kHead = 30;   // above a package, for its name
constexpr int kTrunk = 17;  // from bus to bus below a row
constexpr int kCell = 182;  // width of a part with two or three ends
constexpr int kCellHeight = 48;

/// Grows while things are drawn.
class Canvas {
 public:
  void line(int x1, int y1, int x2, int y2, std::string_view kind = "w") {
    body_ += fmt::format("<line class=\"{}\" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"/>\n", kind, x1, y1, x2, y2);
  }
  void box(int x, int y, int width, int height) {
    body_ += fmt::format("<rect class=\"o\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", x, y, width, height);
  }
  void path(const std::string& d, std::string_view kind = "o") {
    body_ += fmt::format("<path class=\"{}\" d=\"{}\"/>\n", kind, d);
  }
  void circle(int x, int y, int radius, std::string_view kind) {
    body_ += fmt::format("<circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>\n", kind, x, y, radius);
  }
  void text(int x, int y, std::string_view anchor, std::string_view kind, std::string_view words) {
    body_ += fmt::format("<text class=\"{}\" x=\"{}\" y=\"{}\" text-anchor=\"{}\">{}</text>\n", kind, x, y, anchor,
                         escaped(words));
  }
  std::string document(int height, const std::string& title) const {
    return fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{}\">\n"
        "<style>.w{{stroke:#000;stroke-width:.9}}.b{{stroke:#000;stroke-width:3.2;stroke-linecap:round}}"
        ".o{{stroke:#000;stroke-width:1.2;fill:#fff}}.f{{fill:#000}}.n{{fill:none;stroke:#000;stroke-width:1.2}}"
        "text{{font-family:Arial,Helvetica,'DejaVu Sans',sans-serif;fill:#000}}"
        ".h{{font-size:10px;font-weight:bold}}.t{{font-size:7px}}.p{{font-size:7.4px}}.d{{font-size:6.4px}}"
        ".l{{font-size:7.4px;font-weight:bold}}.e{{paint-order:stroke;stroke:#fff;stroke-width:3px}}</style>\n{}</"
        "svg>\n",
        kWidth, height, escaped(title), body_);
  }

 private:
  std::string body_;
};

/// One side of a package.
struct Side {
  struct Run {
    int bus = 0, first = 0, last = 0;  // rows
  };
  std::vector<int> pins;  ///< indices into `Part::pins`, from top to bottom
  int lane = kLong;       ///< from the body to the first bus, behind all labels
  std::vector<Run> runs;  ///< neighbours that go into the same bus, the lowest first: so no bus crosses another
};

/// A part with its pins on two sides.
struct Item {
  int part = 0;
  Side left, right;
  int body = kBody;
  bool with_next = false;  ///< stands in the same row as the next one

  int rows() const { return static_cast<int>(std::max(left.pins.size(), right.pins.size())); }
  int height() const { return kHead + rows() * kPitch + 12; }
  static int reach(const Side& side) {
    if (side.pins.empty()) return 4;
    return side.lane + static_cast<int>(side.runs.size()) * kLane;
  }
  int width() const { return reach(left) + body + reach(right); }
};

class Diagram {
 public:
  explicit Diagram(const Board& board) : board_(board), buses_(drawn_buses(board)) {
    for (std::size_t i = 0; i < buses_.size(); ++i) {
      for (const int net : buses_[i].nets) bus_of_[net] = static_cast<int>(i);
    }
    for (std::size_t i = 0; i < board.nets.size(); ++i) {
      for (const End end : board.nets[i].ends) net_of_[end] = static_cast<int>(i);
    }
  }

  std::vector<std::string> draw() {
    collect();
    arrange();
    std::vector<std::string> rows;
    for (std::size_t row = 0; row < rows_.size(); ++row) rows.push_back(draw_row(row));
    return rows;
  }

 private:
  struct Row {
    std::vector<Item> items;
    std::vector<std::vector<int>> stacks;  // small parts, one stack beside the other
    int width() const {
      int sum = static_cast<int>(stacks.size()) * kCell;
      for (const Item& item : items) sum += item.width() + 8;
      return sum;
    }
    int height() const {
      int most = 0;
      for (const Item& item : items) most = std::max(most, item.height());
      for (const auto& stack : stacks) most = std::max(most, static_cast<int>(stack.size()) * kCellHeight + 8);
      return most;
    }
  };

  const Part& part(int index) const { return board_.parts[static_cast<std::size_t>(index)]; }
  int net_at(End end) const {
    const auto found = net_of_.find(end);
    return found == net_of_.end() ? -1 : found->second;
  }
  int bus_at(End end) const {
    const auto found = bus_of_.find(net_at(end));
    return found == bus_of_.end() ? -1 : found->second;
  }

  // What is drawn, and in which order ---------------------------------------------------------------------------------

  bool small(int index) const {
    const Part& it = part(index);
    return it.kind == Part::Kind::loose && it.pins.size() <= 3;
  }

  void collect() {
    std::set<int> done;
    const auto add = [&](int index) {
      if (part(index).kind == Part::Kind::rail || !done.insert(index).second) return;
      if (small(index)) {
        cells_.push_back(index);
      } else {
        items_.push_back(make_item(index));
      }
    };
    const auto count = static_cast<int>(board_.parts.size());
    for (int i = 0; i < count; ++i) {
      if (!part(i).packaged()) continue;
      add(i);
      // A digit stands beside the chip that drives it alone.
      for (const DrawnBus& bus : buses_) {
        const std::vector<End>& ends = board_.nets[static_cast<std::size_t>(bus.nets.front())].ends;
        if (ends.size() != 2 || ends[0].part != i || part(ends[1].part).kind != Part::Kind::loose) continue;
        if (done.contains(ends[1].part)) continue;
        items_.back().with_next = true;
        add(ends[1].part);
      }
    }
    for (int i = 0; i < count; ++i) {
      if (part(i).kind == Part::Kind::block) add(i);
    }
    for (int i = 0; i < count; ++i) add(i);
  }

  Item make_item(int index) const {
    Item item;
    item.part = index;
    const Part& it = part(index);
    const auto count = static_cast<int>(it.pins.size());
    if (it.packaged()) {
      for (int i = 0; i < count / 2; ++i) item.left.pins.push_back(i);
      for (int i = count - 1; i >= count / 2; --i) item.right.pins.push_back(i);
    } else if (it.kind == Part::Kind::block) {
      for (int i = 0; i < count; ++i)
        (it.pins[static_cast<std::size_t>(i)].name.starts_with("input") ? item.left : item.right).pins.push_back(i);
      item.body = item.left.pins.empty() ? 46 : 84;
    } else {
      for (int i = 0; i < count; ++i) item.left.pins.push_back(i);
      item.body = 58;
    }
    for (Side* side : {&item.left, &item.right}) find_runs(index, *side);
    return item;
  }

  void find_runs(int index, Side& side) const {
    const auto rows = static_cast<int>(side.pins.size());
    for (int row = 0; row < rows;) {
      const int bus = bus_at({index, side.pins[static_cast<std::size_t>(row)]});
      int end = row + 1;
      while (end < rows && bus >= 0 && bus_at({index, side.pins[static_cast<std::size_t>(end)]}) == bus) ++end;
      if (bus >= 0 && end - row > 1) side.runs.push_back({bus, row, end - 1});
      row = end;
    }
    std::reverse(side.runs.begin(), side.runs.end());
    int longest = 0;
    for (const int pin : side.pins) {
      const int net = net_at({index, pin});
      if (net < 0 || in_run(side, pin)) continue;
      longest = std::max(longest, static_cast<int>(label(board_.nets[static_cast<std::size_t>(net)]).size()));
    }
    const int labels = kShort + 8 + longest * 5;
    side.lane = side.runs.empty() ? labels : std::max(kLong, labels);
  }

  static bool in_run(const Side& side, int pin) {
    return std::any_of(side.runs.begin(), side.runs.end(), [&](const Side::Run& run) {
      for (int row = run.first; row <= run.last; ++row) {
        if (side.pins[static_cast<std::size_t>(row)] == pin) return true;
      }
      return false;
    });
  }

  void arrange() {
    for (std::size_t i = 0; i < items_.size(); ++i) {
      const Item& item = items_[i];
      const int width = item.width() + (item.with_next ? 8 + items_[i + 1].width() : 0);
      if (rows_.empty() || rows_.back().width() + width > kWidth) rows_.emplace_back();
      rows_.back().items.push_back(item);
    }
    auto next = cells_.begin();
    const auto stack = [&](Row& row, int most) {
      const auto end = next + std::min<std::ptrdiff_t>(most, cells_.end() - next);
      row.stacks.emplace_back(next, end);
      next = end;
    };
    // Small parts fill what is left of the last rows of packages, then rows of their own.
    for (auto row = rows_.rbegin(); row != rows_.rend() && next != cells_.end(); ++row) {
      const int room = (row->height() - 8) / kCellHeight;
      while (next != cells_.end() && room > 0 && row->width() + kCell <= kWidth) stack(*row, room);
    }
    while (next != cells_.end()) {
      rows_.emplace_back();
      const auto left = cells_.end() - next;
      const int deep = static_cast<int>(std::min<std::ptrdiff_t>(6, (left + 2) / 3));
      while (next != cells_.end() && rows_.back().stacks.size() < 3) stack(rows_.back(), deep);
    }
  }

  // Drawing -----------------------------------------------------------------------------------------------------------

  std::string draw_row(std::size_t index) {
    const Row& row = rows_[index];
    Canvas canvas;
    drops_.clear();
    int x = 0;
    const int gap = std::min(24, (kWidth - row.width()) / std::max(1, static_cast<int>(row.items.size())));
    for (const Item& item : row.items) {
      draw_item(canvas, item, x + Item::reach(item.left), kHead);
      x += item.width() + 8 + gap;
    }
    for (const std::vector<int>& stack : row.stacks) {
      int y = 0;
      for (const int cell : stack) {
        draw_cell(canvas, cell, x, y);
        y += kCellHeight;
      }
      x += kCell;
    }
    int y = row.height() + 10;
    std::vector<std::pair<std::pair<int, int>, std::string>> labels;  // over the lines, with a white edge
    for (const auto& [bus, tops] : drops_) {
      const DrawnBus& drawn = buses_[static_cast<std::size_t>(bus)];
      int from = tops.front().first, to = from;
      for (const auto& [at, top] : tops) {
        from = std::min(from, at);
        to = std::max(to, at);
        canvas.line(at, top, at, y, "b");
        canvas.circle(at, y, 3, "f");
      }
      const std::string elsewhere = other_rows(bus, index);
      const std::string words = drawn.name + (elsewhere.empty() ? "" : ", also in " + elsewhere);
      const int length = static_cast<int>(words.size()) * 9 / 2;
      if (!elsewhere.empty() && to + 30 + length < kWidth) to += 24;
      canvas.line(from, y, to, y, "b");
      if (to + 6 + length < kWidth) {
        canvas.text(to + 6, y + 3, "start", "l", words);
      } else {
        labels.emplace_back(std::pair(from + 14, y - 4), words);
      }
      y += kTrunk;
    }
    for (const auto& [at, words] : labels) canvas.text(at.first, at.second, "start", "l e", words);
    return canvas.document(y + 2, fmt::format("Wiring diagram, row {}", index + 1));
  }

  std::string other_rows(int bus, std::size_t here) const {
    std::string text;
    for (std::size_t row = 0; row < rows_.size(); ++row) {
      if (row == here) continue;
      const bool there = std::any_of(rows_[row].items.begin(), rows_[row].items.end(), [&](const Item& item) {
        const auto in = [&](const Side& side) {
          return std::any_of(side.runs.begin(), side.runs.end(), [&](const Side::Run& run) { return run.bus == bus; });
        };
        return in(item.left) || in(item.right);
      });
      if (there) text += fmt::format("{}{}", text.empty() ? "row " : ", ", row + 1);
    }
    return text;
  }

  /// `x` and `y` are the upper left corner of the body.
  void draw_item(Canvas& canvas, const Item& item, int x, int y) {
    const Part& it = part(item.part);
    const int middle = x + item.body / 2, height = item.rows() * kPitch + 6;
    canvas.text(middle, y - 14, "middle", "h", it.name.empty() || it.name == it.ref ? it.ref : it.ref + " " + it.name);
    canvas.text(middle, y - 5, "middle", "t", it.packaged() ? upper(it.type) : short_name(it));
    canvas.box(x, y, item.body, height);
    if (it.packaged()) canvas.path(fmt::format("M{} {} a7 7 0 0 0 14 0", middle - 7, y), "n");
    if (it.type == "seven_segment") draw_digit(canvas, x + item.body - 30, y + height / 2 - 22);
    draw_side(canvas, item, item.left, x, y, -1);
    draw_side(canvas, item, item.right, x + item.body, y, 1);
  }

  void draw_side(Canvas& canvas, const Item& item, const Side& side, int x, int y, int way) {
    const char* outwards = way < 0 ? "end" : "start";
    const char* inwards = way < 0 ? "start" : "end";
    std::vector<int> run_of(side.pins.size(), -1);
    for (std::size_t run = 0; run < side.runs.size(); ++run) {
      for (int row = side.runs[run].first; row <= side.runs[run].last; ++row) {
        run_of[static_cast<std::size_t>(row)] = static_cast<int>(run);
      }
    }
    for (std::size_t row = 0; row < side.pins.size(); ++row) {
      const int at = y + 10 + static_cast<int>(row) * kPitch;
      const End end{item.part, side.pins[row]};
      const Terminal& pin = board_.terminal(end);
      canvas.text(x - way * 4, at + 3, inwards, "p", short_pin(pin.name));
      if (pin.number != 0) canvas.text(x + way * 3, at - 2, outwards, "d", std::to_string(pin.number));
      const int net = net_at(end);
      if (net < 0) {
        canvas.line(x, at, x + way * kShort, at);
        canvas.path(fmt::format("M{0} {1} l4 4 m0 -4 l-4 4", x + way * kShort - 2, at - 2), "n");
        continue;
      }
      const Net& wired = board_.nets[static_cast<std::size_t>(net)];
      if (run_of[row] < 0) {
        canvas.line(x, at, x + way * kShort, at);
        if (wired.rail) draw_rail_mark(canvas, x + way * kShort, at, wired.purpose);
        canvas.text(x + way * (kShort + (wired.rail ? 5 : 2)), at + 3, outwards, "l", label(wired));
        continue;
      }
      const int lane = x + way * (side.lane + run_of[row] * kLane);
      canvas.line(x, at, lane - way * 4, at);
      canvas.line(lane - way * 4, at, lane, at + 4);
      canvas.text(x + way * (side.lane - 8), at - 2, inwards, "d", short_label(wired));
    }
    for (std::size_t run = 0; run < side.runs.size(); ++run) {
      const int lane = x + way * (side.lane + static_cast<int>(run) * kLane);
      drops_[side.runs[run].bus].emplace_back(lane, y + 14 + side.runs[run].first * kPitch);
    }
  }

  static void draw_rail_mark(Canvas& canvas, int x, int y, Purpose purpose) {
    if (purpose == Purpose::ground) {
      canvas.line(x, y - 4, x, y + 4);
    } else {
      canvas.circle(x, y, 2, "o");
    }
  }

  static void draw_digit(Canvas& canvas, int x, int y) {
    canvas.path(fmt::format("M{} {} h16 m0 3 v16 m0 6 v16 m0 3 h-16 m0 -3 v-16 m0 -6 v-16 m2 19 h12", x, y), "n");
    canvas.circle(x + 21, y + 44, 1, "f");
  }

  /// A part with two or three ends, lying on its side.
  void draw_cell(Canvas& canvas, int index, int x, int y) {
    const Part& it = part(index);
    const int left = x + 62, right = x + 116, middle = (left + right) / 2, at = y + (it.pins.size() == 3 ? 28 : 24);
    const std::string title = it.name.empty() || it.name == it.ref ? it.ref : it.ref + " " + it.name;
    canvas.text(middle, y + 9, "middle", "h", title);
    const bool three = it.pins.size() == 3;
    canvas.text(middle, three ? y + 17 : at + 17, "middle", "t", shortened(it.value.empty() ? it.what : it.value));
    const int last = three ? 2 : static_cast<int>(it.pins.size()) - 1;
    draw_cell_end(canvas, {index, 0}, left, at, -1);
    if (last > 0) draw_cell_end(canvas, {index, last}, right, at, 1);
    canvas.line(left, at, middle - 12, at);
    if (last > 0) canvas.line(middle + 12, at, right, at);
    if (it.type == "led") {
      canvas.path(fmt::format("M{} {} v12 l14 -6 z", middle - 7, at - 6), "o");
      canvas.line(middle - 12, at, middle - 7, at);
      canvas.line(middle + 7, at, middle + 12, at);
      canvas.line(middle + 7, at - 6, middle + 7, at + 6, "n");
    } else if (it.ref.starts_with("SW") || it.type == "switch" || it.type == "button") {
      canvas.circle(middle - 11, at, 2, "o");
      canvas.circle(middle + 11, at, 2, "o");
      canvas.line(middle - 9, at - 1, middle + 9, at - 8);
    } else if (it.ref.starts_with("C") && it.type.empty()) {
      canvas.line(middle - 12, at, middle - 3, at);
      canvas.line(middle + 3, at, middle + 12, at);
      canvas.line(middle - 3, at - 7, middle - 3, at + 7, "n");
      canvas.line(middle + 3, at - 7, middle + 3, at + 7, "n");
    } else if (it.ref.starts_with("Y")) {
      canvas.box(middle - 5, at - 7, 10, 14);
      canvas.line(middle - 9, at - 6, middle - 9, at + 6, "n");
      canvas.line(middle + 9, at - 6, middle + 9, at + 6, "n");
      canvas.line(middle - 12, at, middle - 9, at);
      canvas.line(middle + 9, at, middle + 12, at);
    } else {
      canvas.box(middle - 12, at - 5, 24, 10);
      if (it.ref.starts_with("VS") || it.ref.starts_with("OSC")) canvas.circle(middle, at, 3, "n");
    }
    if (three) {
      canvas.line(middle, at + 5, middle, at + 15);
      canvas.path(fmt::format("M{} {} l3 6 h-6 z", middle, at + 5), "f");
      canvas.text(middle + 4, at + 15, "start", "l", net_label({index, 1}));
    }
  }

  void draw_cell_end(Canvas& canvas, End end, int x, int y, int way) {
    const Terminal& pin = board_.terminal(end);
    canvas.text(x + way * -2, y - 3, way < 0 ? "start" : "end", "d", pin.name);
    const int net = net_at(end);
    if (net >= 0 && board_.nets[static_cast<std::size_t>(net)].rail) {
      draw_rail_mark(canvas, x, y, board_.nets[static_cast<std::size_t>(net)].purpose);
    }
    canvas.text(x + way * 5, y + 3, way < 0 ? "end" : "start", "l", net_label(end));
  }

  // Words -------------------------------------------------------------------------------------------------------------

  std::string net_label(End end) const {
    const int net = net_at(end);
    return net < 0 ? "open" : label(board_.nets[static_cast<std::size_t>(net)]);
  }
  static std::string label(const Net& net) {
    const std::string& name = net.name;
    return name.size() > 11 ? name.substr(0, 10) + "~" : name;
  }
  static std::string short_label(const Net& net) {
    const std::size_t dot = net.name.find('.');
    return dot == std::string::npos ? net.name : net.name.substr(dot + 1);
  }
  static std::string short_pin(const std::string& name) {
    for (const std::string_view prefix : {"input ", "output "}) {
      if (name.starts_with(prefix)) return name.substr(prefix.size());
    }
    return name;
  }
  static std::string short_name(const Part& it) {
    if (!it.value.empty()) return it.value;
    if (it.ref == "DEC") return "address decoder";
    if (it.ref == "RST") return "reset circuit";
    return shortened(it.what);
  }
  static std::string shortened(const std::string& text) {
    const std::size_t comma = text.find_first_of(",:");
    return comma == std::string::npos ? text : text.substr(0, comma);
  }
  static std::string upper(std::string text) {
    for (char& c : text) {
      if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    }
    return text;
  }

  const Board& board_;
  std::vector<DrawnBus> buses_;
  std::map<int, int> bus_of_;  // net to bus
  std::map<End, int> net_of_;
  std::vector<Item> items_;
  std::vector<int> cells_;
  std::vector<Row> rows_;
  std::map<int, std::vector<std::pair<int, int>>> drops_;  // of the row: bus, and where it comes down
};

}  // namespace

std::vector<std::string> diagram(const Board& board) { return Diagram(board).draw(); }

}  // namespace prewire::handout
