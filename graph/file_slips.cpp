// SPDX-License-Identifier: MIT
#include "graph/file_slips.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <set>

#include "graph/comparison.hpp"
#include "graph/slip_matching.hpp"
#include "graph/values.hpp"

namespace padwalk::graph {

namespace {

constexpr double kUsualTolerance = 0.05;
constexpr std::size_t kNoHome = SlipMatching::kNone;
using SlipCell = SlipMatching::Cell;

/// Where points go: from a net (kNoHome: none) to a net that is there, a new one, or none.
class PointMoves {
 public:
  explicit PointMoves(const Board& now) : now_(now) {}

  void move(PointId point, const std::string& to) { to_[point] = to; }
  bool empty() const { return to_.empty(); }

  /// A name that no net has.
  std::string new_name(const std::vector<PointId>& points) const {
    const Point& first = now_[points.front()];
    const std::string base =
        first.net != kNoNet && now_[first.net].listed ? now_[first.net].name : "N-" + first.name;
    if (!taken(base)) {
      return base;
    }
    std::size_t number = 2;
    while (taken(fmt::format("{}-{}", base, number))) {
      ++number;
    }
    return fmt::format("{}-{}", base, number);
  }

  /// `emptied`: nets of which all points that were measured go elsewhere; what else is in them goes
  /// along. Nothing stays of a net without points.
  SlipCorrection correction(const std::set<std::size_t>& emptied) {
    SlipCorrection result;
    std::map<NetId, std::vector<PointId>> leaving;
    for (const auto& [point, to] : to_) {
      if (now_[point].net != kNoNet && now_[now_[point].net].listed) {
        leaving[now_[point].net].push_back(point);
      }
    }
    for (const auto& [net, points] : leaving) {
      const Net& all = now_.nets()[index(net)];
      if (emptied.count(index(net)) == 0 && points.size() < all.points.size()) {
        for (const PointId point : points) {
          result.correction.taken_out.push_back({all.name, now_[point].name});
        }
        continue;
      }
      if (all.has_route) {
        result.why_not = fmt::format(
            "net {} would go, and the file knows the way of its copper: put its route into the "
            "other net by hand",
            all.name);
        return result;
      }
      const std::string to = to_.at(points.front());
      for (const PointId point : all.points) {
        to_.emplace(point, to);
      }
      result.correction.removed_nets.push_back(all.name);
    }
    std::map<std::string, std::vector<std::string>> added;
    for (const auto& [point, to] : to_) {
      if (!to.empty()) {
        added[to].push_back(now_[point].name);
      }
    }
    for (auto& [net, members] : added) {
      result.correction.additions.push_back({net, NetRole::signal, std::move(members)});
    }
    return result;
  }

 private:
  bool taken(const std::string& name) const {
    return now_.find_net(name) ||
           std::any_of(to_.begin(), to_.end(), [&](const auto& one) { return one.second == name; });
  }

  const Board& now_;
  std::map<PointId, std::string> to_;
};

/// What each finding asks to be moved, in one set of moves.
class SlipMoves {
 public:
  SlipMoves(const Board& now, const SlipMatching& matching)
      : now_(now), matching_(matching), moves_(now) {}

  /// Of a net in pieces: what is not with its conductor leaves it.
  void part(const std::vector<std::size_t>& conductors) {
    std::map<std::size_t, std::vector<const SlipCell*>> by_net;
    for (const SlipCell& cell : matching_.cells()) {
      const bool asked =
          std::find(conductors.begin(), conductors.end(), cell.conductor) != conductors.end();
      if (asked && cell.net != kNoHome) {
        by_net[cell.net].push_back(&cell);
      }
    }
    for (const auto& [net, cells] : by_net) {
      if (cells.size() < 2) {
        continue;
      }
      const auto largest = std::max_element(
          cells.begin(), cells.end(),
          [](const SlipCell* a, const SlipCell* b) { return a->points.size() < b->points.size(); });
      const std::size_t home = matching_.home_of_net(net);
      const std::size_t stays = home != kNoHome ? home : (*largest)->conductor;
      for (const SlipCell* cell : cells) {
        if (cell->conductor != stays) {
          move(*cell);
        }
      }
    }
  }

