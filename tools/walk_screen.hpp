// SPDX-License-Identifier: MIT
//
// What a person sees and hears whose eyes are on the board: a net in letters that read from two
// metres, a tone for each kind of answer, and the name spoken. Measures nothing.
#pragma once

#include <ostream>
#include <string>
#include <string_view>
#include <vector>

namespace padwalk::tools {

/// What a touch is to the person: no expectation was told, or it came true, or not.
enum class Answer { named, expected, another, nothing };

/// Five rows of a capital letter's height, as wide as `columns` allow: what does not fit is left
/// out at the front, since the ends of names differ. What has no letter becomes a box.
std::vector<std::string> large_text(std::string_view text, std::size_t columns);

/// Tones through `aplay`, names through `espeak-ng`, each where the system has it; else the bell,
/// at a terminal. None of them is waited for.
class Sound {
 public:
  /// `loud` false: nothing is ever heard.
  Sound(std::ostream& terminal, bool loud);
  void play(Answer answer, std::string_view name);

 private:
  std::ostream& terminal_;
  bool loud_ = false;
  std::string aplay_;  ///< its path; empty: there is none
  std::string espeak_;
};

}  // namespace padwalk::tools
