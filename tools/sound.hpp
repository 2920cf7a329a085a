// SPDX-License-Identifier: MIT
//
// What a person hears whose eyes are on the board: a tone for each kind of answer, and the name
// spoken.
#pragma once

#include <ostream>
#include <string>
#include <string_view>

namespace padwalk::tools {

/// What a touch is to the person: no expectation was told, or it came true, or not.
enum class Answer { named, expected, another, nothing };

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