  /// Of a conductor that several nets share: what is not in its net comes into it.
  void join(std::size_t conductor) {
    std::vector<PointId> all;
    std::size_t cells = 0;
    for (const SlipCell& cell : matching_.cells()) {
      if (cell.conductor == conductor) {
        all.insert(all.end(), cell.points.begin(), cell.points.end());
        ++cells;
      }
    }
    if (cells < 2 && !(cells == 1 && all.size() > 1 && now_[all.front()].net == kNoNet)) {
      return;
    }
    for (const SlipCell& cell : matching_.cells()) {
      if (cell.conductor == conductor && (cell.net == kNoHome || cell.net != target(conductor))) {
        move(cell);
      }
    }
  }

  void exchange(const NetMember& a, const NetMember& b) {
    moves_.move(*now_.find_point(a.point), b.net);
    moves_.move(*now_.find_point(b.point), a.net);
  }

  SlipCorrection correction() {
    // Nets that keep no conductor, of which all that was measured moves.
    std::set<std::size_t> emptied;
    std::set<std::size_t> keep;
    for (const SlipCell& cell : matching_.cells()) {
      if (cell.net != kNoHome) {
        (moved_.count(&cell) != 0 ? emptied : keep).insert(cell.net);
      }
    }
    std::set<std::size_t> gone;
    std::set_difference(emptied.begin(), emptied.end(), keep.begin(), keep.end(),
                        std::inserter(gone, gone.end()));
    return moves_.correction(gone);
  }

 private:
  std::size_t target(std::size_t conductor) const { return matching_.home_of_conductor(conductor); }

  void move(const SlipCell& cell) {
    if (!moved_.insert(&cell).second) {
      return;
    }
    const std::size_t home = target(cell.conductor);
    std::string to;
    if (home != kNoHome && home != cell.net) {
      to = now_.nets()[home].name;
    } else {
      // All of a conductor without a net go to the same new one; a point by itself needs none.
      std::string& name = new_nets_[cell.conductor];
      std::size_t points = 0;
      for (const SlipCell& other : matching_.cells()) {
        points += other.conductor == cell.conductor ? other.points.size() : 0;
      }
      if (name.empty() && points > 1) {
        name = moves_.new_name(cell.points);
      }
      to = name;
    }
    for (const PointId point : cell.points) {
      moves_.move(point, to);
    }
  }

