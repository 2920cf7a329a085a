// SPDX-License-Identifier: MIT
#include "tools/terminal_person.hpp"

#include <fmt/format.h>

#include <iostream>
#include <utility>

namespace padwalk::tools {

void TerminalPerson::reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) {
  out_ << "Silent: take these leads off and put them on again:\n";
  for (const graph::Lead& lead : leads) {
    out_ << fmt::format("      {} (lead {})\n", board[lead.point].name, lead.channel);
  }
  out_ << "      press Enter when it is done: ";
  out_.flush();
  std::string line;  // who is not there has re-seated nothing: the sweep goes on all the same
  std::getline(std::cin, line);
}

void TerminalPerson::place(const graph::PlanStep& step, const graph::Hookup&) {
  steps_.write_moves(step);
  out_ << "      press Enter when all sit right: ";
  answer();
}

bool TerminalPerson::touch(const graph::Hookup& now) {
  steps_.write_touch(now.leads.back().point);
  out_ << (std::exchange(told_, true) ? ": " : ", hold it, press Enter (n: cannot reach it): ");
  return answer() != "n";
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
  said_.clear();
  if (!std::getline(std::cin, said_)) {
    stop_ = true;
  }
  return said_;
}

}  // namespace padwalk::tools
