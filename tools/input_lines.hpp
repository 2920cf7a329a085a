// SPDX-License-Identifier: MIT
//
// What a person types, a line at a time, without waiting for it.
#pragma once

#include <optional>
#include <string>

namespace padwalk::tools {

class Lines {
 public:
  virtual ~Lines() = default;
  /// A line that is there by now; nothing: none yet. `ended`: none will come.
  virtual std::optional<std::string> next(bool& ended) = 0;
  /// Waits for a line; nothing: none will come.
  virtual std::optional<std::string> wait() = 0;
};

/// Standard input. One for all who read it, since it may hold lines for the next of them.
class InputLines : public Lines {
 public:
  std::optional<std::string> next(bool& ended) override;
  std::optional<std::string> wait() override;

 private:
  bool read_more();
  std::optional<std::string> take();

  std::string text_;
};

}  // namespace padwalk::tools