  const Board& now_;
  const SlipMatching& matching_;
  PointMoves moves_;
  std::set<const SlipCell*> moved_;
  std::map<std::size_t, std::string> new_nets_;  ///< by conductor
};

/// The value that a part that reads wrong should have in the file, or why there is none.
std::string value_or_why(const Board& board, const Finding& finding,
                         std::optional<PartValue>& value) {
  const PartFault& fault = *finding.fault;
  const Part& part = board[fault.part];
  if (part.kind != PartKind::resistor && part.kind != PartKind::network) {
    return fmt::format("the file holds no ohms of a {}: change by hand what {} is",
                       word_for(part.kind), part.name);
  }
  if (!std::isfinite(finding.ohm) || finding.ohm <= 0) {
    return fmt::format(
        "{} reads as nothing that a value could be: if it is not there, take it out "
        "of parts and nets by hand",
        part.name);
  }
  if (fault.candidates.size() > 1) {
    std::vector<std::string> names;
    for (const PartId candidate : fault.candidates) {
      names.push_back(board[candidate].name);
    }
    return fmt::format("any of {} would show this: meter them and write the value by hand",
                       fmt::join(names, ", "));
  }
  double share = kUsualTolerance;
  for (const PartDescription& described : board.description().parts) {
    if (described.name == part.name) {
      share = parse_value(described.tolerance, Unit::fraction).value_or(share);
    }
  }
  value = PartValue{part.name, preferred_ohm_text(finding.ohm, finding.uncertainty_ohm, share)};
  return {};
}

}  // namespace

FileSlips::FileSlips(const Board& board, const Limits& limits, const Measured& measured,
                     const Findings& findings) {
  // What conducted, and not the pieces of the findings: these take what was never read against each
  // other for one.
  const Pieces pieces = Comparison(board, limits, measured).pieces;
  std::map<std::uint32_t, std::size_t> number;
  const auto of_points = [](const Finding& finding) {
    return (finding.kind == FindingKind::open || finding.kind == FindingKind::short_circuit ||
            finding.kind == FindingKind::part) &&
           !finding.pieces.empty();
  };
  for (const Finding& finding : findings.findings) {
    for (const std::vector<PointId>& piece : finding.pieces) {
      for (const PointId point : piece) {
        if (of_points(finding) && number.emplace(pieces[point], number.size()).second) {
          conductors_.emplace_back();
          for (const PointId member : pieces.members[pieces[point]]) {
            conductors_.back().push_back(board[member].name);
          }
        }
      }
    }
  }
  std::map<std::string, std::size_t> by_id;
  for (const Finding& finding : findings.findings) {
    One one;
    one.kind = finding.kind;
    one.with = {findings_.size()};
    by_id[finding.id] = findings_.size();
    if (of_points(finding)) {
      std::set<std::size_t> conductors;
      for (const std::vector<PointId>& piece : finding.pieces) {
        for (const PointId point : piece) {
          conductors.insert(number.at(pieces[point]));
        }
      }
      one.conductors.assign(conductors.begin(), conductors.end());
    } else if (finding.kind == FindingKind::part && finding.fault &&
               finding.fault->part != kNoPart) {
      one.why_not = value_or_why(board, finding, one.value);
    } else if (finding.kind == FindingKind::leakage) {
      for (const PointId point : finding.in_no_net) {
        one.leaks_to.push_back(board[point].name);
      }
      one.why_not =
          "a leak is no copper: if a part is meant to be there, write it into the file by hand";
    } else {
      one.why_not = "what comes and goes or conducts badly is nothing that a file could say";
    }
    findings_.push_back(std::move(one));
  }
  for (const Cause& cause : findings.causes) {
    std::vector<std::size_t> with;
    for (const std::string& id : cause.findings) {
      with.push_back(by_id.at(id));
    }
    for (const std::size_t i : with) {
      findings_[i].with = with;
      if (cause.exchanged) {
        const auto [a, b] = *cause.exchanged;
        findings_[i].exchanged = {{board[board[a].net].name, board[a].name},
                                  {board[board[b].net].name, board[b].name}};
      }
    }
  }
}

bool FileSlips::agrees(std::size_t finding, const Board& now) const {
  const One& one = findings_[finding];
  if (one.value) {
    const auto& parts = now.description().parts;
    const auto part = std::find_if(parts.begin(), parts.end(), [&](const PartDescription& each) {
      return each.name == one.value->part;
    });
    return part != parts.end() && part->value == one.value->value;
  }
  if (one.conductors.empty()) {
    return !one.leaks_to.empty() &&
           std::all_of(one.leaks_to.begin(), one.leaks_to.end(), [&](const std::string& name) {
             const auto point = now.find_point(name);
             return point && now[*point].net != kNoNet;
           });
  }
  std::map<NetId, std::size_t> conductor_of;
  for (const std::size_t c : one.conductors) {
    std::set<NetId> nets;
    std::size_t alone = 0;
    for (const std::string& name : conductors_[c]) {
      const auto point = now.find_point(name);
      const NetId net = point ? now[*point].net : kNoNet;
      alone += net == kNoNet ? 1 : 0;
      if (net != kNoNet) {
        nets.insert(net);
        // An open is gone once its pieces share no net.
        if (one.kind == FindingKind::open && conductor_of.emplace(net, c).first->second != c) {
          return false;
        }
      }
    }
    if (one.kind != FindingKind::open && nets.size() + alone != 1) {
      return false;
    }
  }
  return true;
}

SlipCorrection FileSlips::correct(std::size_t finding, const Board& now) const {
  const One& one = findings_[finding];
  if (one.value) {
    SlipCorrection result;
    if (!agrees(finding, now)) {
      result.correction.values.push_back(*one.value);
    }
    return result;
  }
  if (!one.why_not.empty()) {
    return {{}, agrees(finding, now) ? "" : one.why_not};
  }
  std::vector<std::size_t> conductors;
  for (const std::size_t i : one.with) {
    conductors.insert(conductors.end(), findings_[i].conductors.begin(),
                      findings_[i].conductors.end());
  }
  const SlipMatching matching(now, conductors_, conductors);
  SlipMoves moves(now, matching);
  const auto in_its_net = [&](const NetMember& member) {
    const auto point = now.find_point(member.point);
    return point && now[*point].net != kNoNet && now[*point].net == now.find_net(member.net);
  };
  if (one.exchanged && in_its_net(one.exchanged->first) && in_its_net(one.exchanged->second)) {
    moves.exchange(one.exchanged->first, one.exchanged->second);
    return moves.correction();
  }
  for (const std::size_t i : one.with) {
    if (findings_[i].kind == FindingKind::open) {
      moves.part(findings_[i].conductors);
    } else {
      for (const std::size_t c : findings_[i].conductors) {
        moves.join(c);
      }
    }
  }
  return moves.correction();
}

}  // namespace padwalk::graph
