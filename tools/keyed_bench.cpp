// SPDX-License-Identifier: MIT
#include "tools/keyed_bench.hpp"

#include <algorithm>

namespace padwalk::tools {

using graph::Hookup;
using graph::Lead;

void KeyedBench::reseat(const graph::Board& board, const std::vector<Lead>& leads) {
  TerminalPerson::reseat(board, leads);
  bench_.reseat_all();
}

std::vector<std::size_t> KeyedBench::place(const graph::PlanStep& step, const Hookup& all) {
  std::vector<std::size_t> misfits = TerminalPerson::place(step, all);
  Hookup now = all;
  for (const std::size_t which : misfits) {
    std::erase_if(now.leads, [&](const Lead& lead) {
      const std::vector<Lead>& off = step.moves[which].leads;
      return std::any_of(off.begin(), off.end(),
                         [&](const Lead& one) { return one.channel == lead.channel; });
    });
  }
  for (const graph::PlanMove& move : step.moves) {
    for (const Lead& lead : move.leads) {
      wrong_.erase(lead.channel);
    }
  }
  if (said() == "slip") {
    // The largest of them: a grabber has little to slip.
    slip(*std::max_element(step.moves.begin(), step.moves.end(), [](const auto& a, const auto& b) {
      return a.leads.size() < b.leads.size();
    }));
  }
  put(now);
  return misfits;
}

Reached KeyedBench::touch(const Hookup& now) {
  const Reached reached = TerminalPerson::touch(now);
  wrong_.erase(now.leads.back().channel);
  if (said() == "slip") {  // on the next pin
    const graph::PointId point = now.leads.back().point;
    const graph::PartId part = board_[point].part;
    if (part != graph::kNoPart) {
      const std::vector<graph::PointId>& pins = board_[part].pins;
      const auto at = std::find(pins.begin(), pins.end(), point);
      wrong_[now.leads.back().channel] = at + 1 == pins.end() ? pins.front() : *(at + 1);
    }
  }
  if (reached == Reached::yes) {
    put(now);
  }
  return reached;
}

bool KeyedBench::put_right(const graph::PlanMove& move, const graph::Slip& slip,
                           const Hookup& now) {
  const bool was_wrong = TerminalPerson::put_right(move, slip, now);
  if (was_wrong) {
    for (const Lead& lead : move.leads) {
      wrong_.erase(lead.channel);
    }
    put(now);
  }
  return was_wrong;
}

bool KeyedBench::touch_again(graph::NetId instead, const Hookup& now) {
  const bool slipped = TerminalPerson::touch_again(instead, now);
  if (slipped) {
    wrong_.erase(now.leads.back().channel);
    put(now);
  }
  return slipped;
}

void KeyedBench::put(const Hookup& now) {
  Hookup really;
  for (const Lead& lead : now.leads) {
    const auto wrong = wrong_.find(lead.channel);
    if (wrong == wrong_.end()) {
      really.leads.push_back(lead);
    } else if (wrong->second) {
      really.leads.push_back({lead.channel, *wrong->second});
    }
  }
  bench_.touch(really);
}

/// In the first way that there is.
void KeyedBench::slip(const graph::PlanMove& move) {
  const std::vector<graph::Slip> ways = graph::possible_slips(board_, fixtures_, move, 0);
  if (ways.empty()) {
    return;
  }
  for (const Lead& lead : move.leads) {
    wrong_[lead.channel] = std::nullopt;
  }
  for (const Lead& lead : ways.front().leads) {
    wrong_[lead.channel] = lead.point;
  }
}

}  // namespace padwalk::tools
