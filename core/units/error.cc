#include "prewire/error.h"

#include <algorithm>
#include <numeric>
#include <tuple>

#include "prewire/text.h"

namespace prewire {

std::string_view to_string(Weight weight) {
  switch (weight) {
    case Weight::hint: return "hint";
    case Weight::warn: return "warn";
    case Weight::stop: return "stop";
  }
  return "";
}

namespace {

/// A line of source that is shown in a field stands in a line of its own, under the text of the field. No other line
/// end counts as one, or a name could look like another message.
std::string field(std::string_view text) {
  constexpr std::string_view kUnder = "\n              ";
  std::string shown;
  for (std::size_t end = text.find(kUnder); end != std::string_view::npos; end = text.find(kUnder)) {
    shown += printable(text.substr(0, end));
    shown += kUnder;
    text.remove_prefix(end + kUnder.size());
  }
  return shown + printable(text);
}

}  // namespace

std::string to_string(const Fault& fault) {
  std::string text;
  if (!fault.place.file.empty()) {
    text += printable(fault.place.file);
    if (fault.place.line > 0) text += ':' + std::to_string(fault.place.line);
    if (fault.place.line > 0 && fault.place.column > 0) text += ':' + std::to_string(fault.place.column);
    text += ": ";
  }
  text += std::string(to_string(fault.weight)) + ": " + printable(fault.what);
  if (!fault.place.pointer.empty()) text += " (at " + printable(fault.place.pointer) + ")";
  text += " [" + printable(fault.id) + "]\n";
  if (!fault.expected.empty()) text += "    expected: " + field(fault.expected) + '\n';
  if (!fault.found.empty()) text += "    found:    " + field(fault.found) + '\n';
  if (!fault.hint.empty()) text += "    hint:     " + field(fault.hint) + '\n';
  return text;
}

InputError::InputError(std::vector<Fault> faults) : faults_(std::move(faults)) {
  const auto order = [](const Fault& a, const Fault& b) {
    return std::tuple(b.weight, a.place.line, a.place.column) < std::tuple(a.weight, b.place.line, b.place.column);
  };
  std::stable_sort(faults_.begin(), faults_.end(), order);
  if (faults_.size() > kMost) {
    omitted_ = faults_.size() - kMost;
    faults_.resize(kMost);
  }
  for (std::size_t i = 0; i < faults_.size(); ++i) {
    const std::string whole = to_string(faults_[i]);
    text_ += i < kWhole ? whole : whole.substr(0, whole.find('\n') + 1);
  }
  if (omitted_ > 0) text_ += "and " + std::to_string(omitted_) + " more\n";
}

namespace {

/// Letters to insert, remove or change, and neighbours to swap, until `a` is `b` (optimal string alignment); capitals
/// are the same as small letters.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; };
  const auto same = [&](std::size_t i, std::size_t j) { return lower(a[i - 1]) == lower(b[j - 1]); };
  std::vector<std::size_t> row(b.size() + 1), above(row), above_that(row);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    above_that.swap(above);
    above.swap(row);
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      row[j] = std::min({row[j - 1] + 1, above[j] + 1, above[j - 1] + (same(i, j) ? 0 : 1)});
      if (i > 1 && j > 1 && same(i, j - 1) && same(i - 1, j)) row[j] = std::min(row[j], above_that[j - 2] + 1);
    }
  }
  return row.back();
}

}  // namespace

std::string list_of(const std::vector<std::string>& words, std::string_view last) {
  std::string list;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) list += i + 1 < words.size() ? ", " : " " + std::string(last) + " ";
    list += words[i];
  }
  return list;
}

std::string did_you_mean(std::string_view word, const std::vector<std::string>& candidates) {
  std::string best;
  std::size_t best_distance = word.size() + 1;
  for (const std::string& candidate : candidates) {
    const std::size_t most = std::min<std::size_t>(3, (std::max(word.size(), candidate.size()) + 1) / 4);
    // Each letter that one has more is to be inserted.
    if (std::max(word.size(), candidate.size()) - std::min(word.size(), candidate.size()) > most) continue;
    const std::size_t distance = edit_distance(word, candidate);
    if (distance <= most && distance < best_distance) {
      best_distance = distance;
      best = candidate;
    }
  }
  return best;
}

}  // namespace prewire
