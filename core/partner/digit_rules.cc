#include "partner/digit_rules.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <bit>

namespace prewire::partner {

namespace {

constexpr unsigned kPoint = 0x80;
constexpr int kSegments = 7;
constexpr int kDigits = 3, kStrange = 2;  // before a mirror is believed in
constexpr int kOutlandish = 3;
constexpr int kTogether = 64;
constexpr Picoseconds kTurn = 200'000'000;  // 0.2 ms; between the stores of a scan there is less

// With and without tails (National 74LS48 data sheet; common practice).
constexpr std::array<std::array<unsigned, 2>, 10> kDigitPatterns{{{0x3F, 0x3F},
                                                                  {0x06, 0x30},
                                                                  {0x5B, 0x5B},
                                                                  {0x4F, 0x4F},
                                                                  {0x66, 0x66},
                                                                  {0x6D, 0x6D},
                                                                  {0x7D, 0x7C},
                                                                  {0x07, 0x27},
                                                                  {0x7F, 0x7F},
                                                                  {0x6F, 0x67}}};

// Letters and signs that programs show (common practice): a e G h J n u Y, a degree, brackets and bars; and what a
// 74LS47 makes of 11 to 13 (TI, The TTL Data Book).
constexpr std::array kLetters{0x5FU, 0x7BU, 0x3DU, 0x74U, 0x1EU, 0x0EU, 0x37U, 0x63U,
                              0x1CU, 0x6EU, 0x0FU, 0x49U, 0x4CU, 0x62U, 0x69U};

int digit_of(unsigned pattern) {
  for (std::size_t digit = 0; digit < 10; ++digit) {
    if (pattern == kDigitPatterns[digit][0] || pattern == kDigitPatterns[digit][1]) return static_cast<int>(digit);
  }
  return -1;
}

unsigned inverted(unsigned pattern) { return ~pattern & 0x7F; }
unsigned reversed(unsigned pattern, int lines) {
  unsigned result = 0;
  for (int i = 0; i < lines; ++i) result |= (pattern >> i & 1) << (lines - 1 - i);
  return result & 0x7F;
}

/// How many different digits the patterns are if one looks at them so; 0 if one of them is none.
template <class Look>
int digits(const std::bitset<256>& shown, Look look) {
  unsigned found = 0;
  for (unsigned pattern = 1; pattern < 256; ++pattern) {
    if (!shown[pattern]) continue;
    const unsigned seen = look(pattern);
    if (seen == 0 || seen == 0x40) continue;  // dark, or a dash
    const int digit = digit_of(seen);
    if (digit < 0) return 0;
    found |= 1U << digit;
  }
  return std::popcount(found);
}

}  // namespace

DigitRules::DigitRules(Scene& scene) : scene_(scene) {
  const std::vector<ChipView> chips = scene.machine.chips();
  std::vector<Group> digits(chips.size());
  for (const NetView& net : scene.machine.nets()) {
    if (net.rail) continue;
    for (const NetView::Pin& pin : net.pins) {
      if (pin.chip < 0 || chips[static_cast<std::size_t>(pin.chip)].type->looks != Looks::digit) continue;
      if (pin.pin < kSegments) digits[static_cast<std::size_t>(pin.chip)].nets.push_back(net.name);
    }
  }
  for (std::size_t i = 0; i < chips.size(); ++i) {
    if (chips[i].type->looks != Looks::digit) continue;
    const auto same = std::find_if(groups_.begin(), groups_.end(), [&](const Group& group) {
      return !digits[i].nets.empty() && group.nets == digits[i].nets;
    });
    if (same == groups_.end()) {
      groups_.push_back({.digits = {std::string(chips[i].name)}, .nets = std::move(digits[i].nets)});
    } else {
      same->digits.emplace_back(chips[i].name);
    }
  }
  constexpr int kCom = 8;
  for (const NetView& net : scene.machine.nets()) {
    if (net.rail) continue;
    for (const NetView::Pin& pin : net.pins) {
      if (pin.chip < 0 || pin.pin != kCom) continue;
      const ChipView& chip = chips[static_cast<std::size_t>(pin.chip)];
      if (chip.type->looks != Looks::digit) continue;
      const auto group = std::find_if(groups_.begin(), groups_.end(), [&](const Group& each) {
        return std::find(each.digits.begin(), each.digits.end(), chip.name) != each.digits.end();
      });
      if (group->digits.size() < 2) continue;
      const Level on_at = (*chip.parameters)["common"] != 0 ? Level::high : Level::low;
      const bool on = net.state.level == on_at;
      selects_.push_back({net.name, static_cast<std::size_t>(group - groups_.begin()), on_at, on});
      group->selected += on ? 1 : 0;
    }
  }
}

void DigitRules::on_net(std::string_view net, const NetState& state, Stamp when) {
  for (Select& select : selects_) {
    if (select.net.data() != net.data()) continue;
    const bool on = state.level == select.on_at;
    if (on == select.on) continue;
    select.on = on;
    Group& group = groups_[select.group];
    this->select(group, select.group, group.selected + (on ? 1 : -1), when);
  }
}

/// A scan in which never a single digit is selected, only several or none.
void DigitRules::select(Group& group, std::uint64_t number, int selected, Stamp when) {
  const bool long_enough = when - group.since >= scene_.machine.timebase().stamps(kTurn);
  if (long_enough && group.selected == 1) group.alone = true;
  if (long_enough && group.selected > 1 && !group.alone && ++group.together == kTogether) {
    scene_.say("digits-together", number, [&] {
      return std::pair(
          fmt::format("{} of {} are selected at once in each turn of the scan, and never a single one: they "
                      "show the same, and each other's patterns",
                      group.selected, fmt::join(group.digits, ", ")),
          "a digit with a common cathode is selected by a low at COM, one with a common anode by a high: is "
          "the pattern of the selects the wrong way round?");
    });
  }
  group.selected = selected;
  group.since = when;
}

void DigitRules::on_pattern(std::string_view chip, std::int64_t pattern) {
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    Group& group = groups_[i];
    if (std::find(group.digits.begin(), group.digits.end(), chip) == group.digits.end()) continue;
    const auto bits = static_cast<std::size_t>(pattern & 0xFF);
    if (group.shown[bits]) return;
    group.shown[bits] = true;
    group.strange[bits] = (pattern & 0x100) != 0;
    guess(group, i);
    return;
  }
}

