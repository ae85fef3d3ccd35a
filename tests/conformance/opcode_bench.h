// One instruction at a time, over as many operands as one likes, before three judges: what the flag columns of the
// opcode table promise, the Boolean equations of the programming manuals, and a slow model.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <functional>
#include <initializer_list>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

#include "bus/mix.h"
#include "cpu_fixture.h"

namespace prewire::testing {

inline bool bit(int value, int number) { return (value >> number & 1) != 0; }

/// Where a flag stands in both processors' condition codes.
inline int flag_bit(char flag) { return 7 - static_cast<int>(std::string_view("EFHINZVC").find(flag)); }

/// One instruction before and after.
struct Outcome {
  CpuRegisters before, after;
  int operand = 0, result = 0;  ///< M and R
  int stacked = 0;              ///< the byte on top of the stack
  int immediate = 0;            ///< the byte after the opcode
};

/// What the symbol of a flag column promises; `open` for a flag that the symbol leaves to the result.
enum class Promise { zero, one, open };
using Formula = std::function<Promise(const Outcome&)>;

inline Promise promise(bool set) { return set ? Promise::one : Promise::zero; }

/// The symbols are explained in tests/data/cpu/README.md.
inline Formula formula(const std::string& symbol, char flag) {
  const int own = flag_bit(flag);
  const auto when = [](std::function<bool(const Outcome&)> test) -> Formula {
    return [test = std::move(test)](const Outcome& o) { return promise(test(o)); };
  };
  if (symbol == "-" || symbol == "1_on_irq") return when([=](const Outcome& o) { return bit(o.before.cc, own); });
  if (symbol == "0") return when([](const Outcome&) { return false; });
  if (symbol == "1") return when([](const Outcome&) { return true; });
  for (const char* open : {"*", "undef", "if CC", "- (table D-1: 0)"}) {
    if (symbol == open) return [](const Outcome&) { return Promise::open; };
  }
  if (symbol == "stk") return when([=](const Outcome& o) { return bit(o.stacked, own); });
  if (symbol == "M0") return when([](const Outcome& o) { return bit(o.operand, 0); });
  if (symbol == "M7") return when([](const Outcome& o) { return bit(o.operand, 7); });
  if (symbol == "M7^M6") return when([](const Outcome& o) { return bit(o.operand, 7) != bit(o.operand, 6); });
  if (symbol == "M==80") return when([](const Outcome& o) { return o.operand == 0x80; });
  if (symbol == "M==7F") return when([](const Outcome& o) { return o.operand == 0x7F; });
  if (symbol == "M!=00") return when([](const Outcome& o) { return o.operand != 0; });
  if (symbol == "R==80") return when([](const Outcome& o) { return o.result == 0x80; });
  if (symbol == "R!=00") return when([](const Outcome& o) { return o.result != 0; });
  if (symbol == "R15") return when([](const Outcome& o) { return bit(o.result, 15); });
  if (symbol == "N^C") return when([](const Outcome& o) { return bit(o.after.cc, 3) != bit(o.after.cc, 0); });
  if (symbol == "RH7") return when([](const Outcome& o) { return bit((o.before.x >> 8) - (o.operand >> 8), 7); });
  if (symbol == "B7") return when([](const Outcome& o) { return bit(o.after.b, 7); });
  if (symbol == "ovf(XH-MH)") {
    return when([](const Outcome& o) {
      const int x = o.before.x >> 8, m = o.operand >> 8, r = x - m;
      return (bit(x, 7) && !bit(m, 7) && !bit(r, 7)) || (!bit(x, 7) && bit(m, 7) && bit(r, 7));
    });
  }
  if (symbol == "C|dec_carry" || symbol == "C|carry") {
    return [](const Outcome& o) { return bit(o.before.cc, 0) ? Promise::one : Promise::open; };
  }
  if (symbol.size() == 2 && symbol[0] == 'A') {
    const int number = symbol[1] - '0';
    return when([=](const Outcome& o) { return bit(o.before.a, number); });
  }
  if (symbol.substr(1, 3) == "imm") {
    const bool both = symbol[0] == '&';
    const int number = symbol[4] - '0';
    return when([=](const Outcome& o) {
      const bool before = bit(o.before.cc, own), immediate = bit(o.immediate, number);
      return both ? before && immediate : before || immediate;
    });
  }
  throw std::runtime_error("no meaning for flag symbol " + symbol);
}

/// H, V and C of sums and differences as M68PRM and M6809PM appendix A write them, in terms of X, M and R, with `top`
/// the number of the sign bit.
struct Equations {
  bool h, v, c;
};
inline Equations of_sum(int x, int m, int r, int top) {
  const auto boole = [&](int n, bool& carry) {
    const bool xn = bit(x, n), mn = bit(m, n), rn = bit(r, n);
    carry = (xn && mn) || (mn && !rn) || (!rn && xn);
    return (xn && mn && !rn) || (!xn && !mn && rn);
  };
  Equations e{};
  boole(3, e.h);
  e.v = boole(top, e.c);
  return e;
}
inline Equations of_difference(int x, int m, int r, int top) {
  const bool xt = bit(x, top), mt = bit(m, top), rt = bit(r, top);
  return {false, (xt && !mt && !rt) || (!xt && mt && rt), (!xt && mt) || (mt && rt) || (rt && !xt)};
}

/// The processor on memory that the test can reach into, so that a case costs next to nothing. The test's parameter is
/// the instruction.
template <class Row, class Model>
class OpcodeBench : public ::testing::TestWithParam<Row> {
 protected:
  static constexpr std::uint16_t kPc = 0x4000;

