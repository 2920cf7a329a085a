// SPDX-License-Identifier: MIT
//
// A file that is either written whole or left as it was: text goes to a temporary neighbour that is
// renamed at the end. Opened before the work begins, so that a wrong name costs no measurement.
#pragma once

#include <iosfwd>
#include <optional>
#include <string>
#include <string_view>

namespace padwalk::tools {

class OutputFile {
 public:
  /// Errors: std::runtime_error with one sentence if `path` cannot be written.
  explicit OutputFile(std::string path);
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;

  /// Writes everything and puts it in place. Errors: std::runtime_error; `path` is then as before.
  void commit(std::string_view text);

 private:
  std::string path_;
  std::string temporary_;  ///< empty where `path` is no regular file and is written in place
  int descriptor_ = -1;
};

/// Where `--json NAME` writes: nowhere for an empty name, to standard output for "-", else a file.
class JsonOutput {
 public:
  /// Errors: as OutputFile.
  explicit JsonOutput(const std::string& name);

  bool wanted() const { return file_ || standard_; }
  /// Where text for people goes meanwhile: standard error, if standard output is taken.
  std::ostream& text() const;
  /// Only where it is wanted.
  void write(std::string_view json);

 private:
  std::optional<OutputFile> file_;
  bool standard_ = false;
};

}  // namespace padwalk::tools
