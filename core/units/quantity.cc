#include "units/quantity.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <vector>

#include "units/text.h"

namespace prewire {

namespace {

struct Prefix {
  std::string_view text;
  int power;
};

// Largest first; the first spelling of a power is the one that is written.
constexpr std::array<Prefix, 10> kPrefixes = {{{"G", 9},
                                               {"M", 6},
                                               {"k", 3},
                                               {"", 0},
                                               {"m", -3},
                                               {"u", -6},
                                               {"\u00B5", -6},
                                               {"\u03BC", -6},
                                               {"n", -9},
                                               {"p", -12}}};

/// How quantities of a unit are written.
struct Form {
  std::vector<std::string_view> symbols;  ///< the first one is the one that is written
  int power = 0;                          ///< 1 of the symbol is 10^power of the value kept
  int lowest = 0, highest = 0;            ///< powers of the prefixes that make sense
  bool bare = false;                      ///< a number without a symbol is a quantity too
  int bare_power = 0;
};

const Form& form_of(Unit unit) {
  static const Form kCount{{}, 0, 0, 0, true, 0};
  static const Form kFrequency{{"Hz"}, 3, -3, 9};
  static const Form kVoltage{{"V"}, 6, -6, 3};
  static const Form kResistance{{"Ohm", "ohm", "\u03A9", "\u2126"}, 0, 0, 9};
  static const Form kCapacitance{{"F"}, 15, -12, 0};
  static const Form kTime{{"s"}, 12, -12, 0};
  static const Form kSteps{{"LSB"}, 3, 0, 0};
  static const Form kFraction{{"%"}, 4, 0, 0, true, 6};
  switch (unit) {
    case Unit::millihertz: return kFrequency;
    case Unit::microvolts: return kVoltage;
    case Unit::ohms: return kResistance;
    case Unit::femtofarads: return kCapacitance;
    case Unit::picoseconds: return kTime;
    case Unit::millilsb: return kSteps;
    case Unit::millionths: return kFraction;
    case Unit::count:
    case Unit::choice:
    case Unit::flag: break;
  }
  return kCount;
}

bool sensible(const Form& form, const Prefix& prefix) {
  return prefix.power >= form.lowest && prefix.power <= form.highest;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// digits times 10^exponent, without zeros at either end of the digits.
struct Decimal {
  bool negative = false;
  std::string digits;
  long exponent = 0;
};

/// Takes a number off the front of `text`; false if there is none.
bool take_decimal(std::string_view& text, Decimal& decimal) {
  std::size_t at = 0;
  const auto more = [&] { return at < text.size(); };
  if (more() && (text[at] == '+' || text[at] == '-')) decimal.negative = text[at++] == '-';
  bool any = false, fraction = false;
  for (; more() && (is_digit(text[at]) || (text[at] == '.' && !fraction)); ++at) {
    if (text[at] == '.') {
      fraction = true;
      continue;
    }
    any = true;
    if (fraction) --decimal.exponent;
    if (!decimal.digits.empty() || text[at] != '0') decimal.digits += text[at];
  }
  if (!any) return false;
  if (more() && (text[at] == 'e' || text[at] == 'E')) {
    std::size_t power_at = at + 1;
    bool negative = false;
    if (power_at < text.size() && (text[power_at] == '+' || text[power_at] == '-')) negative = text[power_at++] == '-';
    if (power_at < text.size() && is_digit(text[power_at])) {
      long power = 0;
      // Beyond this any number but zero is too fine or too large.
      constexpr long kFar = 10'000'000;
      for (; power_at < text.size() && is_digit(text[power_at]); ++power_at) {
        power = std::min(kFar, power * 10 + (text[power_at] - '0'));
      }
      decimal.exponent += negative ? -power : power;
      at = power_at;
    }
  }
  while (!decimal.digits.empty() && decimal.digits.back() == '0') {
    decimal.digits.pop_back();
    ++decimal.exponent;
  }
  text.remove_prefix(at);
  return true;
}

Quantity scale(const Decimal& decimal, int power) {
  if (decimal.digits.empty()) return {};
  const long zeros = decimal.exponent + power;
  if (zeros < 0) return {0, QuantityTrouble::fine};
  constexpr std::uint64_t kMost = std::numeric_limits<std::int64_t>::max();
  const std::uint64_t limit = decimal.negative ? kMost + 1 : kMost;
  if (static_cast<long>(decimal.digits.size()) + zeros > std::numeric_limits<std::int64_t>::digits10 + 1) {
    return {0, QuantityTrouble::large};
  }
  std::uint64_t value = 0;  // up to 19 digits fit
  for (char digit : decimal.digits) value = value * 10 + static_cast<std::uint64_t>(digit - '0');
  for (long i = 0; i < zeros; ++i) value *= 10;
  if (value > limit) return {0, QuantityTrouble::large};
  return {static_cast<std::int64_t>(decimal.negative ? 0 - value : value), QuantityTrouble::none};
}

/// The power of the symbol with its prefix, or false.
bool find_symbol(const Form& form, std::string_view text, int& power) {
  for (const Prefix& prefix : kPrefixes) {
    if (!sensible(form, prefix) || !text.starts_with(prefix.text)) continue;
    const std::string_view symbol = text.substr(prefix.text.size());
    if (std::find(form.symbols.begin(), form.symbols.end(), symbol) == form.symbols.end()) continue;
    power = form.power + prefix.power;
    return true;
  }
  return false;
}

std::string lower(std::string_view text) {
  std::string result(text);
  for (char& c : result) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + ('a' - 'A')) : c;
  return result;
}

}  // namespace

Quantity read_quantity(std::string_view text, Unit unit) {
  if (unit == Unit::choice) return {0, QuantityTrouble::number};
  if (unit == Unit::flag) {
    const bool yes = text == "true";
    return {yes, yes || text == "false" ? QuantityTrouble::none : QuantityTrouble::number};
  }
  const Form& form = form_of(unit);
  std::string_view rest = trim(text);
  Decimal decimal;
  if (!take_decimal(rest, decimal)) return {0, QuantityTrouble::number};
  rest = trim(rest);
  if (rest.empty() && form.bare) return scale(decimal, form.bare_power);
  int power = 0;
  if (!find_symbol(form, rest, power)) return {0, QuantityTrouble::unit};
  return scale(decimal, power);
}

std::optional<std::int64_t> parse_quantity(std::string_view text, Unit unit) {
  const Quantity quantity = read_quantity(text, unit);
  if (quantity.trouble != QuantityTrouble::none) return std::nullopt;
  return quantity.value;
}

std::string format_quantity(std::int64_t value, Unit unit) {
  if (unit == Unit::flag) return value != 0 ? "true" : "false";
  const Form& form = form_of(unit);
  if (form.symbols.empty()) return std::to_string(value);
  const std::string sign = value < 0 ? "-" : "";
  // Negated as unsigned: the lowest value has no positive twin.
  const std::string digits =
      std::to_string(value < 0 ? 0 - static_cast<std::uint64_t>(value) : static_cast<std::uint64_t>(value));
  if (value == 0) return fmt::format("0 {}", form.symbols[0]);

  // The largest prefix with a whole part and at most three decimals; of a time, if that makes no long number: 1005.5
  // us, else the largest one with a whole part, with all decimals that there are: 2.00000055873 s. Else the smallest
  // one.
  std::string best, whole_best;
  int best_power = std::numeric_limits<int>::max();
  for (const Prefix& prefix : kPrefixes) {
    const int power = form.power + prefix.power;
    if (!sensible(form, prefix) || power == best_power) continue;
    best_power = power;
    std::string whole = "0", fraction = digits;
    const auto places = static_cast<std::size_t>(power);
    if (digits.size() > places) {
      whole = digits.substr(0, digits.size() - places);
      fraction = digits.substr(digits.size() - places);
    } else {
      fraction.insert(0, places - digits.size(), '0');
    }
    while (!fraction.empty() && fraction.back() == '0') fraction.pop_back();
    best =
        fmt::format("{}{}{}{} {}{}", sign, whole, fraction.empty() ? "" : ".", fraction, prefix.text, form.symbols[0]);
    if (whole == "0") continue;
    if (whole_best.empty()) whole_best = best;
    constexpr std::size_t kLong = 4;
    if (fraction.size() <= 3) return unit == Unit::picoseconds && whole.size() > kLong ? whole_best : best;
  }
  return unit == Unit::picoseconds && !whole_best.empty() ? whole_best : best;
}

std::string format_time(Stamp stamp, const Timebase& timebase) {
  if (timebase.in_range(stamp)) return format_quantity(timebase.span_of_stamp(stamp), Unit::picoseconds);
  return fmt::format("{:.0f} s", timebase.seconds(stamp));
}

std::string_view quantity_example(Unit unit) {
  switch (unit) {
    case Unit::count: return "a whole number such as 8";
    case Unit::millihertz: return "a frequency such as \"640 kHz\"";
    case Unit::microvolts: return "a voltage such as \"2.56 V\"";
    case Unit::ohms: return "a resistance such as \"10 kOhm\"";
    case Unit::femtofarads: return "a capacitance such as \"150 pF\"";
    case Unit::picoseconds: return "a time such as \"3 ms\"";
    case Unit::millilsb: return "a part of a converter's step such as \"0.5 LSB\"";
    case Unit::millionths: return "a fraction such as 0.25 or \"25 %\"";
    case Unit::choice: return "a word";
    case Unit::flag: return "true or false";
  }
  return "";
}

std::string quantity_hint(std::string_view text, Unit unit, QuantityTrouble trouble) {
  switch (trouble) {
    case QuantityTrouble::none:
    case QuantityTrouble::number: return "";
    case QuantityTrouble::fine: return fmt::format("the smallest step is {}", format_quantity(1, unit));
    case QuantityTrouble::large: return "the number is far too large: check the prefix";
    case QuantityTrouble::unit: break;
  }
  const Form& form = form_of(unit);
  std::string_view rest = trim(text);
  Decimal decimal;
  take_decimal(rest, decimal);
  rest = trim(rest);
  if (rest.empty()) return "write the unit after the number";
  if (form.symbols.empty()) return "this is a plain number without a unit";
  for (const Prefix& prefix : kPrefixes) {
    if (sensible(form, prefix) && lower(prefix.text) == lower(rest)) {
      return fmt::format("write the unit too: \"{}{}\"", prefix.text, form.symbols[0]);
    }
    for (std::string_view symbol : form.symbols) {
      const std::string known = std::string(prefix.text) + std::string(symbol);
      if (!sensible(form, prefix) || lower(known) != lower(rest)) continue;
      return fmt::format("capital and small letters matter: write \"{}\"", known);
    }
  }
  return "";
}

std::string quantity_pattern(Unit unit) {
  const Form& form = form_of(unit);
  std::string prefixes, symbols;
  for (const Prefix& prefix : kPrefixes) {
    if (prefix.power == 0 || !sensible(form, prefix)) continue;
    prefixes += fmt::format("{}{}", prefixes.empty() ? "" : "|", prefix.text);
  }
  for (std::string_view symbol : form.symbols) symbols += fmt::format("{}{}", symbols.empty() ? "" : "|", symbol);
  std::string suffix = fmt::format("{}({})", prefixes.empty() ? "" : fmt::format("({})?", prefixes), symbols);
  if (form.symbols.empty()) {
    suffix.clear();
  } else if (form.bare) {
    suffix = fmt::format("({})?", suffix);
  }
  return fmt::format("[ \\t]*[+-]?([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][+-]?[0-9]+)?[ \\t]*{}[ \\t]*", suffix);
}

}  // namespace prewire
