#include "asm/blanks.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

#include "asm/line.h"
#include "asm/program.h"

namespace prewire::assembler {

namespace {

constexpr std::string_view kOperatorCharacters = "+-*/%&^|<>=";

bool is_operator(char c) { return kOperatorCharacters.find(c) != std::string_view::npos; }

/// Text without blanks, but for one that is a character: `' `.
void squeeze(std::string_view text, std::string& result) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (!is_blank(text[i])) result += text[i];
    if (text[i] == '\'' && i + 1 < text.size()) result += text[++i];
  }
}

enum class Verdict : std::uint8_t {
  no,
  undefined,  ///< it would, if one name were defined that is not
  yes,
};

/// Whether a text without blanks is an operand of some shape. Knows the notation, not what fits where.
class RestReader {
 public:
  RestReader(const Program& program, std::string_view scope) : program_(program), scope_(scope) {}

  Verdict read(std::string_view text, Shape shape) {
    in_ = Cursor(text);
    depth_ = 0;
    unknown_.clear();
    const bool good = [&] {
      switch (shape) {
        case Shape::value: return expression();
        case Shape::values: return values();
        case Shape::operand: return operand();
        case Shape::registers: return in_.peek() == '#' ? immediate() : registers();
        default: return false;
      }
    }();
    if (!good || !in_.done()) return Verdict::no;
    return unknown_.empty() ? Verdict::yes : Verdict::undefined;
  }
  /// The first one of the text that was read last.
  const std::string& unknown() const { return unknown_; }

  bool is_index(std::string_view name) const {
    const std::string upper_name = upper(name);
    if (!program_.target->has(Mode::indexed)) return upper_name == "X";
    return upper_name == "PCR" || upper_name == "PC" ||
           (upper_name.size() == 1 && std::string_view("XYUS").find(upper_name[0]) != std::string_view::npos);
  }

 private:
  static constexpr int kMostDepth = 64;

  bool values() {
    do {
      // An item may be empty.
      if (in_.peek() == ',' || in_.done()) continue;
      if (!expression()) return false;
    } while (in_.take(','));
    return true;
  }

  bool immediate() { return in_.take('#') && expression(); }

  bool operand() {
    if (in_.peek() == '#') return immediate();
    if (in_.take('[')) return address() && in_.take(']');
    return address();
  }

  bool address() {
    if (!in_.take('>') && in_.take('<')) in_.take('<');
    if (in_.peek() != ',') {
      const std::size_t first = in_.at();
      const std::string_view name = in_.word();
      const bool accumulator = name.size() == 1 && std::string_view("ABDabd").find(name[0]) != std::string_view::npos;
      if (!(accumulator && in_.peek() == ',')) {
        in_.go(first);
        if (!expression()) return false;
      }
    }
    if (!in_.take(',')) return true;
    while (in_.take('-')) {
    }
    const std::string_view name = in_.word();
    while (in_.take('+')) {
    }
    return is_index(name);
  }

  bool registers() {
    do {
      if (!is_register(in_.word())) return false;
    } while (in_.take(','));
    return true;
  }

  bool expression() {
    if (++depth_ > kMostDepth) return false;
    bool good = term();
    while (good && operation()) good = term();
    --depth_;
    return good;
  }

  bool operation() {
    const char c = in_.peek();
    if (in_.done() || !is_operator(c)) return false;
    in_.skip();
    if ((c == '<' && !in_.take('<') && !in_.take('=')) || (c == '>' && !in_.take('>'))) {
      if (!in_.take('=') && c == '<') in_.take('>');
    }
    return true;
  }

