// SPDX-License-Identifier: MIT
#include "tests/study/random_routes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace padwalk::study {

using namespace padwalk::graph;

void RouteMaker::add(const std::vector<NetPlan>& nets) {
  for (const NetPlan& plan : nets) {
    NetDescription net;
    net.name = plan.name;
    net.role = plan.role;
    std::vector<Member> members = plan.members;
    draws_.shuffle(members);
    std::size_t routed = members.size();
    if (members.size() < 2 || draws_.chance(0.2)) {
      routed = 0;  // members only
    } else if (members.size() > 2 && draws_.chance(0.3)) {
      routed = draws_.from_to(2, members.size() - 1);  // partly known
    }
    if (routed > 1) {
      route(members, routed, net);
    }
    for (std::size_t i = routed; i < members.size(); ++i) {
      net.members.push_back({members[i].name, {}});
    }
    board_.nets.push_back(std::move(net));
  }
}

/// A tree over the first `count` members in which near ones tend to be neighbours; sometimes a
/// loop.
void RouteMaker::route(const std::vector<Member>& members, std::size_t count, NetDescription& net) {
  const auto distance = [](const Member& a, const Member& b) {
    return std::hypot(a.xy.x - b.xy.x, a.xy.y - b.xy.y);
  };
  for (std::size_t i = 1; i < count; ++i) {
    std::size_t nearest = draws_.below(i);
    if (draws_.chance(0.7)) {
      for (std::size_t j = 0; j < i; ++j) {
        if (distance(members[i], members[j]) < distance(members[i], members[nearest])) {
          nearest = j;
        }
      }
    }
    join(members[nearest], members[i], net);
  }
  if (count > 2 && draws_.chance(0.15)) {
    join(members[draws_.below(count - 1)], members[count - 1], net);
  }
}

void RouteMaker::join(const Member& from, const Member& to, NetDescription& net) {
  const bool meet = from.side == Side::unknown || to.side == Side::unknown || from.side == to.side;
  const auto either_side = [&] { return draws_.chance(0.6) ? Side::bottom : Side::top; };
  if (board_.layers == 1 || (meet && draws_.chance(0.7))) {
    const Side fixed = from.side != Side::unknown ? from.side : to.side;
    const Side side = board_.layers == 1       ? Side::bottom
                      : fixed != Side::unknown ? fixed
                                               : either_side();
    ChainDescription chain{side, {{from.name, {}}, {to.name, {}}}, {}};
    // A chain goes on where the last one of its side ended.
    if (!net.route.empty() && net.route.back().side == side &&
        net.route.back().points.back().name == from.name && draws_.chance(0.8)) {
      net.route.back().points.push_back({to.name, {}});
    } else {
      net.route.push_back(chain);
    }
    if (draws_.chance(0.03)) {
      CopperDescription copper;
      copper.between = {Reference{from.name, {}}, Reference{to.name, {}}};
      copper.count = 2;
      board_.copper.push_back(std::move(copper));
    }
    return;
  }
  const Side first = from.side != Side::unknown ? from.side
                     : to.side != Side::unknown ? opposite(to.side)
                                                : either_side();
  const Side second = opposite(first);
  const Xy between{(from.xy.x + to.xy.x) / 2, (from.xy.y + to.xy.y) / 2};
  if (to.side == first) {  // down and up again
    const std::string down = add_via(between, first, second);
    const std::string up = add_via({between.x + 2, between.y}, second, first);
    net.route.push_back({first, {{from.name, {}}, {down, {}}}, {}});
    net.route.push_back({second, {{down, {}}, {up, {}}}, {}});
    net.route.push_back({first, {{up, {}}, {to.name, {}}}, {}});
    return;
  }
  const std::string via = add_via(between, first, second);
  if (draws_.chance(0.5)) {
    net.route.push_back({Side::unknown, {{from.name, {}}, {via, {}}, {to.name, {}}}, {}});
  } else {
    net.route.push_back({first, {{from.name, {}}, {via, {}}}, {}});
    net.route.push_back({second, {{via, {}}, {to.name, {}}}, {}});
  }
}

std::string RouteMaker::add_via(Xy near, Side first, Side second) {
  PointDescription via;
  via.name = fmt::format("V{}", board_.points.size() + 1);
  via.xy = Xy{std::round(near.x * 10 + draws_.between(-20, 20)) / 10,
              std::round(near.y * 10 + draws_.between(-20, 20)) / 10};
  via.via = {first, second};
  if (draws_.chance(0.05)) {
    via.access = {Access::clip};
  }
  board_.points.push_back(std::move(via));
  return board_.points.back().name;
}

}  // namespace padwalk::study
