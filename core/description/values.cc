#include "description/values.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "prewire/image.h"
#include "units/quantity.h"
#include "units/text.h"

namespace prewire {

std::optional<std::size_t> read_choice(const JsonValue& value, const std::vector<std::string>& words,
                                       const std::string& subject, FaultList& faults) {
  if (!check_kind(value, JsonKind::string, subject, one_of(words), faults)) return std::nullopt;
  const auto place = std::find(words.begin(), words.end(), value.text());
  if (place != words.end()) return static_cast<std::size_t>(place - words.begin());
  faults.add("bad-choice", value.place(), fmt::format("{} has no such choice", subject), one_of(words), value.shown(),
             meant(value.text(), words, ""));
  return std::nullopt;
}

namespace {

constexpr const char* kAddressHint = "an address is '$' or '0x' and one to four hex digits";

void add_bad_address(const JsonValue& value, const std::string& subject, std::string expected, std::string hint,
                     FaultList& faults) {
  faults.add("bad-address", value.place(), fmt::format("{} cannot be read", subject), std::move(expected),
             value.shown(), std::move(hint));
}

/// For a number out of range: the same text with mega for milli, or the reverse, if that is in range.
std::string prefix_hint(std::string text, const ParameterSpec& setting) {
  for (char& c : text) c = c == 'm' ? 'M' : c == 'M' ? 'm' : c;
  const auto value = parse_quantity(text, setting.unit);
  if (!value || *value < setting.minimum || *value > setting.maximum) return "";
  return fmt::format("did you mean {}? M is mega, m is milli", in_quotes(text));
}

}  // namespace

bool check_kind(const JsonValue& value, JsonKind kind, const std::string& subject, const std::string& expected,
                FaultList& faults) {
  if (value.is(kind)) return true;
  faults.add("wrong-type", value.place(), fmt::format("{} has the wrong type", subject), expected, value.shown(), "");
  return false;
}

void check_keys(const JsonValue& object, const std::string& subject, const std::vector<std::string>& keys,
                FaultList& faults) {
  for (const JsonValue& member : object.children()) {
    const std::string& key = member.key();
    if (faults.full() || std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
    faults.add("unknown-key", member.key_place(), fmt::format("{} is no key of {}", in_quotes(key), subject),
               one_of(keys), in_quotes(key), meant(key, keys, "remove the key; \"about\" takes free text"));
  }
}

std::optional<JsonValue> need(const JsonValue& object, std::string_view key, const std::string& subject,
                              const std::string& expected, FaultList& faults) {
  const auto value = object.find(key);
  if (!value) {
    faults.add("missing-key", object.key_place(), fmt::format("{} has no {}", subject, in_quotes(key)),
               fmt::format("{}: {}", in_quotes(key), expected), "", fmt::format("add {}", in_quotes(key)));
  }
  return value;
}

std::optional<std::int64_t> read_setting(const JsonValue& value, const ParameterSpec& setting, const std::string& owner,
                                         FaultList& faults) {
  const std::string subject = in_quotes(value.key()) + owner;
  if (setting.unit == Unit::choice) {
    const auto place = read_choice(value, {setting.choices.begin(), setting.choices.end()}, subject, faults);
    return place ? std::optional(static_cast<std::int64_t>(*place)) : std::nullopt;
  }
  Fault fault{.place = value.place(), .expected = std::string(quantity_example(setting.unit)), .found = value.shown()};
  const bool plain = setting.unit == Unit::count || setting.unit == Unit::millionths;
  const bool flag = setting.unit == Unit::flag;
  if (!value.is(JsonKind::string) && !(plain && value.is(JsonKind::number)) && !(flag && value.is(JsonKind::boolean))) {
    fault.id = "wrong-type";
    fault.what = fmt::format("{} has the wrong type", subject);
    if (value.is(JsonKind::number) && !flag) fault.hint = "write the number with its unit, in quotes";
    faults.add(std::move(fault));
    return std::nullopt;
  }
  const Quantity quantity = read_quantity(value.text(), setting.unit);
  if (quantity.trouble != QuantityTrouble::none) {
    fault.id = "bad-quantity";
    fault.what = fmt::format("{} cannot be read", subject);
    fault.hint = quantity_hint(value.text(), setting.unit, quantity.trouble);
    faults.add(std::move(fault));
    return std::nullopt;
  }
  if (!flag && (quantity.value < setting.minimum || quantity.value > setting.maximum)) {
    fault.id = "out-of-range";
    fault.what = fmt::format("{} is out of range", subject);
    fault.expected = fmt::format("{} to {}", format_quantity(setting.minimum, setting.unit),
                                 format_quantity(setting.maximum, setting.unit));
    fault.hint = prefix_hint(value.text(), setting);
    faults.add(std::move(fault));
    return std::nullopt;
  }
  return quantity.value;
}

std::optional<std::uint16_t> read_address(const JsonValue& value, const std::string& subject, FaultList& faults) {
  const std::string example = "an address such as \"$F000\"";
  if (!check_kind(value, JsonKind::string, subject, example, faults)) return std::nullopt;
  const auto address = parse_address(trim(value.text()));
  if (!address) add_bad_address(value, subject, example, kAddressHint, faults);
  return address;
}

std::optional<Range> read_range(const JsonValue& value, const std::string& subject, FaultList& faults) {
  const std::string example = "a range such as \"$4000-$4003\", or one address";
  if (!check_kind(value, JsonKind::string, subject, example, faults)) return std::nullopt;
  const std::string_view text = value.text();
  const std::size_t dash = text.find('-');
  const auto first = parse_address(trim(text.substr(0, dash)));
  const auto last = dash == std::string_view::npos ? first : parse_address(trim(text.substr(dash + 1)));
  if (first && last && *first <= *last) return Range{*first, *last};
  const char* hint = first && last ? "the lower address comes first" : kAddressHint;
  add_bad_address(value, subject, example, hint, faults);
  return std::nullopt;
}

ParameterSpec clock_setting(const CpuType& cpu) {
  const bool crystal = cpu.crystal_divisor != 1;
  return {.name = crystal ? "crystal" : "clock",
          .unit = Unit::millihertz,
          .minimum = cpu.lowest_millihertz * cpu.crystal_divisor,
          .maximum = cpu.highest_millihertz * cpu.crystal_divisor,
          .help = crystal ? "frequency of the crystal" : "frequency of the clock, which is that of the bus",
          .required = true};
}

ParameterSpec ram_setting() {
  return {.name = "ram",
          .unit = Unit::flag,
          .fallback = 1,
          .help = "level of the RE pin: whether the RAM in the processor answers"};
}

ParameterSpec keeper_setting() {
  return {.name = "keeper",
          .unit = Unit::choice,
          .help =
              "what the processor reads from data lines that nobody drives: the last value on the bus, ones as with "
              "pull-ups, or a value that depends on the seed and the cycle",
          .choices = {"last", "ones", "seeded"}};
}

ParameterSpec seed_setting() {
  return {.name = "seed",
          .fallback = 1,
          .maximum = std::numeric_limits<std::int64_t>::max(),
          .help = "chooses what is random in the machine, such as the contents of RAM at power-on"};
}

ParameterSpec image_format_setting() {
  ParameterSpec setting{.name = "format", .unit = Unit::choice, .help = "format of the image"};
  for (const ImageFormat format : {ImageFormat::automatic, ImageFormat::s_record, ImageFormat::intel_hex,
                                   ImageFormat::binary, ImageFormat::key_in}) {
    setting.choices.push_back(to_string(format));
  }
  return setting;
}

}  // namespace prewire
