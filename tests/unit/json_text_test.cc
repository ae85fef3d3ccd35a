// JSON text with places: RFC 8259 (JSON), RFC 6901 (JSON pointers), and the trees that nlohmann_json makes by itself.
#include "description/json_text.h"
#include "units/text.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>

namespace prewire {
namespace {

std::string faults_of(std::string_view text) {
  std::string result;
  const JsonText json(text, "lab.json", "a lab file");
  for (const Fault& fault : json.faults()) result += to_string(fault);
  return result;
}

/// "line:column" of the value with that pointer, and of its key where that differs.
std::string where(const JsonText& json, std::string_view pointer) {
  const auto value = json.find(pointer);
  if (!value) return "nowhere";
  const Place place = value->place(), key = value->key_place();
  EXPECT_EQ(place.pointer, pointer);
  EXPECT_EQ(place.file, "lab.json");
  if (place.line == key.line && place.column == key.column) return fmt::format("{}:{}", place.line, place.column);
  return fmt::format("{}:{} key {}:{}", place.line, place.column, key.line, key.column);
}

TEST(JsonText, ReadsValues) {
  const JsonText json(R"({"text": "5 V", "number": -12.5e+3, "yes": true, "no": false, "nothing": null,
                          "list": [1, [], {}, "x"], "object": {"a": 1, "b": 2}})",
                      "lab.json", "a lab file");
  ASSERT_TRUE(json.faults().empty());
  const JsonValue top = json.root().value();
  ASSERT_TRUE(top.is(JsonKind::object));
  std::string keys;
  for (const JsonValue& child : top.children()) keys += child.key() + " ";
  EXPECT_EQ(keys, "text number yes no nothing list object ");
  EXPECT_EQ(top.find("text")->text(), "5 V");
  EXPECT_EQ(top.find("text")->shown(), "\"5 V\"");
  EXPECT_EQ(top.find("number")->text(), "-12.5e+3");
  EXPECT_EQ(top.find("number")->shown(), "-12.5e+3");
  EXPECT_EQ(top.find("yes")->shown(), "true");
  EXPECT_EQ(top.find("no")->text(), "false");
  EXPECT_EQ(top.find("nothing")->kind(), JsonKind::null);
  EXPECT_EQ(top.find("nothing")->shown(), "null");
  EXPECT_EQ(top.find("list")->shown(), "a list");
  EXPECT_EQ(top.find("object")->shown(), "an object");
  EXPECT_EQ(top.find("list")->children().size(), 4U);
  EXPECT_EQ(top.find("object")->find("b")->text(), "2");
  EXPECT_FALSE(top.find("missing").has_value());
  EXPECT_FALSE(top.find("list")->find("").has_value());
}

TEST(JsonText, DecodesStrings) {
  const auto decoded = [](std::string_view text) {
    const JsonText json(text, "lab.json", "a lab file");
    return json.root() ? json.root()->text() : faults_of(text);
  };
  EXPECT_EQ(decoded(R"("\"\\\/\b\f\n\r\t")"), "\"\\/\b\f\n\r\t");
  EXPECT_EQ(decoded(R"("\u0041\u00e9\u2126")"), "A\u00E9\u2126");
  EXPECT_EQ(decoded(R"("\u0000")"), std::string(1, '\0'));
  // RFC 8259, section 7: the G clef, U+1D11E, is written "\uD834\uDD1E".
  EXPECT_EQ(decoded(R"("\uD834\uDD1E")"), "\xF0\x9D\x84\x9E");
  EXPECT_EQ(decoded("\"4.7 k\u03A9 \xF0\x9D\x84\x9E\""), "4.7 k\u03A9 \xF0\x9D\x84\x9E");
}

TEST(JsonText, ShowsTextShortAndPrintable) {
  EXPECT_EQ(in_quotes("a\"b\\c"), R"("a\"b\\c")");
  EXPECT_EQ(in_quotes("\n\x01"), R"("\n\u0001")");
  EXPECT_EQ(in_quotes("caf\xE9"), "\"caf\uFFFD\"");
  EXPECT_EQ(in_quotes("\u03A9"), "\"\u03A9\"");
  EXPECT_EQ(in_quotes(std::string(40, 'x')), "\"" + std::string(40, 'x') + "\"");
  EXPECT_EQ(in_quotes(std::string(41, 'x')), "\"" + std::string(40, 'x') + "...\"");
  const JsonText number(std::string(100, '7'), "lab.json", "a lab file");
  EXPECT_EQ(number.root()->shown(), std::string(24, '7') + "...");
}

