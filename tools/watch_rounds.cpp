// SPDX-License-Identifier: MIT
#include "tools/watch_rounds.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

constexpr std::size_t kRoundPoints = 6;

bool in_several_pieces(const graph::Finding& finding) {
  return finding.pieces.size() > 1;
}

}  // namespace

std::map<std::string, WatchRounds::State> WatchRounds::states(const graph::Findings& found) const {
  const graph::Board& board = measuring_.board;
  std::map<std::string, State> all;
  for (const graph::Finding& finding : found.findings) {
    if (in_several_pieces(finding)) {
      const std::string name = "net " + board[finding.nets.front()].name;
      all[name] = {finding.nets.front(),
                   fmt::format("{}: {} left {}", name,
                               listed(names_of(board, finding.pieces.back()), kRoundPoints),
                               listed(names_of(board, finding.pieces.front()), kRoundPoints))};
    } else if (finding.kind == graph::FindingKind::short_circuit) {
      std::vector<std::string> names = names_of(board, finding.nets);
      const std::vector<std::string> points = names_of(board, finding.in_no_net);
      names.insert(names.end(), points.begin(), points.end());
      const std::string name = fmt::format("{}", fmt::join(names, " and "));
      all[name] = {graph::kNoNet, name + " are joined"};
    }
  }
  for (const graph::PointNote& note : found.no_contact) {
    const graph::NetId net = board[note.point].net;
    const std::string& point = board[note.point].name;
    const std::string name = net == graph::kNoNet ? "point " + point : "net " + board[net].name;
    all.emplace(name, State{net, fmt::format("{}: {} conducts to nothing", name, point)});
  }
  return all;
}

bool WatchRounds::round(double at_s) {
  SweepReport one;
  one.limits = report_.run.limits;
  one.hookup = report_.run.hookup;
  HookupSweep sweep(measuring_, one.hookup, {}, one);
  report_.rounds == 0 ? sweep.read() : sweep.read_unmoved();
  if (!sweep.finish()) {
    report_.run.refused = one.refused;
    report_.run.live = one.live;
    report_.run.tied_ohm = one.tied_ohm;
    report_.run.power_limit_volt = one.power_limit_volt;
    report_.run.failure = one.failure;
    return false;
  }
  std::map<std::string, State> now =
      states(graph::find_differences(measuring_.board, one.limits, one.measured));
  if (report_.rounds == 0) {
    for (const auto& [name, state] : now) {
      report_.before.push_back(state.text);
    }
  } else {
    for (const auto& [name, state] : now) {
      const auto was = last_.find(name);
      if (was == last_.end() || was->second.text != state.text) {
        report_.changes.push_back({at_s, state.net, state.text});
      }
    }
    for (const auto& [name, state] : last_) {
      if (now.find(name) == now.end()) {
        report_.changes.push_back(
            {at_s, state.net,
             state.net == graph::kNoNet ? name + " are apart again" : name + " is whole again"});
      }
    }
  }
  ++report_.rounds;
  last_ = std::move(now);
  return true;
}

}  // namespace padwalk::tools
