// SPDX-License-Identifier: MIT
#include "graph/loose_plan.hpp"

#include <algorithm>
#include <cassert>
#include <iterator>
#include <numeric>
#include <set>
#include <utility>

namespace padwalk::graph {

namespace {

std::size_t common(const Block& a, const Block& b) {
  std::size_t count = 0;
  for (auto i = a.begin(), j = b.begin(); i != a.end() && j != b.end();) {
    if (*i == *j) {
      ++count;
      ++i;
      ++j;
    } else {
      ++(*i < *j ? i : j);
    }
  }
  return count;
}

constexpr std::uint32_t kNever = UINT32_MAX;

}  // namespace

std::size_t LoosePlan::clips() const {
  std::size_t clips = 0;
  for (std::size_t i = 0; i < hookups.size(); ++i) {
    clips += hookups[i].size() - (i == 0 ? 0 : common(hookups[i - 1], hookups[i]));
  }
  return clips;
}

double LoosePlan::seconds(const HandTimes& times) const {
  return static_cast<double>(clips()) * times.lead_s +
         static_cast<double>(hookups.size()) * times.hookup_s;
}

std::size_t fewest_clips_bound(std::size_t v, std::size_t k) {
  assert(k >= 2 && k <= v);
  const std::size_t pairs = v * (v - 1) / 2 - k * (k - 1) / 2;
  return std::max(v, k + (pairs + k - 2) / (k - 1));
}

LoosePlan order_by_overlap(Blocks hookups) {
  const std::size_t count = hookups.size();
  std::vector<std::vector<std::size_t>> shared(count, std::vector<std::size_t>(count));
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      shared[i][j] = shared[j][i] = common(hookups[i], hookups[j]);
    }
  }
  std::vector<std::size_t> best;
  std::size_t most = 0;
  constexpr std::size_t kStarts = 8;
  for (std::size_t start = 0; start < count; start += std::max<std::size_t>(1, count / kStarts)) {
    std::vector<std::size_t> order = {start};
    std::vector<bool> used(count);
    used[start] = true;
    while (order.size() < count) {
      std::size_t next = count;
      for (std::size_t i = 0; i < count; ++i) {
        if (!used[i] && (next == count || shared[order.back()][i] > shared[order.back()][next])) {
          next = i;
        }
      }
      used[next] = true;
      order.push_back(next);
    }
    // A stretch the other way round, as long as it keeps more on.
    const auto at = [&](std::size_t i, std::size_t j) { return shared[order[i]][order[j]]; };
    for (bool better = true; better;) {
      better = false;
      for (std::size_t i = 0; i < count; ++i) {
        for (std::size_t j = i + 1; j < count; ++j) {
          const std::size_t now = (i > 0 ? at(i - 1, i) : 0) + (j + 1 < count ? at(j, j + 1) : 0);
          const std::size_t then = (i > 0 ? at(i - 1, j) : 0) + (j + 1 < count ? at(i, j + 1) : 0);
          if (then > now) {
            std::reverse(order.begin() + static_cast<std::ptrdiff_t>(i),
                         order.begin() + static_cast<std::ptrdiff_t>(j) + 1);
            better = true;
          }
        }
      }
    }
    std::size_t kept = 0;
    for (std::size_t i = 1; i < count; ++i) {
      kept += at(i - 1, i);
    }
    if (best.empty() || kept > most) {
      best = std::move(order);
      most = kept;
    }
  }
  LoosePlan plan;
  for (const std::size_t i : best) {
    plan.hookups.push_back(std::move(hookups[i]));
  }
  return plan;
}