TEST(JsonText, KnowsThePlaceOfEveryValue) {
  const JsonText json(
      "{\n  \"chips\": {\n\t\"RAM\" :\n    {\"at\": \"$0000\"} },\r\n \"wires\": [ [\"A\",\r  \"\u03A9\", \"B\"] "
      "]\n}\n",
      "lab.json", "a lab file");
  EXPECT_EQ(where(json, ""), "1:1");
  EXPECT_EQ(where(json, "/chips"), "2:12 key 2:3");
  EXPECT_EQ(where(json, "/chips/RAM"), "4:5 key 3:2");
  EXPECT_EQ(where(json, "/chips/RAM/at"), "4:12 key 4:6");
  EXPECT_EQ(where(json, "/wires"), "5:11 key 5:2");  // after CR LF
  EXPECT_EQ(where(json, "/wires/0"), "5:13");
  EXPECT_EQ(where(json, "/wires/0/0"), "5:14");
  EXPECT_EQ(where(json, "/wires/0/1"), "6:3");  // after CR alone
  EXPECT_EQ(where(json, "/wires/0/2"), "6:8");  // columns count characters
  for (const char* none :
       {"/", "/chips/ROM", "/wires/1", "/wires/0/3", "/wires/00", "/wires/-", "chips", "/chips/RAM/at/0"}) {
    EXPECT_EQ(where(json, none), "nowhere") << none;
  }
  EXPECT_EQ(where(JsonText("\xEF\xBB\xBF {}", "lab.json", "a lab file"), ""),
            "1:2");  // a byte order mark has no column
}

// RFC 6901, section 5, the whole table.
TEST(JsonText, FindsValuesByPointer) {
  const JsonText json(R"({
      "foo": ["bar", "baz"],
      "": 0,
      "a/b": 1,
      "c%d": 2,
      "e^f": 3,
      "g|h": 4,
      "i\\j": 5,
      "k\"l": 6,
      " ": 7,
      "m~n": 8
   })",
                      "lab.json", "a lab file");
  EXPECT_EQ(json.find("")->kind(), JsonKind::object);
  EXPECT_EQ(json.find("/foo")->kind(), JsonKind::array);
  const std::pair<const char*, const char*> rows[] = {{"/foo/0", "bar"}, {"/", "0"},    {"/a~1b", "1"}, {"/c%d", "2"},
                                                      {"/e^f", "3"},     {"/g|h", "4"}, {"/i\\j", "5"}, {"/k\"l", "6"},
                                                      {"/ ", "7"},       {"/m~0n", "8"}};
  for (const auto& [pointer, text] : rows) {
    ASSERT_TRUE(json.find(pointer).has_value()) << pointer;
    EXPECT_EQ(json.find(pointer)->text(), text);
    EXPECT_EQ(json.find(pointer)->pointer(), pointer);
  }
}

struct JsonCase {
  std::string_view text;
  std::string_view faults;
};