  /// `flags`: those of the processor. `open_flags`: bits of CC that nobody promises anything about. `top`: the byte on
  /// top of the stack lies there, from S.
  OpcodeBench(const CpuBench::Parts& parts, std::string_view flags, int open_flags, int top)
      : bench_(store_, parts),
        cpu_(bench_.machine.cpu()),
        model_([this](std::uint16_t at) { return store_.bytes[at]; }),
        act_(Model::action(row_)),
        flags_(flags),
        open_flags_(open_flags),
        top_(top) {
    for (std::size_t i = 0; i < flags_.size(); ++i) formulas_[i] = formula(row_.flags.at(flags_[i]), flags_[i]);
    for (std::size_t at = 0; at < 65536; ++at) store_.bytes[at] = byte(mix(0xF1A6, at) >> 20);
    start_ = bench_.machine.save();
  }

  /// Executes the instruction at PC and compares everything. `first` is X in the equations, if there are any.
  void execute(const CpuRegisters& before, int first = 0) {
    model_.load(before);
    act_(model_);
    const auto stacked = store_.bytes[word(before.s + static_cast<unsigned>(top_))];
    Outcome o{before, {}, model_.operand, model_.result, stacked, store_.bytes[word(before.pc + 1U)]};
    store_.writes.clear();
    CpuBench::set(cpu_, before);
    bench_.machine.step_instruction();
    o.after = bench_.registers();
    ++cases_;
    CpuRegisters settled = o.after, expected = model_.registers();
    settled.cc = byte(settled.cc & ~open_flags_);
    expected.cc = byte(expected.cc & ~open_flags_);
    ASSERT_EQ(settled, expected) << ::testing::PrintToString(before) << fmt::format(" M={:02X}", o.operand);
    ASSERT_EQ(store_.writes, model_.writes) << ::testing::PrintToString(before);
    for (std::size_t i = 0; i < flags_.size(); ++i) {
      const bool was = bit(before.cc, flag_bit(flags_[i])), is = bit(o.after.cc, flag_bit(flags_[i]));
      seen_[i][was] |= is ? 2 : 1;
      const Promise promised = formulas_[i](o);
      ASSERT_TRUE(promised == Promise::open || promised == promise(is))
          << flags_[i] << " is " << is << " after " << ::testing::PrintToString(before)
          << fmt::format(" M={:02X}", o.operand);
    }
    if (equations_ != nullptr) {
      const Equations e = equations_(first, o.operand, o.result, sign_);
      ASSERT_EQ(bit(o.after.cc, 1), e.v) << ::testing::PrintToString(before);
      ASSERT_EQ(bit(o.after.cc, 0), e.c) << ::testing::PrintToString(before);
      if (!(open_flags_ & 32)) {
        ASSERT_EQ(bit(o.after.cc, 5), has_h_ ? e.h : bit(before.cc, 5)) << ::testing::PrintToString(before);
      }
    }
  }

  /// There were cases enough, and every flag was met in both states.
  void expect_enough_cases() const {
    EXPECT_GE(cases_, 500);
    for (std::size_t i = 0; i < flags_.size(); ++i) {
      SCOPED_TRACE(flags_[i]);
      const auto both = [](int seen) { return seen == 3; };
      EXPECT_TRUE(seen_[i][0] != 0 && seen_[i][1] != 0) << "not met in both states";
      if (row_.flags.at(flags_[i]) == "*") {
        EXPECT_TRUE(both(seen_[i][0]) && both(seen_[i][1])) << "does not depend on the result";
      }
    }
  }

  bool is(std::initializer_list<std::string_view> stems) const {
    return std::find(stems.begin(), stems.end(), row_.stem()) != stems.end();
  }
  static std::uint8_t byte(std::uint64_t value) { return static_cast<std::uint8_t>(value); }
  static std::uint16_t word(std::uint64_t value) { return static_cast<std::uint16_t>(value); }
  /// 16-bit values: near every power of two, near every page's ends, and noise.
  static std::vector<int> interesting_words() {
    std::vector<int> values;
    for (int power = 0; power < 16; ++power) {
      for (int near = -1; near <= 1; ++near) values.push_back((1 << power) + near);
    }
    for (int page = 0; page < 256; page += 15) {
      for (const int low : {0x00, 0x01, 0x7F, 0x80, 0xFF}) values.push_back(page << 8 | low);
    }
    for (std::uint64_t i = 0; i < 60; ++i) values.push_back(word(mix(0xC0DE, i)));
    return values;
  }

  const Row row_ = this->GetParam();
  Store store_;
  CpuBench bench_;
  Cpu& cpu_;
  Snapshot start_;
  Model model_;
  typename Model::Action act_;
  const std::string_view flags_;
  const int open_flags_, top_;
  std::array<Formula, 8> formulas_;
  Equations (*equations_)(int, int, int, int) = nullptr;
  int sign_ = 7;
  bool has_h_ = false;
  std::array<std::array<int, 2>, 8> seen_{};  ///< by flag and what it was before: 1 became 0, 2 became 1
  int cases_ = 0;
};

}  // namespace prewire::testing