LoosePlan hold_and_pass(std::size_t v, std::size_t k, std::size_t moving) {
  assert(k >= 2 && moving >= 1 && moving <= k / 2);
  LoosePlan plan;
  std::vector<std::uint32_t> left(v);
  std::iota(left.begin(), left.end(), 0u);
  while (!left.empty()) {
    const std::size_t held = std::min(left.size(), k - moving);
    const auto batches = left.begin() + static_cast<std::ptrdiff_t>(held);
    for (std::size_t at = held; at < left.size() || at == held; at += moving) {
      // The last few share their hookup with those before, which may as well stay on.
      const std::size_t end = std::min(at + moving, left.size());
      const std::size_t begin = std::max(held, end - std::min(end, moving));
      Block hookup(left.begin(), batches);
      hookup.insert(hookup.end(), left.begin() + static_cast<std::ptrdiff_t>(begin),
                    left.begin() + static_cast<std::ptrdiff_t>(end));
      std::sort(hookup.begin(), hookup.end());
      plan.hookups.push_back(std::move(hookup));
    }
    if (held + moving >= left.size()) {
      break;  // all that is left was together
    }
    left.erase(left.begin(), batches);
    const auto stays = static_cast<std::ptrdiff_t>(std::min(moving, left.size()));
    std::rotate(left.begin(), left.end() - stays, left.end());
  }
  return plan;
}

LoosePlan plan_all_pairs(std::size_t v, std::size_t k, const HandTimes& times) {
  LoosePlan best = order_by_overlap(cover_pairs(v, k));
  const auto offer = [&](LoosePlan plan) {
    if (plan.seconds(times) < best.seconds(times)) {
      best = std::move(plan);
    }
  };
  for (std::size_t moving = 1; v > k && moving <= k / 2; ++moving) {
    offer(hold_and_pass(v, k, moving));
  }
  return best;
}

std::size_t Pass::again() const {
  return static_cast<std::size_t>(
      std::count_if(moves.begin(), moves.end(), [](const PassMove& move) { return move.again; }));
}

Pass pass_neighbours(std::span<const std::size_t> points,
                     std::span<const std::pair<std::uint32_t, std::uint32_t>> neighbours,
                     std::size_t max_leads) {
  assert(max_leads >= 1);
  const auto count = static_cast<std::uint32_t>(points.size());
  std::vector<std::set<std::uint32_t>> beside(count);
  for (const auto& [a, b] : neighbours) {
    assert(a < count && b < count && a != b);
    beside[a].insert(b);
    beside[b].insert(a);
  }
  // When it is needed next, after net `now` has come.
  const auto needed = [&](std::uint32_t net, std::uint32_t now) {
    const auto next = beside[net].upper_bound(now);
    return next == beside[net].end() ? kNever : *next;
  };
  Pass pass;
  std::set<std::uint32_t> held;
  std::vector<std::uint32_t> released;
  const auto move = [&](std::uint32_t net, std::size_t point, bool stays, bool again) {
    pass.moves.push_back({net, point, stays, again, std::exchange(released, {})});
    if (stays) {
      held.insert(net);
      pass.leads = std::max(pass.leads, held.size());
    }
  };
  const auto release_if = [&](auto doomed) {
    for (auto net = held.begin(); net != held.end();) {
      if (doomed(*net)) {
        released.push_back(*net);
        net = held.erase(net);
      } else {
        ++net;
      }
    }
  };
  for (std::uint32_t net = 0; net < count; ++net) {
    release_if([&](std::uint32_t one) { return needed(one, net - 1) == kNever; });
    while (held.size() >= max_leads) {
      const auto latest =
          std::max_element(held.begin(), held.end(), [&](std::uint32_t a, std::uint32_t b) {
            return needed(a, net - 1) < needed(b, net - 1);
          });
      const std::uint32_t doomed = *latest;
      release_if([&](std::uint32_t one) { return one == doomed; });
    }
    move(net, 0, true, false);
    for (std::size_t point = 1; point < points[net]; ++point) {
      move(net, point, false, false);
    }
    for (const std::uint32_t other : beside[net]) {
      if (other >= net || held.count(other) != 0) {
        continue;
      }
      // It stays on in place of one that is needed later; not of this net, which others still meet.
      std::uint32_t latest = kNever;
      for (const std::uint32_t one : held) {
        if (one != net && (latest == kNever || needed(one, net) > needed(latest, net))) {
          latest = one;
        }
      }
      const bool stays = latest != kNever && needed(other, net) < needed(latest, net);
      if (stays) {
        released.push_back(latest);
        held.erase(latest);
      }
      move(other, 0, stays, true);
    }
  }
  return pass;
}

}  // namespace padwalk::graph
