#include "test.h"

#include <fmt/format.h>

#include <algorithm>

#include "refusal.h"
#include "shared/places.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

namespace {

constexpr const char* kForms = "A=$35, X>=$100, [level]!=0, net:PIN=LEVEL or display=TEXT; several with `and` between";

std::vector<std::string> register_names(const Machine& machine) {
  std::vector<std::string> names;
  for (const RegisterInfo& info : machine.cpu().registers()) names.emplace_back(info.name);
  return names;
}

}  // namespace

Test::Test(const Machine& machine, Words& words) {
  std::string part;
  const auto finish = [&] {
    if (part.empty()) throw Refusal("a comparison is missing", kForms);
    parts_.push_back(read_part(machine, part));
    part.clear();
  };
  do {
    const std::string word = words.take("a comparison");
    text_ += (text_.empty() ? "" : " ") + word;
    if (word == "and") {
      finish();
    } else {
      // A text on a display may have blanks in it; elsewhere they mean nothing.
      part += part.starts_with("display") ? " " + word : word;
    }
  } while (!words.empty());
  finish();
}

Test::Operand Test::read_operand(const Machine& machine, const std::string& text) {
  Operand operand;
  operand.text = text;
  if (text.starts_with('[') && text.ends_with(']')) {
    operand.what = Operand::What::memory;
    operand.number = need_place(machine, text.substr(1, text.size() - 2));
    if (machine.lines_at(operand.number) != 0xFF) {
      throw Refusal("there is no byte to compare", "a place at which chips answer on all data lines",
                    fmt::format("{}: ${:04X} holds {}", text, operand.number, byte_text(machine, operand.number)),
                    "`prewire check --map` lists what is where");
    }
    return operand;
  }
  const std::vector<std::string> names = register_names(machine);
  const auto name = std::find(names.begin(), names.end(), text);
  if (name != names.end()) {
    operand.what = Operand::What::reg;
    operand.number = static_cast<std::uint16_t>(name - names.begin());
    return operand;
  }
  const auto value = parse_value(machine, text);
  if (!value) {
    std::vector<std::string> candidates = label_names(machine);
    candidates.insert(candidates.end(), names.begin(), names.end());
    throw Refusal("this cannot be compared",
                  "a register, a number such as 10, $0A or %1010, a label, or a byte of memory such as [$0010]", text,
                  meant(text, candidates));
  }
  operand.number = static_cast<std::uint16_t>(*value);
  return operand;
}

Test::Part Test::read_part(const Machine& machine, const std::string& text) {
  Part part;
  if (text.starts_with("net:") || text.starts_with("display")) {
    part.condition = parse_condition("the test", text);
    std::vector<Fault> faults;
    check_condition(*part.condition, machine, faults);
    if (!faults.empty()) throw Refusal(faults[0].what, faults[0].expected, "", faults[0].hint);
    return part;
  }
  for (const char* relation : {"!=", "<=", ">=", "=", "<", ">"}) {
    const std::size_t at = text.find(relation);
    if (at == std::string::npos || at == 0) continue;
    part.left = read_operand(machine, text.substr(0, at));
    part.relation = relation;
    part.right = read_operand(machine, text.substr(at + part.relation.size()));
    return part;
  }
  throw Refusal("there is no such comparison", kForms, text);
}

int Test::value(const Machine& machine, const Operand& operand) {
  switch (operand.what) {
    case Operand::What::value: return operand.number;
    case Operand::What::memory: return machine.peek(operand.number);
    case Operand::What::reg: return machine.cpu().get(operand.number);
  }
  return 0;
}

bool Test::holds(const Machine& machine, const Part& part, const Shown& shown) {
  if (part.condition) {
    const Condition& condition = *part.condition;
    if (condition.kind == Condition::Kind::net) return machine.net(condition.name)->level == condition.level;
    return shown && shown(condition.name, condition.wanted);
  }
  const int left = value(machine, part.left), right = value(machine, part.right);
  if (part.relation == "=") return left == right;
  if (part.relation == "!=") return left != right;
  if (part.relation == "<") return left < right;
  if (part.relation == "<=") return left <= right;
  if (part.relation == ">") return left > right;
  return left >= right;
}

bool Test::holds(const Machine& machine, const Shown& shown) const {
  return std::all_of(parts_.begin(), parts_.end(), [&](const Part& part) { return holds(machine, part, shown); });
}

std::string Test::found_instead(const Machine& machine, const Shown& shown) const {
  for (const Part& part : parts_) {
    if (holds(machine, part, shown)) continue;
    if (part.condition) {
      if (part.condition->kind == Condition::Kind::display) return "";
      return fmt::format("{} is {}", part.condition->name, to_string(machine.net(part.condition->name)->level));
    }
    const Operand& of = part.left.what == Operand::What::value ? part.right : part.left;
    return fmt::format("{} is ${:02X}", of.text, value(machine, of));
  }
  return "";
}

bool Test::has(std::optional<Condition::Kind> kind) const {
  return std::any_of(parts_.begin(), parts_.end(), [&](const Part& part) {
    return kind ? part.condition && part.condition->kind == *kind : !part.condition;
  });
}

}  // namespace prewire::front::debug
