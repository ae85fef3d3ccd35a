#include "lab/check_values.h"

#include <fmt/format.h>

#include "description/values.h"
#include "units/quantity.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr const char* kSpanExample = "a count of cycles such as 8, or a time such as \"10 us\"";
constexpr const char* kNumberExample = "a number such as 125 or \"$7D\"";

}  // namespace

std::optional<Moment> CheckValues::moment(const JsonValue& object, std::string_view key) {
  const auto value = object.find(key);
  return value ? moment(*value) : std::nullopt;
}

std::optional<Moment> CheckValues::moment(const JsonValue& value) {
  const std::string subject = in_quotes(value.key());
  if (!check_kind(value, JsonKind::string, subject, kMomentExample, faults_)) return std::nullopt;
  const auto moment = parse_moment(value.text());
  if (!moment) {
    faults_.add("bad-moment", value.place(), fmt::format("{} is no time", subject), kMomentExample, value.shown(),
                "time counts from power-on");
  }
  return moment;
}

std::optional<Moment> CheckValues::span(const JsonValue& value) {
  const std::string subject = in_quotes(value.key());
  if (value.is(JsonKind::number)) {
    const auto count = parse_quantity(value.text(), Unit::count);
    if (count && *count >= 0 && *count <= 1'000'000'000'000) return Moment{*count, true};
  } else if (value.is(JsonKind::string)) {
    if (const auto moment = parse_moment(value.text())) return moment;
  }
  faults_.add("bad-moment", value.place(), fmt::format("{} is no span of time", subject), kSpanExample, value.shown(),
              "");
  return std::nullopt;
}

std::optional<std::uint64_t> CheckValues::seed(const JsonValue& object, std::string_view key) {
  const auto value = object.find(key);
  if (!value) return std::nullopt;
  const auto number = read_setting(*value, seed_setting(), "", faults_);
  if (!number) return std::nullopt;
  return static_cast<std::uint64_t>(*number);
}

std::optional<std::int64_t> CheckValues::number(const JsonValue& value, std::int64_t most) {
  std::optional<std::int64_t> number;
  if (value.is(JsonKind::number)) number = parse_quantity(value.text(), Unit::count);
  if (value.is(JsonKind::string)) {
    if (const auto address = parse_address(value.text())) number = *address;
  }
  if (number && *number >= 0 && *number <= most) return number;
  faults_.add("bad-value", value.place(), fmt::format("{} is no such value", value.shown()), kNumberExample,
              value.shown(), fmt::format("0 to {}", most));
  return std::nullopt;
}

std::optional<Named> CheckValues::text(const JsonValue& value, const std::string& example) {
  if (!check_kind(value, JsonKind::string, in_quotes(value.key()), example, faults_)) return std::nullopt;
  return Named{value.text(), value.place()};
}

std::optional<Named> CheckValues::text(const JsonValue& object, std::string_view key, const std::string& subject,
                                       const std::string& example) {
  const auto value = need(object, key, subject, example, faults_);
  return value ? text(*value, example) : std::nullopt;
}

std::size_t CheckValues::choice(const JsonValue& value, const std::vector<std::string>& words) {
  return read_choice(value, words, in_quotes(value.key()), faults_).value_or(0);
}

}  // namespace prewire