/// A strange pattern may be meant; but not if all that was shown are digits in a mirror.
void DigitRules::guess(const Group& group, std::uint64_t number) {
  if (group.strange.count() < kStrange) return;
  const auto count = [&](auto look) { return digits(group.shown, look); };
  const auto who = [&] { return fmt::format("{}", fmt::join(group.digits, ", ")); };
  const bool one = group.digits.size() == 1;
  if (count([](unsigned pattern) { return inverted(pattern); }) >= kDigits) {
    scene_.say("segments-inverted", number, [&] {
      return std::pair(fmt::format("{} {} dark what should be lit: the patterns are digits if one turns every segment "
                                   "over",
                                   who(), one ? "shows" : "show"),
                       "a display with a common anode wants lows for lit segments, one with a common cathode highs: "
                       "complement the patterns, or take the other display");
    });
  } else if (count([](unsigned pattern) { return reversed(pattern & ~kPoint, 7); }) >= kDigits ||
             count([](unsigned pattern) { return reversed(pattern, 8); }) >= kDigits) {
    scene_.say("segments-reversed", number, [&] {
      return std::pair(fmt::format("{} {} patterns that are digits if one reads their bits from the other end", who(),
                                   one ? "shows" : "show"),
                       "the segments are wired in reverse order: bit 0 belongs to segment a");
    });
  } else {
    // Two segments may be a bar that moves.
    int outlandish = 0, good = 0;
    for (unsigned pattern = 1; pattern < 256; ++pattern) {
      if (!group.shown[pattern]) continue;
      const unsigned segments = pattern & ~kPoint;
      const bool letter = std::find(kLetters.begin(), kLetters.end(), segments) != kLetters.end();
      outlandish += group.strange[pattern] && !letter && std::popcount(segments) > 2 ? 1 : 0;
      good += group.strange[pattern] ? 0 : 1;
    }
    const bool many = outlandish >= kOutlandish && 2 * outlandish >= good;
    if (!many && (outlandish < kStrange || outlandish < good)) return;
    scene_.say("no-character", number, [&] {
      return std::pair(fmt::format("{} {} patterns that are no characters, {} of them so far: some segments may be "
                                   "crossed",
                                   who(), one ? "shows" : "show", outlandish),
                       "follow the wire of each segment, a to g, and compare the table of patterns with the order of "
                       "its bits");
    });
  }
}

void DigitRules::forget() {
  for (Group& group : groups_) {
    group.shown.reset();
    group.strange.reset();
    group.together = 0;
    group.since = stamp_of(scene_.machine.now());
    group.selected = 0;
  }
  const std::vector<NetView> views = scene_.machine.nets();
  for (Select& select : selects_) {
    for (const NetView& view : views) {
      if (view.name.data() == select.net.data()) select.on = view.state.level == select.on_at;
    }
    groups_[select.group].selected += select.on ? 1 : 0;
  }
}

}  // namespace prewire::partner
