// Values as all parts of a check file have them. A fault for each that cannot be read.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "description/fault_list.h"
#include "description/json_text.h"
#include "lab/plan.h"

namespace prewire {

class CheckValues {
 protected:
  explicit CheckValues(FaultList faults) : faults_(faults) {}

  std::optional<Moment> moment(const JsonValue& object, std::string_view key);
  std::optional<Moment> moment(const JsonValue& value);
  /// A bare number counts cycles.
  std::optional<Moment> span(const JsonValue& value);
  std::optional<std::uint64_t> seed(const JsonValue& object, std::string_view key);
  /// 0 to `most`.
  std::optional<std::int64_t> number(const JsonValue& value, std::int64_t most);
  std::optional<Named> text(const JsonValue& value, const std::string& example);
  std::optional<Named> text(const JsonValue& object, std::string_view key, const std::string& subject,
                            const std::string& example);
  /// The index of a word in a list; 0 after a fault.
  std::size_t choice(const JsonValue& value, const std::vector<std::string>& words);

  FaultList faults_;
};

}  // namespace prewire
