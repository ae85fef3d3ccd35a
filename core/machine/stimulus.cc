#include "prewire/stimulus.h"

#include <algorithm>
#include <charconv>
#include <utility>

#include "description/text_file.h"
#include "description/values.h"
#include "prewire/machine.h"

namespace prewire {

namespace {

constexpr std::int64_t kMostCycles = 1'000'000'000'000'000;
constexpr const char* kStimulusFile = "a stimulus file";

std::optional<std::int64_t> parse_cycles(std::string_view text) {
  std::int64_t count = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), count);
  if (error != std::errc{} || count < 0 || count > kMostCycles) return std::nullopt;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
  if (text != "cycles" && text != "cycle") return std::nullopt;
  return count;
}

class StimulusReader {
 public:
  explicit StimulusReader(std::vector<Fault>& faults) : faults_(faults) {}

  std::vector<Stimulus> read(const JsonValue& top) {
    std::vector<Stimulus> stimuli;
    if (!check_kind(top, JsonKind::object, kStimulusFile, "an object with \"stimulus\"", faults_)) return stimuli;
    check_keys(top, kStimulusFile, {"stimulus", "about"}, faults_);
    const std::string list = "a list of what happens, in order of time";
    const auto entries = need(top, "stimulus", "the file", list, faults_);
    if (!entries || !check_kind(*entries, JsonKind::array, "\"stimulus\"", list, faults_)) return stimuli;
    for (const JsonValue& entry : entries->children()) {
      if (faults_.full()) break;
      read_entry(entry, stimuli);
    }
    return stimuli;
  }

 private:
  void read_entry(const JsonValue& entry, std::vector<Stimulus>& stimuli) {
    constexpr const char* kExample = R"(an object such as {"at": "10 ms", "set": "FLOAT", "to": "2.5 V"})";
    if (!check_kind(entry, JsonKind::object, "a stimulus", kExample, faults_)) return;
    check_keys(entry, "a stimulus", {"at", "set", "to", "about"}, faults_);
    const auto at = need(entry, "at", "the stimulus", kMomentExample, faults_);
    const auto part = need(entry, "set", "the stimulus", "the name of a part", faults_);
    const auto value = need(entry, "to", "the stimulus", "what a person does to the part, such as \"2.5 V\"", faults_);
    const bool named = part && check_kind(*part, JsonKind::string, "\"set\"", "the name of a part", faults_);
    const bool valued = value && check_kind(*value, JsonKind::string, "\"to\"", "a text such as \"2.5 V\"", faults_);
    if (!at || !check_kind(*at, JsonKind::string, "\"at\"", kMomentExample, faults_)) return;
    const auto moment = parse_moment(at->text());
    if (!moment) {
      faults_.add("bad-moment", at->place(), "\"at\" is no moment", kMomentExample, at->shown(),
                  "time counts from power-on");
    }
    if (!moment || !named || !valued) return;
    stimuli.push_back({*moment, part->text(), value->text(), part->place(), value->place()});
  }

  FaultList faults_;
};

}  // namespace

Stamp Moment::stamp(const Timebase& timebase) const { return in_cycles ? stamp_of(count) : timebase.stamps(count); }
Stamp Moment::stamp_before(const Timebase& timebase) const {
  return in_cycles ? stamp_of(count) : timebase.stamps_within(count);
}
Stamp Moment::stamp_after(const Timebase& timebase) const {
  return in_cycles ? stamp_of(count) : timebase.stamps_around(count);
}

std::optional<Moment> parse_moment(std::string_view text) {
  if (const auto cycles = parse_cycles(text)) return Moment{*cycles, true};
  const auto span = parse_quantity(text, Unit::picoseconds);
  if (!span || *span < 0) return std::nullopt;
  return Moment{*span, false};
}

std::vector<Stimulus> read_stimulus(std::string_view json, const std::string& name) {
  const JsonText text(json, name, kStimulusFile);
  std::vector<Fault> faults = text.faults();
  std::vector<Stimulus> stimuli;
  if (const auto root = text.root()) stimuli = StimulusReader(faults).read(*root);
  if (!faults.empty()) throw InputError(std::move(faults));
  return stimuli;
}

std::vector<Stimulus> read_stimulus_file(const std::filesystem::path& file) {
  return read_stimulus(read_text_file(file, "the stimulus file"), file.string());
}

std::vector<TimedInput> timed(const std::vector<Stimulus>& stimuli, const Timebase& timebase) {
  std::vector<TimedInput> inputs;
  inputs.reserve(stimuli.size());
  for (const Stimulus& stimulus : stimuli) {
    inputs.push_back(
        {stimulus.at.stamp(timebase), stimulus.part, stimulus.value, stimulus.part_place, stimulus.value_place});
  }
  return inputs;
}

void schedule(Machine& machine, const std::vector<TimedInput>& inputs, Stamp start, std::vector<Fault>& faults) {
  for (const TimedInput& input : inputs) {
    try {
      if (input.when == start) {
        machine.set(input.part, input.value);
      } else if (input.when > start) {
        machine.schedule(input.part, input.value, input.when - start);
      }
    } catch (const InputError& error) {
      for (Fault fault : error.faults()) {
        fault.place = fault.id == "bad-input-value" ? input.value_place : input.part_place;
        faults.push_back(std::move(fault));
      }
    }
  }
}

}  // namespace prewire
