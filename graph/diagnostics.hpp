// SPDX-License-Identifier: MIT
//
// What is wrong or doubtful in a file, with its place. Readers collect everything they can find in
// one run, so that a person mends a file once. Not for faults of the board under test: these are
// data (findings.hpp).
#pragma once

#include <cstddef>
#include <stdexcept>
#include <string>
#include <vector>

namespace padwalk::graph {

/// A place in a text file. Units: line and column count from 1; line 0 means "the file as a whole".
struct Mark {
  int line = 0;
  int column = 0;
  friend bool operator==(const Mark&, const Mark&) = default;
};

/// One complaint: what was found, and what was expected.
struct Diagnostic {
  Mark mark;
  std::string text;
};

/// Collects errors and warnings of one file: the first kMaxKept of each, since a hostile file may
/// hold millions.
class Diagnostics {
 public:
  static constexpr std::size_t kMaxKept = 1000;

  explicit Diagnostics(std::string file) : file_(std::move(file)) {}

  void error(Mark mark, std::string text) {
    if (errors_.size() < kMaxKept) {
      errors_.push_back({mark, std::move(text)});
    } else {
      ++more_errors_;
    }
  }
  void warning(Mark mark, std::string text) {
    if (warnings_.size() < kMaxKept) {
      warnings_.push_back({mark, std::move(text)});
    }
  }

  const std::string& file() const { return file_; }
  const std::vector<Diagnostic>& errors() const { return errors_; }
  const std::vector<Diagnostic>& warnings() const { return warnings_; }

  /// `file:line:column: text`, without the numbers where the complaint has no place.
  std::string format(const Diagnostic& diagnostic) const;

  /// Errors: throws BadFile with every error, one a line in file order, if there is any.
  void throw_if_errors() const;

 private:
  std::string file_;
  std::vector<Diagnostic> errors_;
  std::vector<Diagnostic> warnings_;
  std::size_t more_errors_ = 0;
};

/// A file that cannot be used; `what()` holds one line a mistake, each with file, line and column.
class BadFile : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace padwalk::graph
