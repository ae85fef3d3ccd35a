#include "new_file.h"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <system_error>
#include <utility>

#include "trouble.h"

namespace prewire::front {

namespace {

/// A slip of the hand must not replace a source or a lab, and a device or a pipe cannot be replaced by a file.
bool may_replace(const std::filesystem::path& file, std::string_view mark) {
  std::error_code error;
  const auto status = std::filesystem::symlink_status(file, error);
  if (!std::filesystem::exists(status)) return true;
  if (!std::filesystem::is_regular_file(status)) return false;
  std::ifstream in(file, std::ios::binary);
  std::string begin(mark.size(), '\0');
  in.read(begin.data(), static_cast<std::streamsize>(begin.size()));
  return begin == mark;
}

}  // namespace

NewFile::NewFile(std::string name, std::string_view mark, Words words)
    : name_(std::move(name)), part_(name_ + ".XXXXXX"), words_(std::move(words)) {
  if (!may_replace(name_, mark)) throw Trouble(Exit::input, words_.refused, words_.replaceable, name_);
  int descriptor = -1;
  {
    const SignalsHeld held;
    descriptor = mkstemp(part_.data());
    if (descriptor >= 0) temporary_.emplace(part_.c_str());
  }
  if (descriptor < 0) fail(errno);
  // What mkstemp makes only its owner may read.
  const mode_t mask = umask(0);
  umask(mask);
  fchmod(descriptor, 0666 & ~mask);
  stream_ = fdopen(descriptor, "w");
  if (stream_ == nullptr) {
    const int error = errno;
    ::close(descriptor);
    forget();
    fail(error);
  }
}

NewFile::~NewFile() {
  if (stream_ != nullptr) std::fclose(stream_);
  forget();
}

void NewFile::forget() {
  const SignalsHeld held;
  if (temporary_) unlink(part_.c_str());
  temporary_.reset();
}

void NewFile::write(std::string_view text) {
  if (error_ == 0 && std::fwrite(text.data(), 1, text.size(), stream_) != text.size()) error_ = errno;
}

void NewFile::check() const {
  if (error_ != 0) fail(error_);
}

void NewFile::close() {
  check();
  if (std::fclose(std::exchange(stream_, nullptr)) != 0) fail(errno);
}

void NewFile::take_name() {
  if (std::rename(part_.c_str(), name_.c_str()) != 0) fail(errno);
  const SignalsHeld held;
  temporary_.reset();
}

void NewFile::fail(int error) const {
  throw Trouble(Exit::input, words_.failed, "a place with room for it",
                fmt::format("{}: {}", name_, std::strerror(error)), "check the path, the permissions and the space");
}

}  // namespace prewire::front
