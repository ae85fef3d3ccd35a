#include "description/json_text.h"

#include <fmt/format.h>

#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <utility>

#include "description/fault_list.h"
#include "units/text.h"

namespace prewire {

namespace {

constexpr const char* kQuotesHint =
    "texts, addresses and quantities with a unit stand in double quotes: \"$8000\", \"10 kOhm\"";

bool is_one_of(std::string_view characters, char c) { return characters.find(c) != std::string_view::npos; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_word(char c) { return is_digit(c) || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_ascii(char c) { return static_cast<unsigned char>(c) < 0x80; }
/// Whether `c` belongs to a UTF-8 character that began before it.
bool is_tail(char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; }

}  // namespace

// ---------------------------------------------------------------------------------------------------------------------
// Reading

/// Builds the tree from what the JSON library finds. The library does not tell where, so this looks at how far the
/// library has read; and it does not tell a person what to do, so this looks at the text again after a fault.
class JsonText::Reader {
 public:
  Reader(JsonText& json, std::string_view text, std::string_view subject)
      : json_(json), faults_(json.faults_), text_(text), subject_(subject) {}

  /// False after a fault of syntax.
  bool read() {
    if (text_.starts_with("\xEF\xBB\xBF")) done_ = counted_ = 3;  // the library skips a byte order mark, too
    if (!nlohmann::json::sax_parse(in_, this)) return false;
    // The library takes a zero byte for the end.
    return skip(done_) == text_.size() || explain_after_value(skip(done_));
  }

  // What the library calls (its SAX interface); false ends the reading.
  bool null() { return add(JsonKind::null, taken()); }
  bool boolean(bool /*value*/) { return add(JsonKind::boolean, taken()); }
  bool number_integer(std::int64_t /*value*/) { return add(JsonKind::number, taken() - 1); }
  bool number_unsigned(std::uint64_t /*value*/) { return add(JsonKind::number, taken() - 1); }
  bool number_float(double /*value*/, const std::string& /*text*/) { return add(JsonKind::number, taken() - 1); }
  bool binary(const nlohmann::json::binary_t& /*value*/) { return false; }  // not in JSON
  bool string(const std::string& text) { return add(JsonKind::string, taken(), text); }
  bool start_object(std::size_t /*size*/) { return open(JsonKind::object); }
  bool start_array(std::size_t /*size*/) { return open(JsonKind::array); }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool key(const std::string& text) {
    key_ = text;
    key_at_ = position(skip(done_, ","));
    done_ = taken();
    return true;
  }
  bool parse_error(std::size_t count, const std::string& /*token*/, const nlohmann::json::exception& error) {
    return explain(count - 1, error);
  }

 private:
  /// A list or an object that is not closed yet.
  struct Open {
    int id;
    std::map<std::string, int> keys{};
  };

  std::size_t taken() { return static_cast<std::size_t>(in_.rdbuf()->pubseekoff(0, std::ios::cur, std::ios::in)); }
  char peek(std::size_t at) const { return at < text_.size() ? text_[at] : ' '; }
  std::size_t skip(std::size_t at, std::string_view marks = "") const {
    while (at < text_.size() && (is_one_of(" \t\r\n", text_[at]) || is_one_of(marks, text_[at]))) ++at;
    return at;
  }

  /// The line and column of a byte; it must not lie before the one asked for last.
  Position position(std::size_t at) {
    for (; counted_ < at; ++counted_) {
      const char c = peek(counted_);
      if (c == '\n' || (c == '\r' && peek(counted_ + 1) != '\n')) {
        position_ = {position_.line + 1, 1};
      } else if (!is_tail(c) && c != '\r') {
        ++position_.column;
      }
    }
    return position_;
  }

  // The tree ----------------------------------------------------------------------------------------------------------

  bool add(JsonKind kind, std::size_t end, std::optional<std::string> text = {}) {
    const std::size_t start = skip(std::exchange(done_, end), ",:");
    const Position at = position(start);
    if (!text) text = text_.substr(start, end - start);
    const auto id = static_cast<int>(json_.nodes_.size());
    json_.nodes_.push_back({kind, key_.value_or(""), std::move(*text), at, key_ ? key_at_ : at});
    const bool member = std::exchange(key_, std::nullopt).has_value();
    if (open_.empty()) return true;
    Node& node = json_.nodes_[id];
    node.parent = open_.back().id;
    Node& outer = json_.nodes_[node.parent];
    if (member) {
      const auto [first, fresh] = open_.back().keys.emplace(node.key, id);
      if (!fresh) {
        add_duplicate(id, json_.nodes_[first->second]);
        return true;
      }
    }
    node.index = outer.children.size();
    outer.children.push_back(id);
    return true;
  }

  bool open(JsonKind kind) {
    const auto id = static_cast<int>(json_.nodes_.size());
    add(kind, taken(), "");
    open_.push_back({id});
    if (open_.size() <= kMostDepth) return true;
    faults_.add("json-too-deep", json_.place(json_.nodes_[id].at, json_.pointer(id)),
                "lists and objects are nested too deeply", fmt::format("at most {} levels", kMostDepth), "more",
                fmt::format("{} needs only a few: look for brackets that are not closed", subject_));
    return false;
  }

  bool close() {
    open_.pop_back();
    done_ = taken();
    return true;
  }

  // Faults ------------------------------------------------------------------------------------------------------------

  /// False, so that the reading ends.
  bool fail(std::size_t at, std::string expected, std::string found, std::string hint) {
    faults_.add("json-syntax", json_.place(position(at), open_.empty() ? "" : json_.pointer(open_.back().id)),
                "this is not valid JSON", std::move(expected), std::move(found), std::move(hint));
    return false;
  }

  bool fail(std::size_t at, std::string expected, std::string hint) {
    return fail(at, std::move(expected), found(at), std::move(hint));
  }

  void add_duplicate(int id, const Node& first) {
    if (faults_.full()) return;
    const Node& node = json_.nodes_[id];
    faults_.add("duplicate-key", json_.place(node.key_at, json_.pointer(id)),
                fmt::format("the key {} stands twice in one object", in_quotes(node.key)), "each key once",
                fmt::format("the first one in line {}", first.key_at.line), "rename or remove one of the two");
  }

  std::string found(std::size_t at) const {
    if (at >= text_.size()) return "the end of the text";
    if (is_one_of("\r\n", text_[at])) return "the end of the line";
    if (text_[at] == '"') return "'\"'";
    std::size_t end = at + 1;
    while (is_word(text_[at]) ? is_word(peek(end)) : is_tail(peek(end))) ++end;
    return in_quotes(text_.substr(at, end - at));
  }

  bool in_object() const { return !open_.empty() && json_.nodes_[open_.back().id].kind == JsonKind::object; }

  /// Says what is wrong after `done_`; the library gave up at the byte `last`.
  bool explain(std::size_t last, const nlohmann::json::exception& error) {
    std::size_t at = skip(done_);
    const bool first = open_.empty() ? json_.nodes_.empty() : json_.nodes_[open_.back().id].children.empty();
    if (key_ && peek(at) != ':') return fail(at, "':' after the key", "");
    if (!key_ && !first && (open_.empty() || peek(at) != ',')) return explain_after_value(at);
    if (key_ || !first) at = skip(at + 1);
    if (peek(at) == '"') return explain_string(at, last, error.what());
    if (in_object() && !key_) return fail(at, "a key in double quotes", hint(at));
    if (error.id == 406) return fail(at, "a number up to 1.7e308", in_quotes(text_.substr(at, last + 1 - at)), "");
    if (peek(at) == '-' || is_digit(peek(at))) return fail(last, "a digit", "");
    return fail(at, open_.empty() ? "'{'" : "a value", hint(at));
  }

  bool explain_after_value(std::size_t at) {
    const char c = peek(at);
    if (at == done_ && is_digit(text_[at - 1]) && (is_word(c) || c == '.' || !is_ascii(c))) {
      return fail(at, "the end of the number", is_digit(c) ? "a number has no zeros in front" : kQuotesHint);
    }
    if (open_.empty()) {
      return fail(at, "the end of the text", "a file holds one value: look at the brackets before this place");
    }
    const char* expected = in_object() ? "',' or '}'" : "',' or ']'";
    if (is_one_of("]}", c)) return fail(at, expected, not_closed());
    if (is_one_of("\"{[", c) || is_digit(c)) return fail(at, expected, "put a comma between two entries");
    return fail(at, expected, is_word(c) ? kQuotesHint : hint(at));
  }

  bool explain_string(std::size_t start, std::size_t last, std::string_view error) {
    if (last >= text_.size() || is_one_of("\r\n", text_[last])) {
      return fail(start, "'\"' at the end of the string, on the same line", found(last), "close the string");
    }
    error = error.substr(0, error.find("last read"));  // what follows is the user's text
    const auto says = [&](std::string_view words) { return error.find(words) != std::string_view::npos; };
    if (says("backslash")) {
      return fail(last, "one of \" \\ / b f n r t u after the backslash", "write \\\\ for a backslash");
    }
    if (says("hex digits")) return fail(last, "four hex digits after \\u", "");
    if (says("surrogate")) return fail(last, "both halves of a surrogate pair", "write the character itself");
    if (says("UTF-8")) {
      if (is_ascii(text_[last])) --last;  // only this one told that the character is not complete
      return fail(last, "UTF-8", fmt::format("byte ${:02X}", text_[last] & 0xFF), "save the file as UTF-8");
    }
    return fail(last, "a printable character", "write \\t for a tab and \\u00XX for other control characters");
  }

  std::string not_closed() const {
    if (open_.empty()) return "the file is empty";
    const Node& node = json_.nodes_[open_.back().id];
    return fmt::format("the '{}' in line {} is not closed", in_object() ? '{' : '[', node.at.line);
  }

  /// What a person most likely meant who wrote this where a value belongs.
  std::string hint(std::size_t at) const {
    if (at >= text_.size()) return not_closed();
    for (const char* word : {"True", "TRUE", "False", "FALSE"}) {
      if (text_.substr(at).starts_with(word)) return "write true and false in small letters";
    }
    switch (text_[at]) {
      case '$': return "an address is a string: \"$8000\"";
      case '+':
      case '.': return "a quantity with a sign or a unit is a string: \"+5 V\"; a plain number starts with a digit";
      case '/':
      case '#': return "JSON has no comments; \"about\" takes a text";
      case '}':
      case ']':
      case ',': return "remove a comma, or put the missing value there";
      default: break;
    }
    if (json_.nodes_.empty()) {
      return fmt::format("{} begins with '{{'; a program or an image is named in a machine file", subject_);
    }
    return "strings stand in double quotes";
  }

  JsonText& json_;
  FaultList faults_;
  std::string_view text_;
  std::string_view subject_;
  std::istringstream in_{std::string(text_) + ' '};  // so that one more character follows even a number at the end
  std::size_t done_ = 0;                             // the end of the last bracket, key or value
  std::size_t counted_ = 0;
  Position position_;  // of the byte `counted_`
  std::vector<Open> open_;
  std::optional<std::string> key_;  // waits for its value
  Position key_at_;
};

JsonText::JsonText(std::string_view text, std::string name, std::string_view subject) : name_(std::move(name)) {
  if (text.size() > kMostBytes) {
    FaultList(faults_).add("json-too-large", place({0, 0}, ""), fmt::format("the text is too large for {}", subject),
                           fmt::format("at most {} bytes", kMostBytes), fmt::format("{} bytes", text.size()),
                           "check that this is the right file");
  } else if (!Reader(*this, text, subject).read()) {
    nodes_.clear();
  }
}

// ---------------------------------------------------------------------------------------------------------------------
// Looking

std::optional<JsonValue> JsonText::root() const {
  if (nodes_.empty()) return std::nullopt;
  return JsonValue(*this, 0);
}

std::optional<JsonValue> JsonText::find(std::string_view pointer) const {
  std::optional<JsonValue> value = root();
  while (value && !pointer.empty()) {
    const std::vector<JsonValue> children = value->children();
    value.reset();
    for (const JsonValue& child : children) {
      const std::string step = this->step(child.id_);
      if (!pointer.starts_with(step) || (pointer.size() > step.size() && pointer[step.size()] != '/')) continue;
      pointer.remove_prefix(step.size());
      value = child;
      break;
    }
  }
  return value;
}

std::string JsonText::step(int id) const {
  const Node& node = nodes_[id];
  if (nodes_[node.parent].kind == JsonKind::array) return fmt::format("/{}", node.index);
  return (nlohmann::json::json_pointer() / node.key).to_string();
}

std::string JsonText::pointer(int id) const {
  std::string result;
  for (; nodes_[id].parent >= 0; id = nodes_[id].parent) result.insert(0, step(id));
  return result;
}

std::vector<JsonValue> JsonValue::children() const {
  std::vector<JsonValue> list;
  for (int id : node().children) list.push_back({*json_, id});
  return list;
}

std::optional<JsonValue> JsonValue::find(std::string_view key) const {
  for (const JsonValue& child : children()) {
    if (is(JsonKind::object) && child.key() == key) return child;
  }
  return std::nullopt;
}

std::string JsonValue::shown() const {
  switch (kind()) {
    case JsonKind::string: return in_quotes(text());
    case JsonKind::array: return "a list";
    case JsonKind::object: return "an object";
    default: return text().size() <= 24 ? text() : text().substr(0, 24) + "...";
  }
}

}  // namespace prewire
