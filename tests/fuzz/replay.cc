// Gives the inputs that the fuzz targets keep in tests/fuzz/corpus to the targets once more, without libFuzzer: with
// any compiler, in every run of the tests. A target that finds a fault traps; the last name printed is the input's.
//
// prewire_fuzz_replay CORPUS: a folder with one for each target.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <vector>

// LLVMFuzzerTestOneInput of each target: tests/CMakeLists.txt gives it this name.
extern "C" {
int prewire_fuzz_asm(const std::uint8_t* data, std::size_t size);
int prewire_fuzz_check(const std::uint8_t* data, std::size_t size);
int prewire_fuzz_disassembler(const std::uint8_t* data, std::size_t size);
int prewire_fuzz_image(const std::uint8_t* data, std::size_t size);
int prewire_fuzz_machine(const std::uint8_t* data, std::size_t size);
int prewire_fuzz_snapshot(const std::uint8_t* data, std::size_t size);
}

namespace {

namespace fs = std::filesystem;

struct Target {
  const char* name;
  int (*run)(const std::uint8_t* data, std::size_t size);
};

constexpr Target kTargets[] = {
    {"asm", prewire_fuzz_asm},     {"check", prewire_fuzz_check},     {"disassembler", prewire_fuzz_disassembler},
    {"image", prewire_fuzz_image}, {"machine", prewire_fuzz_machine}, {"snapshot", prewire_fuzz_snapshot}};

bool replay(const Target& target, const fs::path& folder) {
  std::vector<fs::path> inputs;
  std::error_code error;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder, error)) inputs.push_back(entry.path());
  std::sort(inputs.begin(), inputs.end());
  for (const fs::path& input : inputs) {
    std::printf("%s/%s\n", target.name, input.filename().c_str());
    std::fflush(stdout);
    std::ifstream file(input, std::ios::binary);
    const std::vector<char> bytes{std::istreambuf_iterator<char>(file), {}};
    target.run(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
  }
  std::printf("%s: %zu inputs\n", target.name, inputs.size());
  return !inputs.empty();
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 2) {
    std::fputs("usage: prewire_fuzz_replay CORPUS\n", stderr);
    return 2;
  }
  bool all = true;
  for (const Target& target : kTargets) all = replay(target, fs::path(arguments[1]) / target.name) && all;
  if (!all) std::fputs("a target has no inputs\n", stderr);
  return all ? 0 : 1;
}
