// SPDX-License-Identifier: MIT
#include "tools/confirm.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <numbers>
#include <set>

#include "graph/copper.hpp"
#include "graph/neighbours.hpp"
#include "graph/verdict.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::NetId;
using graph::PlaceId;
using graph::PointId;

/// An iron and a drop of solder reach two pins of a DIP; common practice, no source.
constexpr double kIronMm = 5.2;
/// Of supplies and grounds, which are everywhere, so far from an end.
constexpr double kSupplyMm = 10;
/// The usual bench jumper; common practice, no source.
constexpr int kUsualGauge = 30;
/// Nothing below it is called a bad joint: contacts of leads alone may differ by a fifth of it.
constexpr double kBadJointOhm = 0.5;

std::optional<graph::Xy> xy_of(const Board& board, PlaceId place) {
  const PointId point = board[place].point;
  return point == graph::kNoPoint ? std::nullopt : board[point].xy;
}

/// To the nearer end of the joint; infinite without positions.
double mm_to_joint(const Board& board, const Joint& joint, PointId point) {
  double least = std::numeric_limits<double>::infinity();
  for (const PlaceId end : {joint.a, joint.b}) {
    if (const auto at = xy_of(board, end); at && board[point].xy) {
      least = std::min(least, distance_mm(*at, *board[point].xy));
    }
  }
  return least;
}

PlaceId joint_end(const Board& board, const std::string& name) {
  const std::vector<PlaceId> found = board.find_solder_places(name);
  if (found.size() == 1) {
    return found.front();
  }
  throw UsageError(
      found.empty()
          ? fmt::format("the board has no point named '{}'; names are as in its file", name)
          : fmt::format("{} has several sides; name one, such as {}", name,
                        board.place_name(found.front())));
}

/// Nets to read besides the joint's own, the nearest to an end first.
std::vector<NetId> nets_around(const Board& board, const Joint& joint) {
  std::map<NetId, double> mm;
  for (const auto& [a, b] : graph::neighbour_nets(board, graph::NeighbourRules())) {
    if (a == joint.net || b == joint.net) {
      mm[a == joint.net ? b : a] = std::numeric_limits<double>::infinity();
    }
  }
  for (std::size_t n = 0; n < board.points().size(); ++n) {
    const PointId point{static_cast<std::uint32_t>(n)};
    const double far = mm_to_joint(board, joint, point);
    const NetId net = board[point].net;
    if (net == graph::kNoNet || net == joint.net) {
      continue;
    }
    const auto known = mm.find(net);
    if (known != mm.end()) {
      known->second = std::min(known->second, far);
    } else if (far <= kIronMm) {
      mm[net] = far;
    }
  }
  std::vector<NetId> nets;
  for (const auto& [net, unused] : mm) {
    nets.push_back(net);
  }
  std::stable_sort(nets.begin(), nets.end(), [&](NetId a, NetId b) { return mm[a] < mm[b]; });
  return nets;
}

/// Of a supply: what is near an end, and one more to hold it against.
std::vector<PointId> near_ends(const Board& board, const Joint& joint, std::vector<PointId> all) {
  std::stable_sort(all.begin(), all.end(), [&](PointId a, PointId b) {
    return mm_to_joint(board, joint, a) < mm_to_joint(board, joint, b);
  });
  const auto beyond = std::find_if(all.begin(), all.end(), [&](PointId point) {
    return mm_to_joint(board, joint, point) > kSupplyMm;
  });
  if (beyond != all.end()) {
    all.erase(std::next(beyond), all.end());
  }
  return all;
}

/// Pieces of those points alone that are in `attached`, without empty ones, in one order.
std::vector<std::vector<std::string>> pieces_among(
    const std::vector<std::vector<std::string>>& pieces, const std::set<std::string>& attached) {
  std::vector<std::vector<std::string>> kept;
  for (const std::vector<std::string>& piece : pieces) {
    std::vector<std::string> some;
    std::copy_if(piece.begin(), piece.end(), std::back_inserter(some),
                 [&](const std::string& name) { return attached.count(name) != 0; });
    if (!some.empty()) {
      std::sort(some.begin(), some.end());
      kept.push_back(std::move(some));
    }
  }
  std::sort(kept.begin(), kept.end());
  return kept;
}