TEST(JsonText, ExplainsFaultsOfSyntax) {
  const JsonCase cases[] = {
      {"", R"(lab.json:1:1: stop: this is not valid JSON [json-syntax]
    expected: '{'
    found:    the end of the text
    hint:     the file is empty
)"},
      {"{\"a\": 1,\n \"b\": 2,\n}", R"(lab.json:3:1: stop: this is not valid JSON [json-syntax]
    expected: a key in double quotes
    found:    "}"
    hint:     remove a comma, or put the missing value there
)"},
      {"{\"a\": [1, 2,]}", R"(lab.json:1:13: stop: this is not valid JSON (at /a) [json-syntax]
    expected: a value
    found:    "]"
    hint:     remove a comma, or put the missing value there
)"},
      {"{\"a\": {\"b\": 1\n  \"c\": 2}}", R"(lab.json:2:3: stop: this is not valid JSON (at /a) [json-syntax]
    expected: ',' or '}'
    found:    '"'
    hint:     put a comma between two entries
)"},
      {"{\"a\": [1,\n [2, 3 ", R"(lab.json:2:8: stop: this is not valid JSON (at /a/1) [json-syntax]
    expected: ',' or ']'
    found:    the end of the text
    hint:     the '[' in line 2 is not closed
)"},
      {"{\"a\"", R"(lab.json:1:5: stop: this is not valid JSON [json-syntax]
    expected: ':' after the key
    found:    the end of the text
)"},
      {"{\"a\": ", R"(lab.json:1:7: stop: this is not valid JSON [json-syntax]
    expected: a value
    found:    the end of the text
    hint:     the '{' in line 1 is not closed
)"},
      {"{\"a\": 1}}", R"(lab.json:1:9: stop: this is not valid JSON [json-syntax]
    expected: the end of the text
    found:    "}"
    hint:     a file holds one value: look at the brackets before this place
)"},
      {"{\"title\": \"rain\n", R"(lab.json:1:11: stop: this is not valid JSON [json-syntax]
    expected: '"' at the end of the string, on the same line
    found:    the end of the line
    hint:     close the string
)"},
      {"{\"title\": \"rain", R"(lab.json:1:11: stop: this is not valid JSON [json-syntax]
    expected: '"' at the end of the string, on the same line
    found:    the end of the text
    hint:     close the string
)"},
      {"{\"a\": \"\t\"}", R"(lab.json:1:8: stop: this is not valid JSON [json-syntax]
    expected: a printable character
    found:    "\t"
    hint:     write \t for a tab and \u00XX for other control characters
)"},
      {"[\"UTF-8\t\"]", R"(lab.json:1:8: stop: this is not valid JSON [json-syntax]
    expected: a printable character
    found:    "\t"
    hint:     write \t for a tab and \u00XX for other control characters
)"},
      {"{\"file\": \"C:\\gauge.s19\"}", R"(lab.json:1:14: stop: this is not valid JSON [json-syntax]
    expected: one of " \ / b f n r t u after the backslash
    found:    "gauge"
    hint:     write \\ for a backslash
)"},
      {R"({"a": "\u12G4"})", R"(lab.json:1:12: stop: this is not valid JSON [json-syntax]
    expected: four hex digits after \u
    found:    "G4"
)"},
      {R"({"a": "\uD834 "})", R"(lab.json:1:14: stop: this is not valid JSON [json-syntax]
    expected: both halves of a surrogate pair
    found:    " "
    hint:     write the character itself
)"},
      {"{\"a\": \"caf\xE9\"}", R"(lab.json:1:11: stop: this is not valid JSON [json-syntax]
    expected: UTF-8
    found:    byte $E9
    hint:     save the file as UTF-8
)"},
      {"{\"at\": $4000}", R"(lab.json:1:8: stop: this is not valid JSON [json-syntax]
    expected: a value
    found:    "$"
    hint:     an address is a string: "$8000"
)"},
      {"{\"at\": 0x4000}", R"(lab.json:1:9: stop: this is not valid JSON [json-syntax]
    expected: the end of the number
    found:    "x4000"
    hint:     texts, addresses and quantities with a unit stand in double quotes: "$8000", "10 kOhm"
)"},
      {"{\"ohms\": 10k}", R"(lab.json:1:12: stop: this is not valid JSON [json-syntax]
    expected: the end of the number
    found:    "k"
    hint:     texts, addresses and quantities with a unit stand in double quotes: "$8000", "10 kOhm"
)"},
      {"{\"ohms\": 10 kOhm}", R"(lab.json:1:13: stop: this is not valid JSON [json-syntax]
    expected: ',' or '}'
    found:    "kOhm"
    hint:     texts, addresses and quantities with a unit stand in double quotes: "$8000", "10 kOhm"
)"},
      {"{\"to\": +5}", R"(lab.json:1:8: stop: this is not valid JSON [json-syntax]
    expected: a value
    found:    "+"
    hint:     a quantity with a sign or a unit is a string: "+5 V"; a plain number starts with a digit
)"},
      {"{\"seed\": 007}", R"(lab.json:1:11: stop: this is not valid JSON [json-syntax]
    expected: the end of the number
    found:    "07"
    hint:     a number has no zeros in front
)"},
      {"{\"seed\": -}", R"(lab.json:1:11: stop: this is not valid JSON [json-syntax]
    expected: a digit
    found:    "}"
)"},
      {"{\"seed\": 1.}", R"(lab.json:1:12: stop: this is not valid JSON [json-syntax]
    expected: a digit
    found:    "}"
)"},
      {"{\"ram\": True}", R"(lab.json:1:9: stop: this is not valid JSON [json-syntax]
    expected: a value
    found:    "True"
    hint:     write true and false in small letters
)"},
      {"{\"ram\": truely}", R"(lab.json:1:13: stop: this is not valid JSON [json-syntax]
    expected: ',' or '}'
    found:    "ly"
    hint:     texts, addresses and quantities with a unit stand in double quotes: "$8000", "10 kOhm"
)"},
      {"{machine: 1}", R"(lab.json:1:2: stop: this is not valid JSON [json-syntax]
    expected: a key in double quotes
    found:    "machine"
    hint:     strings stand in double quotes
)"},
      {"{'machine': 1}", R"(lab.json:1:2: stop: this is not valid JSON [json-syntax]
    expected: a key in double quotes
    found:    "'"
    hint:     strings stand in double quotes
)"},
      {"{ // the gauge\n}", R"(lab.json:1:3: stop: this is not valid JSON [json-syntax]
    expected: a key in double quotes
    found:    "/"
    hint:     JSON has no comments; "about" takes a text
)"},
      {"{\"a\": 1 # one\n}", R"(lab.json:1:9: stop: this is not valid JSON [json-syntax]
    expected: ',' or '}'
    found:    "#"
    hint:     JSON has no comments; "about" takes a text
)"},
      {"{\"a\": [1}", R"(lab.json:1:9: stop: this is not valid JSON (at /a) [json-syntax]
    expected: ',' or ']'
    found:    "}"
    hint:     the '[' in line 1 is not closed
)"},
      {"{\"a\": nul}", R"(lab.json:1:7: stop: this is not valid JSON [json-syntax]
    expected: a value
    found:    "nul"
    hint:     strings stand in double quotes
)"},
      {"[1]x", R"(lab.json:1:4: stop: this is not valid JSON [json-syntax]
    expected: the end of the text
    found:    "x"
    hint:     a file holds one value: look at the brackets before this place
)"},
      {"[-1, -1e999]", R"(lab.json:1:6: stop: this is not valid JSON [json-syntax]
    expected: a number up to 1.7e308
    found:    "-1e999"
)"},
      {std::string_view("{}\0{}", 5), R"(lab.json:1:3: stop: this is not valid JSON [json-syntax]
    expected: the end of the text
    found:    "\u0000"
    hint:     a file holds one value: look at the brackets before this place
)"},
      {std::string_view("[\0", 2), R"(lab.json:1:2: stop: this is not valid JSON [json-syntax]
    expected: a value
    found:    "\u0000"
    hint:     strings stand in double quotes
)"},
  };
  for (const JsonCase& one : cases) EXPECT_EQ(faults_of(one.text), one.faults) << one.text;
}