  bool term() {
    while (in_.peek() == '-' || in_.peek() == '+' || in_.peek() == '~') in_.skip();
    const char c = in_.peek();
    if (in_.take('*')) return true;
    if (in_.take('(')) return expression() && in_.take(')');
    if (in_.take('\'')) {
      if (in_.done()) return false;
      in_.skip();
      in_.take('\'');
      return true;
    }
    if (c == '$' || c == '%' || c == '@') {
      in_.skip();
      return digits(in_.word(), c == '$' ? 16 : c == '%' ? 2 : 8);
    }
    const std::string_view word = in_.word();
    if (word.empty()) return false;
    if (is_digit(c)) return number(word);
    if (is_register(word)) return false;
    const int symbol =
        word.front() == '.' ? program_.symbols.find(Symbols::full_name(word, scope_)) : program_.symbols.find(word);
    if ((symbol < 0 || program_.symbols[symbol].kind == Symbol::Kind::undefined) && unknown_.empty()) unknown_ = word;
    return true;
  }

  /// At most 16 bits: what is longer is no number that belongs here.
  static bool digits(std::string_view text, int base) {
    if (base == 16 && text.size() > 4) return false;
    std::int64_t value = 0;
    for (const char c : text) {
      const int digit = digit_value(c);
      if (digit >= base) return false;
      value = value * base + digit;
      if (value > 0xFFFF) return false;
    }
    return !text.empty();
  }
  static bool number(std::string_view text) {
    const int base = base_of(text);
    return digits(text, base);
  }

  const Program& program_;
  std::string_view scope_;
  Cursor in_{""};
  int depth_ = 0;
  std::string unknown_;
};

/// One comment that may be operand.
class Rest {
 public:
  /// Names are searched for so many times yet.
  Rest(Program& program, const Comment& comment, std::size_t& searches)
      : program_(program),
        searches_(searches),
        comment_(comment),
        text_(program.source.line(comment.line).text),
        reader_(program, comment.scope) {
    begin_ = text_.find_first_not_of(" \t", comment.last);
    end_ = begin_;
    // The comment within the comment is none of the operand.
    while (end_ < text_.size() && text_[end_] != ';') end_ += text_[end_] == '\'' && end_ + 1 < text_.size() ? 2 : 1;
    end_ = std::min(end_, text_.size());
    while (end_ > begin_ && is_blank(text_[end_ - 1])) --end_;
    for (std::size_t at = begin_; at < end_;) {
      std::size_t end = at;
      while (end < end_ && !is_blank(text_[end])) ++end;
      parts_.push_back({at, end});
      at = end;
      while (at < end_ && is_blank(text_[at])) ++at;
    }
  }

  void run() {
    const char c = text_[begin_];
    if (c == ',') return fault(rest().size() > 1 ? joined_fix(parts_.size()) : "");
    switch (comment_.shape) {
      case Shape::pair: return;
      case Shape::text: return after_text();
      case Shape::word: return after_word();
      case Shape::nothing: return after_nothing();
      case Shape::arguments:
        if (after_arguments()) return;
        break;
      default: break;
    }
    if (after_quoted_blank()) return;
    // Something like "wait for the end of it" is not read as a whole.
    const bool words = is_letter(c) && parts_.size() > kMostWords && !list();
    std::string fixed;
    const Verdict whole = words ? Verdict::no : reads(parts_.size(), fixed);
    if (whole == Verdict::yes) return fault(fixed);
    if (const std::string meant_name = whole == Verdict::undefined && is_operator(c) ? near() : "";
        !meant_name.empty()) {
      return warn("", 0, fmt::format("{} is not defined; {}", reader_.unknown(), meant(meant_name)));
    }
    const bool blank = begin_ == comment_.last + std::size_t{1};
    if (!is_operator(c) && !blank) return;
    // "a pointer" is no accumulator.
    const bool article = parts_.size() > 1 && (part(0) == "a" || part(0) == "A");
    if (article && reader_.read(joined_fix(1), shape()) != Verdict::yes) return;
    for (std::size_t count = std::min(parts_.size() - 1, kMostWords); count > 0; --count) {
      if (reads(count, fixed) == Verdict::yes) return warn(fixed, count, "");
    }
  }

 private:
  static constexpr std::size_t kMostWords = 4;

  struct Part {
    std::size_t first, last;
  };

