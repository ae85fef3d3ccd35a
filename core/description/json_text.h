// JSON text as a tree that knows where each value stands (RFC 8259), with JSON pointers (RFC 6901) as names.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/error.h"

namespace prewire {

enum class JsonKind : std::uint8_t { null, boolean, number, string, array, object };

class JsonValue;

class JsonText {
 public:
  static constexpr std::size_t kMostBytes = std::size_t{1} << 20;
  static constexpr std::size_t kMostDepth = 64;

  /// In messages, `name` stands for the file, and `subject` says what it holds: "a machine description". Columns count
  /// characters, not bytes.
  JsonText(std::string_view text, std::string name, std::string_view subject);

  /// What is wrong with the text: at most one fault of syntax, after any number of duplicate keys.
  const std::vector<Fault>& faults() const { return faults_; }
  /// Empty if the text is not valid JSON.
  std::optional<JsonValue> root() const;
  /// The value with that JSON pointer.
  std::optional<JsonValue> find(std::string_view pointer) const;

 private:
  friend class JsonValue;
  class Reader;

  struct Position {
    int line = 1;
    int column = 1;
  };
  struct Node {
    JsonKind kind = JsonKind::null;
    std::string key{};
    std::string text{};
    Position at{};
    Position key_at{};
    int parent = -1;
    std::size_t index = 0;  // among the parent's children
    std::vector<int> children{};
  };

  /// The last step of a node's pointer: "/cpu".
  std::string step(int node) const;
  std::string pointer(int node) const;
  Place place(Position at, std::string pointer) const {
    return {.file = name_, .line = at.line, .column = at.column, .pointer = std::move(pointer)};
  }

  std::string name_;
  std::vector<Node> nodes_;  // the root first; empty after a fault of syntax
  std::vector<Fault> faults_;
};

/// One value of a text. Cheap to copy; lives no longer than its text.
class JsonValue {
 public:
  JsonKind kind() const { return node().kind; }
  bool is(JsonKind kind) const { return node().kind == kind; }
  /// A string decoded to UTF-8; a number, a boolean or null as written; else empty.
  const std::string& text() const { return node().text; }
  /// The name, decoded, under which an object holds this value; else empty.
  const std::string& key() const { return node().key; }
  /// Items or members in the order of the text; of members with the same key only the first.
  std::vector<JsonValue> children() const;
  /// The member with that key.
  std::optional<JsonValue> find(std::string_view key) const;

  std::string pointer() const { return json_->pointer(id_); }
  /// Where the value starts.
  Place place() const { return json_->place(node().at, pointer()); }
  /// Where its key starts, for a member of an object; else where the value starts.
  Place key_place() const { return json_->place(node().key_at, pointer()); }
  /// The value as a message shows it: `"5 V"`, `12`, `a list`.
  std::string shown() const;

 private:
  friend class JsonText;
  JsonValue(const JsonText& json, int id) : json_(&json), id_(id) {}
  const JsonText::Node& node() const { return json_->nodes_[id_]; }

  const JsonText* json_;
  int id_;
};

}  // namespace prewire