TEST(JsonText, ReportsEveryDuplicateKeyAndKeepsTheFirst) {
  const std::string_view text = "{\"R1\": 1,\n \"R2\": {\"a\": 1, \"\\u0061\": 2},\n \"R1\": 3}";
  EXPECT_EQ(faults_of(text), R"(lab.json:2:17: stop: the key "a" stands twice in one object (at /R2/a) [duplicate-key]
    expected: each key once
    found:    the first one in line 2
    hint:     rename or remove one of the two
lab.json:3:2: stop: the key "R1" stands twice in one object (at /R1) [duplicate-key]
    expected: each key once
    found:    the first one in line 1
    hint:     rename or remove one of the two
)");
  const JsonText json(text, "lab.json", "a lab file");
  EXPECT_EQ(json.root()->children().size(), 2U);
  EXPECT_EQ(json.find("/R1")->text(), "1");
}

TEST(JsonText, LimitsDepthAndSize) {
  const auto nested = [](std::size_t levels) { return std::string(levels, '[') + std::string(levels, ']'); };
  EXPECT_EQ(faults_of(nested(JsonText::kMostDepth)), "");
  std::string pointer;
  for (std::size_t i = 0; i < JsonText::kMostDepth; ++i) pointer += "/0";
  EXPECT_EQ(faults_of(nested(JsonText::kMostDepth + 1)),
            "lab.json:1:65: stop: lists and objects are nested too deeply (at " + pointer + R"() [json-too-deep]
    expected: at most 64 levels
    found:    more
    hint:     a lab file needs only a few: look for brackets that are not closed
)");
  EXPECT_EQ(faults_of(std::string(1'000'000, '[')).substr(0, 20), "lab.json:1:65: stop:");

  const std::string fits = "{}" + std::string(JsonText::kMostBytes - 2, ' ');
  EXPECT_EQ(faults_of(fits), "");
  EXPECT_EQ(faults_of(fits + " "), R"(lab.json: stop: the text is too large for a lab file [json-too-large]
    expected: at most 1048576 bytes
    found:    1048577 bytes
    hint:     check that this is the right file
)");
}

using Reference = nlohmann::ordered_json;

/// A document whose every scalar is a string that stands nowhere else in its text.
Reference random_document(std::mt19937& random, int depth, int& number) {
  const unsigned kind = depth == 0 ? 0 : static_cast<unsigned>(random() % 3);
  if (kind == 0) return fmt::format("v{}v", ++number);
  Reference value = kind == 1 ? Reference::array() : Reference::object();
  const unsigned size = 1 + static_cast<unsigned>(random() % 5);
  for (unsigned i = 0; i < size; ++i) {
    Reference child = random_document(random, depth - 1, number);
    if (kind == 1) {
      value.push_back(std::move(child));
    } else {
      static constexpr std::string_view kOdd[] = {"", "/", "~", "~1", "\u03A9", "\"", "\\", "R/W", "\n"};
      value[fmt::format("k{}{}", ++number, kOdd[random() % std::size(kOdd)])] = std::move(child);
    }
  }
  return value;
}

