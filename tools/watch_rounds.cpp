// SPDX-License-Identifier: MIT
#include "tools/watch_rounds.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "graph/values.hpp"
#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::NetId;

constexpr std::size_t kRoundPoints = 6;
/// Parts of fewer ohms conduct as copper does, coarsely seen; so does a larger capacitor that
/// fills.
constexpr double kLikeCopperOhm = 500;
constexpr double kFillsFarad = 20e-9;

/// Nets that would seem joined to others by their own parts, or that must be sunk always.
std::set<NetId> conducting_nets(const Board& board) {
  std::set<NetId> nets;
  for (std::size_t i = 0; i < board.nets().size(); ++i) {
    if (board.nets()[i].role != graph::NetRole::signal) {
      nets.insert(NetId{static_cast<std::uint32_t>(i)});
    }
  }
  if (!board.assembled()) {
    return nets;
  }
  for (const graph::PartLink& link : board.part_links()) {
    if (!link.ohm || *link.ohm < kLikeCopperOhm) {
      nets.insert(link.a);
      nets.insert(link.b);
    }
  }
  for (std::size_t i = 0; i < board.parts().size(); ++i) {
    const graph::Part& part = board.parts()[i];
    const auto farad = graph::parse_value(board.description().parts[i].value, graph::Unit::farad);
    const bool fills =
        part.kind == graph::PartKind::capacitor && farad.value_or(kFillsFarad) >= kFillsFarad;
    const bool winding =
        part.kind == graph::PartKind::relay || part.kind == graph::PartKind::transformer;
    if (fills || winding) {
      for (const graph::PointId pin : part.pins) {
        nets.insert(board[pin].net);
      }
    }
  }
  return nets;
}

}  // namespace

WatchRounds::WatchRounds(session::Session& session, const Board& board, graph::Hookup attached,
                         WatchReport& report)
    : session_(session), board_(board), attached_(std::move(attached)), report_(report) {
  const std::set<NetId> conducting = conducting_nets(board);
  std::map<NetId, std::size_t> of_net;
  for (const graph::Lead& lead : report.run.hookup.leads) {
    const NetId net = board[lead.point].net;
    auto known = net == graph::kNoNet ? of_net.end() : of_net.find(net);
    if (known == of_net.end()) {
      const bool against_rest = net == graph::kNoNet || conducting.count(net) == 0;
      nets_.push_back({{}, against_rest});
      points_.emplace_back();
      known = net == graph::kNoNet ? known : of_net.emplace(net, nets_.size() - 1).first;
    }
    const std::size_t at = known == of_net.end() ? nets_.size() - 1 : known->second;
    nets_[at].channels.push_back(lead.channel);
    points_[at].push_back(lead.point);
  }
}

std::map<std::string, WatchRounds::State> WatchRounds::states(const session::Glance& seen) const {
  std::map<std::string, State> all;
  std::vector<std::string> joined;
  for (std::size_t i = 0; i < nets_.size(); ++i) {
    const std::vector<graph::PointId>& points = points_[i];
    const NetId net = board_[points.front()].net;
    const std::string name =
        net == graph::kNoNet ? "point " + board_[points.front()].name : "net " + board_[net].name;
    std::vector<graph::PointId> left;
    for (std::size_t other = 0; other < seen.open[i].size(); ++other) {
      if (seen.open[i][other]) {
        left.push_back(points[other + 1]);
      }
    }
    if (!left.empty()) {
      all[name] = {net,
                   fmt::format("{}: {} left {}", name, listed(names_of(board_, left), kRoundPoints),
                               board_[points.front()].name)};
    }
    if (seen.joined[i]) {
      joined.push_back(name);
    }
  }
  if (!joined.empty()) {
    const std::string names = listed(joined, kRoundPoints);
    all[names] = {graph::kNoNet, joined.size() > 1 ? names + " are joined"
                                                   : names + " is joined to a net that has parts"};
  }
  return all;
}

bool WatchRounds::check_power() {
  std::vector<session::Channel> channels;
  for (const graph::Lead& lead : attached_.leads) {
    channels.push_back(lead.channel);
  }
  const session::PowerCheck check = session_.power_check(channels);
  report_.run.power_readings += check.readings;
  report_.run.power_limit_volt = check.limit_volt;
  if (!check.passed) {
    note_live(check, attached_, report_.run);
  }
  return check.passed;
}

bool WatchRounds::round(double at_s) {
  if (session_.needs_power_check() && !check_power()) {
    return false;
  }
  std::map<std::string, State> now;
  try {
    now = states(session_.glance(nets_));
  } catch (const session::NotAtRest& live) {
    note_live(live.check, attached_, report_.run);
    return false;
  }
  for (const auto& [name, state] : now) {
    const auto was = last_.find(name);
    if (report_.rounds == 0) {
      report_.before.push_back(state.text);
    } else if (was == last_.end() || was->second.text != state.text) {
      report_.changes.push_back({at_s, state.net, state.text});
    }
  }
  for (const auto& [name, state] : last_) {
    if (now.find(name) == now.end()) {
      const bool one = state.net != graph::kNoNet;
      report_.changes.push_back(
          {at_s, state.net, name + (one ? " is whole again" : ": apart again")});
    }
  }
  ++report_.rounds;
  last_ = std::move(now);
  return true;
}

}  // namespace padwalk::tools