  /// Arguments are often values.
  Shape shape() const { return comment_.shape == Shape::arguments ? Shape::values : comment_.shape; }
  bool list() const { return shape() == Shape::values || shape() == Shape::registers; }
  std::string_view part(std::size_t index) const {
    return text_.substr(parts_[index].first, parts_[index].last - parts_[index].first);
  }
  std::string_view written() const { return text_.substr(comment_.first, comment_.last - comment_.first); }
  std::string_view rest() const { return text_.substr(begin_, end_ - begin_); }

  /// The operand with the first parts of the rest, without blanks between them.
  std::string joined_fix(std::size_t count) const {
    std::string fixed;
    squeeze(written(), fixed);
    squeeze(text_.substr(begin_, parts_[count - 1].last - begin_), fixed);
    return fixed;
  }
  /// The same with commas where there is neither a comma nor an operator.
  std::string comma_fix(std::size_t count) const {
    std::string fixed;
    squeeze(written(), fixed);
    for (std::size_t i = 0; i < count; ++i) {
      const char before = fixed.empty() ? ',' : fixed.back(), next = part(i).front();
      const bool joined = before == ',' || next == ',' || is_operator(before) || is_operator(next);
      if (!joined) fixed += ',';
      squeeze(part(i), fixed);
    }
    return fixed;
  }

  /// Whether the operand goes on with so many parts of the rest, and how it is written then.
  Verdict reads(std::size_t count, std::string& fixed) {
    std::string joined = joined_fix(count), commas = comma_fix(count);
    const Verdict with_commas = commas == joined ? Verdict::no : reader_.read(commas, shape());
    if (list() && with_commas == Verdict::yes) {
      fixed = std::move(commas);
      return Verdict::yes;
    }
    Verdict whole = reader_.read(joined, shape());
    // A name that was cut in two, but not two words that would make a name nobody knows.
    if (whole == Verdict::undefined && !is_operator(text_[begin_])) whole = Verdict::no;
    if (whole == Verdict::no && with_commas == Verdict::yes) {
      fixed = std::move(commas);
      return Verdict::yes;
    }
    fixed = std::move(joined);
    return whole;
  }

  /// A rest by itself. `***` is a comment, though it could be read as a product of addresses.
  Verdict read_alone(const std::string& all) {
    const bool ornament = std::none_of(all.begin(), all.end(), in_name);
    return ornament ? Verdict::no : reader_.read(all, Shape::operand);
  }

  /// What the name that nobody knows was meant to be.
  std::string near() {
    if (searches_ == 0) return "";
    --searches_;
    return program_.symbols.near(reader_.unknown());
  }

  /// Text between marks, or the name of a file: more of the same, or numbers in the manner of FCB.
  void after_text() {
    const char c = text_[begin_], mark = text_[comment_.first];
    const bool more = (c == '"' || c == '\'' || c == '/' || c == mark) && rest().find(c, 1) == rest().size() - 1 &&
                      !in_name(c) && rest().size() > 2;
    if (more) fault("");
  }

  /// A part or the name of a file that was cut in two.
  void after_word() {
    if (parts_.size() != 1) return;
    const std::string joined = joined_fix(1);
    if (Target::find(joined) != nullptr || part(0).find('.') < part(0).size() - 1) fault(joined);
  }

