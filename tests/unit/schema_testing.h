// Asks python3-jsonschema, as an independent validator (draft 2020-12), what a schema takes.
#pragma once

#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "unit/machine_testing.h"

namespace prewire::testing {

// Reads documents, one in a line, and says of each whether the schema takes it.
inline constexpr std::string_view kValidator = R"(
import json, sys
from jsonschema import Draft202012Validator
schema = json.load(open(sys.argv[1], encoding="utf-8"))
Draft202012Validator.check_schema(schema)
validator = Draft202012Validator(schema)
for line in open(sys.argv[2], encoding="utf-8"):
    print("good" if validator.is_valid(json.loads(line)) else "bad")
)";

/// What the validator says of each document; what it complains of instead, if the schema itself is wrong.
inline std::vector<std::string> validate(const std::string& schema, const std::vector<std::string>& documents) {
  const Folder folder("schema");
  folder.write("validate.py", kValidator);
  folder.write("schema.json", schema);
  std::string lines;
  for (const std::string& document : documents) lines += nlohmann::ordered_json::parse(document).dump() + "\n";
  folder.write("documents.jsonl", lines);
  // Debian's python3-jsonschema belongs to Debian's python3.
  const std::string command = "cd '" + folder.path().string() +
                              "' && PATH=\"/usr/bin:$PATH\" python3 validate.py schema.json documents.jsonl 2>&1";
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> output(popen(command.c_str(), "r"), pclose);
  std::string text;
  char block[4096];
  while (output && std::fgets(block, sizeof block, output.get()) != nullptr) text += block;
  std::vector<std::string> results;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = text.find('\n', at);
    results.push_back(text.substr(at, end - at));
    at = end == std::string::npos ? end : end + 1;
  }
  if (results.size() != documents.size()) return {"the validator failed: " + text};
  return results;
}

}  // namespace prewire::testing
