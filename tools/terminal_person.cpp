// SPDX-License-Identifier: MIT
#include "tools/terminal_person.hpp"

#include <fmt/format.h>

#include <utility>

namespace padwalk::tools {

void TerminalPerson::reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) {
  out_ << "Silent: take these leads off and put them on again:\n";
  for (const graph::Lead& lead : leads) {
    out_ << fmt::format("      {} (lead {})\n", board[lead.point].name, lead.channel);
  }
  out_ << "      press Enter when it is done: ";
  out_.flush();
  lines_.wait();  // who is not there has re-seated nothing: the sweep goes on all the same
}

void TerminalPerson::place(const graph::PlanStep& step, const graph::Hookup&) {
  steps_.write_moves(step);
  out_ << "      press Enter when all sit right: ";
  answer();
}

bool TerminalPerson::touch(const graph::Hookup& now) {
  if (sound_ != nullptr && told_) {
    sound_->play(Answer::expected, {});  // the one before is done
  }
  steps_.write_touch(now.leads.back().point);
  const char* how = session_ != nullptr
                        ? ", hold it (Enter if it is not heard, n: cannot reach it): "
                        : ", hold it, press Enter (n: cannot reach it): ";
  out_ << (std::exchange(told_, true) ? ": " : how);
  const std::optional<bool> heard = hears(now);
  return heard ? *heard : answer() != "n";
}

/// Waits until the tip has contact, lifted since the touch before, or until a line is there, which
/// may say that it cannot be reached. Nothing: it cannot be heard.
std::optional<bool> TerminalPerson::hears(const graph::Hookup& now) {
  if (session_ == nullptr || now.leads.size() < 2) {
    return std::nullopt;
  }
  out_.flush();
  const session::Channel tip = now.leads.back().channel;
  session::Held held;
  held.groups.emplace_back();
  for (const graph::Lead& lead : now.leads) {
    if (lead.channel != tip) {
      held.groups.back().push_back(lead.channel);
    }
  }
  bool lifted = false;
  int rounds = 0;
  try {
    while (!stop_ && !session_->needs_power_check()) {
      bool ended = false;
      if (const auto line = lines_.next(ended)) {
        said_ = *line;
        return said_ != "n";
      }
      if (ended) {
        return std::nullopt;
      }
      if (!session_->touches(tip, held)) {
        lifted = true;
        rounds = 0;
      } else if (lifted && ++rounds == 2) {
        said_.clear();
        out_ << "heard\n";
        out_.flush();
        return true;
      }
    }
  } catch (const session::TesterError&) {
    return true;  // the sweep finds it too, and says so
  }
  return std::nullopt;
}

bool TerminalPerson::put_right(const graph::PlanMove& move, const graph::Slip& slip,
                               const graph::Hookup&) {
  out_ << fmt::format("      {}\n      press Enter when it is right; n and Enter: it was right: ",
                      slip_text(board_, bench_, move, slip));
  return answer() != "n" && !stop_;
}

bool TerminalPerson::touch_again(graph::NetId instead, const graph::Hookup& now) {
  out_ << fmt::format(
      "      that conducts to net {}: is it {}? Touch it again and press Enter; n and Enter: it "
      "is: ",
      board_[instead].name, board_[now.leads.back().point].name);
  return answer() != "n" && !stop_;
}

std::string TerminalPerson::answer() {
  out_.flush();
  const std::optional<std::string> line = lines_.wait();
  stop_ = stop_ || !line;
  said_ = line.value_or(std::string());
  return said_;
}

}  // namespace padwalk::tools