// The independent way to a line: look for the value in the text and count.
TEST(JsonText, PlacesAgreeWithASearchInTheText) {
  std::mt19937 random(6821);
  int checked = 0;
  for (int round = 0; round < 60; ++round) {
    int number = 0;
    const Reference document = random_document(random, 5, number);
    const std::string text = document.dump(static_cast<int>(random() % 5) - 1);
    const JsonText json(text, "lab.json", "a lab file");
    ASSERT_TRUE(json.faults().empty()) << text;
    const Reference flat = document.flatten();
    for (const auto& [pointer, value] : flat.items()) {
      const std::size_t at = text.find(value.dump());
      const std::string before = text.substr(0, at);
      const auto line = 1 + std::count(before.begin(), before.end(), '\n');
      const std::string same_line = before.substr(before.rfind('\n') + 1);
      const auto tail = [](char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; };
      const auto column =
          1 + static_cast<std::ptrdiff_t>(same_line.size()) - std::count_if(same_line.begin(), same_line.end(), tail);
      const auto found = json.find(pointer);
      ASSERT_TRUE(found.has_value()) << pointer << " in " << text;
      ASSERT_EQ(fmt::format("{}:{}", found->place().line, found->place().column), fmt::format("{}:{}", line, column))
          << text;
      ASSERT_EQ(found->text(), value.get<std::string>());
      ++checked;
    }
  }
  EXPECT_GT(checked, 1000);
}

/// Our tree in the words of the reference.
Reference translated(const JsonValue& value) {
  switch (value.kind()) {
    case JsonKind::null: return nullptr;
    case JsonKind::boolean: return value.text() == "true";
    case JsonKind::number: return Reference::parse(value.text());
    case JsonKind::string: return value.text();
    default: break;
  }
  Reference result = value.is(JsonKind::array) ? Reference::array() : Reference::object();
  for (const JsonValue& child : value.children()) {
    if (value.is(JsonKind::array))
      result.push_back(translated(child));
    else
      result[child.key()] = translated(child);
  }
  return result;
}

TEST(JsonText, AcceptsWhatTheReferenceAccepts) {
  const std::string_view seeds[] = {
      R"({"machine": "gauge", "cpu": {"type": "mc6800", "clock": "1 MHz"}, "wires": [["A.1", "B.2"], []], "n": null})",
      R"([0, -1, 1.5, 2e3, -0.25E-2, true, false, "\u00b5\uD834\uDD1E\n\\\"", {"": {}}, "Ω"])",
      "{\r\n\t\"seed\" : 12 , \"display\" : { \"LEVEL\" : [ \"D1\" ] }\n}"};
  constexpr std::string_view kAlphabet = "{}[]\",:\\ \n\t0123456789-+.eEtrufalsn/*'$x\xC3\xA9\xED\xA0\xF4\x90";
  std::mt19937 random(6850);
  int accepted = 0, refused = 0;
  for (int round = 0; round < 40'000; ++round) {
    std::string text(seeds[random() % std::size(seeds)]);
    for (auto changes = 1 + random() % 3; changes > 0; --changes) {
      const std::size_t at = random() % text.size();
      const char c = kAlphabet[random() % kAlphabet.size()];
      switch (random() % 4) {
        case 0: text[at] = c; break;
        case 1: text.insert(at, 1, c); break;
        case 2: text.erase(at, 1 + random() % 4); break;
        default: text.insert(at, text.substr(random() % text.size(), random() % 8)); break;
      }
      if (text.empty()) text = " ";
    }
    const JsonText json(text, "lab.json", "a lab file");
    const bool duplicate = !json.faults().empty() && json.faults()[0].id == "duplicate-key";
    const auto reference = Reference::parse(text, nullptr, false);
    ASSERT_EQ(json.root().has_value(), !reference.is_discarded()) << text;
    ASSERT_EQ(json.root().has_value(), json.faults().empty() || json.faults().back().id == "duplicate-key") << text;
    if (!json.root()) {
      ++refused;
      continue;
    }
    ++accepted;
    if (!duplicate) {
      ASSERT_EQ(translated(*json.root()), reference) << text;
    }
  }
  EXPECT_GT(accepted, 4000);
  EXPECT_GT(refused, 4000);
}

}  // namespace
}  // namespace prewire