  void after_nothing() {
    const char c = text_[begin_];
    std::string all;
    squeeze(rest(), all);
    const bool lone_register = parts_.size() == 1 && is_register(all);
    const Verdict verdict = lone_register ? Verdict::yes : read_alone(all);
    const bool name = is_letter(c) || c == '_' || c == '.';
    const std::string subject = upper(split_line(text_).mnemonic);
    const bool macro = macro_called();
    if (verdict == Verdict::yes && (!name || lone_register || macro)) {
      Words words{.what = fmt::format("{} takes no operand", subject),
                  .expected = "nothing, or a comment that begins with ;",
                  .fixes = {{begin_, begin_, "; "}}};
      // PSH A B and SWI 2
      const bool apart = comment_.first > split_line(text_).operand_at;
      const std::string joined = subject + upper(all);
      if (apart) {
        words.what = fmt::format("{} takes one register", subject);
        if (lone_register) words.hint = "the next one has a line of its own";
        if (lone_register) words.fixes.clear();
      } else if (!macro && program_.target->find_mnemonic(joined) != nullptr) {
        words.hint = fmt::format("{} is an instruction of its own", joined);
        words.fixes = {{split_line(text_).mnemonic_at, end_, joined}};
      }
      program_.faults.fault(macro ? "asm-macro-arguments" : "asm-operand-ignored", {comment_.line, begin_},
                            std::move(words));
      return;
    }
    if (macro) return;
    const bool digit = is_digit(c) && begin_ == split_line(text_).mnemonic_at + subject.size() + 1 &&
                       program_.target->find_mnemonic(subject + std::string(part(0))) != nullptr;
    if (c != '#' && c != '$' && !digit && verdict != Verdict::yes) return;
    program_.faults.report("asm-operand-ignored", Weight::warn, {comment_.line, begin_},
                           {.what = fmt::format("{} takes no operand: this is taken for a comment", subject),
                            .hint = "remove it, or begin the comment with ;"});
  }

  bool macro_called() const { return program_.macro_index.count(upper(split_line(text_).mnemonic)) > 0; }

  /// What may be one more argument is one if it is a value.
  bool after_arguments() {
    std::string all;
    squeeze(rest(), all);
    const bool value = read_alone(all) == Verdict::yes || (parts_.size() == 1 && is_register(all));
    if (value) fault(comma_fix(parts_.size()));
    return value;
  }

  /// `'   A`: the character that was meant stands behind the blanks, by itself or with a quote or more behind it.
  bool after_quoted_blank() {
    if (written().size() < 2 || written().substr(written().size() - 2) != "' ") return false;
    const std::string_view first = part(0);
    const bool one =
        first.size() == 1 ? parts_.size() == 1 : first[1] == '\'' || first[1] == ',' || is_operator(first[1]);
    if (!one) return false;
    std::string fixed(written().substr(0, written().size() - 1));
    squeeze(rest(), fixed);
    fault(std::move(fixed));
    return true;
  }

  void fault(std::string fixed) {
    Words words{.what = "a blank ends the operand, and what follows reads as more of it",
                .expected = "an operand without such blanks, or a comment that begins with ;"};
    if (!fixed.empty()) words.fixes = {{comment_.first, end_, std::move(fixed)}};
    program_.faults.fault("asm-blank", {comment_.line, begin_}, std::move(words));
  }

  void warn(std::string fixed, std::size_t count, std::string hint) {
    if (count > 0 && count < parts_.size()) fixed += "  ;";
    // Two numbers in a row make a third one: nobody meant that.
    std::vector<Fix> fixes;
    if (count > 0 && (list() || !is_digit(text_[begin_])))
      fixes = {{comment_.first, parts_[count - 1].last, std::move(fixed)}};
    program_.faults.report("asm-blank", Weight::warn, {comment_.line, begin_},
                           {.what = "a blank ends the operand: this is taken for a comment",
                            .expected = "an operand without such blanks, or a comment that begins with ;",
                            .hint = std::move(hint),
                            .fixes = std::move(fixes)});
  }

  Program& program_;
  std::size_t& searches_;
  const Comment& comment_;
  std::string_view text_;
  RestReader reader_;
  std::size_t begin_ = 0, end_ = 0;  // of the rest
  std::vector<Part> parts_;
};

}  // namespace

void look_behind_blanks(Program& program) {
  if (program.target == nullptr) return;
  std::size_t searches = InputError::kMost;
  for (const Comment& comment : program.comments) {
    program.watch.tick();
    Rest(program, comment, searches).run();
  }
}

}  // namespace prewire::assembler