/// A net by itself is not whole.
bool in_pieces(const graph::Finding& finding) {
  return finding.kind == graph::FindingKind::open ||
         finding.kind == graph::FindingKind::high_resistance ||
         (finding.kind == graph::FindingKind::intermittent && finding.nets.size() == 1);
}

EarlierFinding named(const Board& board, const graph::Finding& finding) {
  EarlierFinding one;
  one.id = finding.id;
  one.kind = graph::finding_kind_name(finding.kind);
  one.nets = names_of(board, finding.nets);
  for (const PointId point : finding.in_no_net) {
    one.nets.push_back(board[point].name);
  }
  std::sort(one.nets.begin(), one.nets.end());
  if (in_pieces(finding)) {
    for (const std::vector<PointId>& piece : finding.pieces) {
      one.pieces.push_back(names_of(board, piece));
    }
  }
  return one;
}

}  // namespace

Joint find_joint(const Board& board, const std::string& from, const std::string& to) {
  Joint joint;
  joint.a = joint_end(board, from);
  joint.b = joint_end(board, to);
  joint.net = board[joint.a].net;
  if (joint.a == joint.b) {
    throw UsageError(fmt::format("{} and {} are one place; name two", from, to));
  }
  if (joint.net == graph::kNoNet || board[joint.b].net != joint.net) {
    const auto where = [&](PlaceId place) {
      return board[place].net == graph::kNoNet
                 ? fmt::format("{} is in no net", board.place_name(place))
                 : fmt::format("{} is in net {}", board.place_name(place),
                               board[board[place].net].name);
    };
    throw UsageError(fmt::format(
        "{} and {}: a joint between them would make one net of two; is a name mistyped?",
        where(joint.a), where(joint.b)));
  }
  return joint;
}

graph::WireDescription described(const Board& board, const Joint& joint) {
  graph::WireDescription wire;
  const std::vector<graph::WireDescription>& there = board.description().wires;
  for (std::size_t n = 1; wire.name.empty(); ++n) {
    const std::string name = fmt::format("W{}", n);
    if (std::none_of(there.begin(), there.end(),
                     [&](const graph::WireDescription& other) { return other.name == name; })) {
      wire.name = name;
    }
  }
  wire.between = {graph::Reference{board.place_name(joint.a), {}},
                  graph::Reference{board.place_name(joint.b), {}}};
  wire.gauge = joint.gauge;
  wire.length_mm = joint.length_mm;
  return wire;
}

JointHookup leads_for(const Board& board, const Joint& joint,
                      const std::vector<graph::Lead>& before, std::size_t most) {
  std::map<NetId, std::vector<PointId>> holdable;
  for (const PointId point : graph::default_hookup(board).points()) {
    holdable[board[point].net].push_back(point);
  }
  JointHookup chosen;
  std::vector<PointId> points = holdable[joint.net];
  if (points.size() < 2 || points.size() > most) {
    throw UsageError(fmt::format(
        "net {} has {} that a lead can hold on; {}", board[joint.net].name,
        count_text(points.size(), "point"),
        points.size() < 2 ? "two are needed" : fmt::format("the tester has {} channels", most)));
  }
  for (const PointId point : holdable[graph::kNoNet]) {
    if (mm_to_joint(board, joint, point) <= kIronMm && points.size() < most) {
      points.push_back(point);
    }
  }
  for (const NetId net : nets_around(board, joint)) {
    std::vector<PointId> more = holdable[net];
    if (board[net].role != graph::NetRole::signal) {
      more = near_ends(board, joint, std::move(more));
    }
    if (points.size() + more.size() > most) {
      chosen.left_out.push_back(net);
    } else {
      points.insert(points.end(), more.begin(), more.end());
    }
  }
  std::set<std::uint16_t> used;
  for (const PointId point : points) {
    const auto lead = std::find_if(before.begin(), before.end(),
                                   [&](const auto& one) { return one.point == point; });
    if (lead != before.end() && lead->channel <= most && used.insert(lead->channel).second) {
      chosen.hookup.leads.push_back({lead->channel, point});
    }
  }
  chosen.as_before = chosen.hookup.leads.size() == points.size();
  if (!chosen.as_before) {
    chosen.hookup.leads.clear();
    for (const PointId point : points) {
      chosen.hookup.leads.push_back(
          {static_cast<std::uint16_t>(chosen.hookup.leads.size() + 1), point});
    }
  }
  return chosen;
}

