// SPDX-License-Identifier: MIT
#include "tools/output_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <iostream>
#include <stdexcept>

namespace padwalk::tools {

namespace {

[[noreturn]] void cannot_write(const std::string& path, const char* why) {
  throw std::runtime_error(fmt::format("cannot write {}: {}; name another file", path, why));
}

}  // namespace

OutputFile::OutputFile(std::string path) : path_(std::move(path)) {
  struct stat status {};
  const bool exists = stat(path_.c_str(), &status) == 0;
  if (exists && S_ISDIR(status.st_mode)) {
    cannot_write(path_, "it is a directory");
  }
  if (exists && !S_ISREG(status.st_mode)) {
    descriptor_ = open(path_.c_str(), O_WRONLY | O_CLOEXEC);
  } else if (exists && access(path_.c_str(), W_OK) != 0) {
    cannot_write(path_, std::strerror(errno));
  } else {
    temporary_ = path_ + ".XXXXXX";
    descriptor_ = mkostemp(temporary_.data(), O_CLOEXEC);
    if (descriptor_ >= 0) {
      const mode_t mask = umask(0);
      umask(mask);
      fchmod(descriptor_, exists ? status.st_mode & 07777 : 0666 & ~mask);
    }
  }
  if (descriptor_ < 0) {
    const int error = errno;
    temporary_.clear();
    cannot_write(path_, std::strerror(error));
  }
}

OutputFile::~OutputFile() {
  if (descriptor_ >= 0) {
    close(descriptor_);
  }
  if (!temporary_.empty()) {
    unlink(temporary_.c_str());
  }
}

void OutputFile::commit(std::string_view text) {
  while (!text.empty()) {
    const ssize_t written = write(descriptor_, text.data(), text.size());
    if (written < 0 && errno == EINTR) {
      continue;
    }
    if (written < 0) {
      cannot_write(path_, std::strerror(errno));
    }
    text.remove_prefix(static_cast<std::size_t>(written));
  }
  if (!temporary_.empty()) {
    if (fsync(descriptor_) != 0 || rename(temporary_.c_str(), path_.c_str()) != 0) {
      cannot_write(path_, std::strerror(errno));
    }
    temporary_.clear();
  }
}

JsonOutput::JsonOutput(const std::string& name) : standard_(name == "-") {
  if (!name.empty() && !standard_) {
    file_.emplace(name);
  }
}

std::ostream& JsonOutput::text() const {
  return standard_ ? std::cerr : std::cout;
}

void JsonOutput::write(std::string_view json) {
  if (file_) {
    file_->commit(json);
  } else {
    std::cout << json;
  }
}

}  // namespace padwalk::tools
