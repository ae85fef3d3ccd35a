// The forms that the published JSON Schemas are made of.
#pragma once

#include <nlohmann/json.hpp>

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace prewire::schema_forms {

using Json = nlohmann::ordered_json;

inline Json text(std::string_view description) { return {{"type", "string"}, {"description", description}}; }

inline Json pattern(std::string_view description, std::string_view regex) {
  Json schema = text(description);
  schema["pattern"] = regex;
  return schema;
}

inline Json object(std::string_view description, Json properties, std::vector<std::string> required) {
  return {{"type", "object"},
          {"description", description},
          {"properties", std::move(properties)},
          {"required", std::move(required)},
          {"additionalProperties", false}};
}

inline Json list(std::string_view description, Json items) {
  return {{"type", "array"}, {"description", description}, {"items", std::move(items)}};
}

}  // namespace prewire::schema_forms