EarlierSweep earlier_sweep(std::string_view json, const std::string& file) {
  EarlierSweep sweep;
  sweep.at = file;
  try {
    const nlohmann::json all = nlohmann::json::parse(json);
    if (all.at("padwalk") != "sweep/1") {
      throw graph::BadFile(fmt::format("{}: it is {}; expected what 'padwalk sweep --json' writes",
                                       file, all.at("padwalk").dump()));
    }
    for (const nlohmann::json& finding : all.at("findings")) {
      EarlierFinding one;
      one.id = finding.at("id");
      one.kind = finding.at("kind");
      one.nets = finding.contains("net") ? std::vector<std::string>{finding.at("net")}
                                         : finding.at("nets").get<std::vector<std::string>>();
      for (const std::string& point : finding.value("in_no_net", std::vector<std::string>())) {
        one.nets.push_back(point);
      }
      std::sort(one.nets.begin(), one.nets.end());
      one.pieces = finding.value("pieces", one.pieces);
      sweep.findings.push_back(std::move(one));
    }
  } catch (const nlohmann::json::exception&) {
    throw graph::BadFile(
        fmt::format("{}: it cannot be read; expected what 'padwalk sweep --json' writes", file));
  }
  return sweep;
}

std::optional<JointOhms> joint_ohms(const Board& board, const Joint& joint,
                                    const graph::Hookup& hookup) {
  const graph::CopperOhms copper(board);
  const PointId a = board[joint.a].point;
  const PointId b = board[joint.b].point;
  JointOhms ohms;
  // Each end's own lead, or the nearest one that is not nearer to the other end.
  const auto nearest = [&](PointId end, PointId other) {
    PointId best = graph::kNoPoint;
    for (const graph::Lead& lead : hookup.leads) {
      if (board[lead.point].net == joint.net && lead.point != other &&
          copper.between(lead.point, end) <= copper.between(lead.point, other) &&
          (best == graph::kNoPoint ||
           copper.between(lead.point, end) < copper.between(best, end))) {
        best = lead.point;
      }
    }
    return best;
  };
  ohms.from = nearest(a, b);
  ohms.to = nearest(b, a);
  if (ohms.from == graph::kNoPoint || ohms.to == graph::kNoPoint || ohms.from == ohms.to) {
    return std::nullopt;
  }
  std::vector<graph::CopperOhm> parts = {copper.estimate(ohms.from, a),
                                         copper.estimate(b, ohms.to)};
  if (joint.wire) {
    graph::BoardDescription with = board.description();
    with.wires.push_back(described(board, joint));
    graph::Diagnostics diagnostics("the board with the wire");
    const Board wired(std::move(with), diagnostics);
    parts.push_back(graph::CopperOhms(wired)[wired[joint.net].segments.back()].ohm);
  } else {
    parts.push_back(copper.estimate(a, b));
  }
  for (const graph::CopperOhm& part : parts) {
    ohms.expected.ohm += part.ohm;
    ohms.expected.low_ohm += part.low_ohm;
    ohms.expected.high_ohm += part.high_ohm;
  }
  ohms.most_ohm = board[joint.net].role == graph::NetRole::signal
                      ? ohms.expected.high_ohm + kBadJointOhm
                      : std::max(ohms.expected.high_ohm,
                                 graph::good_up_to_ohm(board[joint.net].role, ohms.expected.ohm));
  return ohms;
}

Changes compare_findings(const Board& board, const Joint& joint, const graph::Hookup& hookup,
                         const EarlierSweep* before, const graph::Findings& now) {
  std::set<std::string> attached;
  for (const graph::Lead& lead : hookup.leads) {
    attached.insert(board[lead.point].name);
  }
  Changes changes;
  changes.whole = true;
  std::set<std::string> seen;
  for (std::size_t n = 0; n < now.findings.size(); ++n) {
    const EarlierFinding is = named(board, now.findings[n]);
    const bool same =
        before != nullptr &&
        std::count_if(before->findings.begin(), before->findings.end(), [&](const auto& was) {
          if (was.kind == is.kind && was.nets == is.nets) {
            seen.insert(was.id);  // it may have changed, but is not gone
          }
          return was.kind == is.kind && was.nets == is.nets &&
                 pieces_among(was.pieces, attached) == pieces_among(is.pieces, attached);
        }) > 0;
    if (in_pieces(now.findings[n]) && now.findings[n].nets.front() == joint.net) {
      changes.whole = false;
      changes.as_before = same;
      changes.of_net.push_back(n);
    } else {
      (same ? changes.same : changes.fresh).push_back(n);
    }
  }
  if (!changes.whole) {
    const auto on_net = [&](std::size_t n) {
      const graph::Finding& finding = now.findings[n];
      return finding.kind == graph::FindingKind::short_circuit &&
             std::find(finding.nets.begin(), finding.nets.end(), joint.net) != finding.nets.end();
    };
    std::copy_if(changes.fresh.begin(), changes.fresh.end(), std::back_inserter(changes.wrong_pad),
                 on_net);
  }
  for (const EarlierFinding& was :
       before == nullptr ? std::vector<EarlierFinding>() : before->findings) {
    const bool read = std::all_of(was.nets.begin(), was.nets.end(), [&](const std::string& name) {
      const auto net = board.find_net(name);
      if (!net) {
        return attached.count(name) != 0;  // a point in no net
      }
      return *net != joint.net &&
             std::count_if(hookup.leads.begin(), hookup.leads.end(), [&](const auto& lead) {
               return board[lead.point].net == *net;
             }) >= (was.pieces.empty() ? 1 : 2);
    });
    if (read && seen.count(was.id) == 0 &&
        (was.pieces.empty() || pieces_among(was.pieces, attached).size() > 1)) {
      changes.gone.push_back(was);
    }
  }
  return changes;
}

std::optional<Nearest> nearest_to_joint(const Board& board, const Joint& joint,
                                        const std::vector<PointId>& points) {
  std::optional<Nearest> nearest;
  for (const PlaceId end : {joint.a, joint.b}) {
    for (const PointId point : points) {
      const auto at = xy_of(board, end);
      if (at && board[point].xy && (!nearest || distance_mm(*at, *board[point].xy) < nearest->mm)) {
        nearest = Nearest{point, end, distance_mm(*at, *board[point].xy)};
      }
    }
  }
  return nearest;
}

std::optional<ThinWire> thin_wire(const Board& board, const Joint& joint) {
  if (!joint.wire || board[joint.net].role == graph::NetRole::signal) {
    return std::nullopt;
  }
  const auto mm2 = [](int gauge) {
    const double mm = graph::awg_mm(gauge);
    return std::numbers::pi / 4 * mm * mm;
  };
  const graph::CopperOhms copper(board);
  ThinWire thin;
  thin.wire_mm2 = mm2(joint.gauge.value_or(kUsualGauge));
  for (const graph::SegmentId id : board[joint.net].segments) {
    const double trace_mm2 = copper[id].width_mm * graph::CopperOhms::kFoilMm;
    if (trace_mm2 > thin.trace_mm2) {
      thin.trace_mm2 = trace_mm2;
      thin.width_known = copper[id].width_known;
    }
  }
  thin.enough_gauge = joint.gauge.value_or(kUsualGauge);
  while (thin.enough_gauge > 0 && mm2(thin.enough_gauge) < thin.trace_mm2) {
    --thin.enough_gauge;
  }
  return thin.wire_mm2 < thin.trace_mm2 ? std::optional(thin) : std::nullopt;
}

}  // namespace padwalk::tools
