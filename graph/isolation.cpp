// SPDX-License-Identifier: MIT
#include "graph/isolation.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cassert>
#include <map>
#include <tuple>

namespace padwalk::graph {

namespace {

/// Queries of one round: all of them but where nets are thousands and sets small.
constexpr std::size_t kMostTogether = 16384;

/// ceil(log2 n), 0 for n up to 1.
std::size_t bits_for(std::size_t n) {
  return n <= 1 ? 0 : static_cast<std::size_t>(std::bit_width(n - 1));
}

void erase(PairSearch::List& list, std::uint32_t node) {
  list.erase(std::remove(list.begin(), list.end(), node), list.end());
}

PairSearch::List without(PairSearch::List list, std::uint32_t node) {
  erase(list, node);
  return list;
}

template <typename T>
void add_all(std::vector<T>& to, const std::vector<T>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

}  // namespace

Isolation::Isolation(std::span<const ScanUnit> units, double conducting_ohm,
                     double one_conductor_ohm, std::size_t block_side,
                     const std::vector<bool>& left_out, const std::vector<bool>& fresh)
    : conducting_ohm_(conducting_ohm), one_conductor_ohm_(one_conductor_ohm) {
  make_nodes(units, left_out, fresh);
  plan(block_side);
}

void Isolation::make_nodes(std::span<const ScanUnit> units, const std::vector<bool>& left_out,
                           const std::vector<bool>& fresh) {
  std::map<std::uint32_t, std::size_t> node_of_cluster;
  const auto is_left_out = [&](std::uint32_t unit) { return !left_out.empty() && left_out[unit]; };
  for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
    if (is_left_out(unit)) {
      continue;
    }
    const auto [at, first] = node_of_cluster.emplace(units[unit].cluster, nodes_.size());
    if (first) {
      nodes_.emplace_back();
      nodes_.back().fresh = fresh.empty();
    }
    Node& node = nodes_[at->second];
    add_all(node.points, units[unit].all_points());
    node.one_conductor = first;
    node.fresh = node.fresh || fresh[unit];
    node.ground = node.ground || units[unit].ground;
    node.units.push_back(unit);
    node.nets += units[unit].points.size();
  }
  // A unit that is left out may still be the one that conducts, by way of its parts.
  for (std::uint32_t unit = 0; unit < units.size(); ++unit) {
    const auto at = node_of_cluster.find(units[unit].cluster);
    if (is_left_out(unit) && at != node_of_cluster.end()) {
      nodes_[at->second].units.push_back(unit);
      nodes_[at->second].one_conductor = false;
    }
  }
}

bool Isolation::is_of_codes(const Step& step) {
  return step.kind == StepKind::bit || step.kind == StepKind::ground_bit;
}

/// Plans all queries among the nodes that are alive.
void Isolation::plan(std::size_t block_side) {
  side_ = block_side;
  blocks_.clear();
  steps_.clear();
  make_blocks(block_side);
  for (std::size_t block = 0; block < blocks_.size(); ++block) {
    if (blocks_[block].fresh) {
      plan_block(block);
    }
  }
  for (std::size_t first = 0; first < blocks_.size(); ++first) {
    for (std::size_t second = first + 1; second < blocks_.size(); ++second) {
      if (blocks_[first].fresh || blocks_[second].fresh) {
        steps_.push_back({StepKind::blocks, first, second});
      }
    }
  }
  spare_ = static_cast<std::size_t>(std::count_if(steps_.begin(), steps_.end(), is_of_codes));
  spare_ -= spare_ > 0 ? 1 : 0;
}

/// Blocks hold up to `block_side` nets, grounds last so that they are sunk against all other
/// blocks; what is fresh shares no block with what is not.
void Isolation::make_blocks(std::size_t block_side) {
  List order;
  std::size_t ground_nets = 0;
  for (const bool ground : {false, true}) {
    for (const bool fresh : {false, true}) {
      for (std::uint32_t node = 0; node < nodes_.size(); ++node) {
        if (nodes_[node].alive && nodes_[node].ground == ground && nodes_[node].fresh == fresh) {
          order.push_back(node);
          ground_nets += ground ? nodes_[node].nets : 0;
        }
      }
    }
  }
  std::size_t nets_in_block = 0;
  bool grounds_began = false;
  for (const std::uint32_t node : order) {
    // Grounds share one block if they fit, so that none is ever driven against a signal.
    const std::size_t nets =
        nodes_[node].ground && !grounds_began ? ground_nets : nodes_[node].nets;
    grounds_began = nodes_[node].ground;
    if (blocks_.empty() || blocks_.back().fresh != nodes_[node].fresh ||
        (block_side > 0 && nets_in_block + nets > block_side)) {
      blocks_.push_back({{}, nodes_[node].fresh});
      nets_in_block = 0;
    }
    blocks_.back().nodes.push_back(node);
    nets_in_block += nodes_[node].nets;
  }
}

/// Nets a side that leakage as in the step at hand keeps above the limit: with a leak of R across
/// each pair, x against x read R / x^2. 0: no less than the step has. Source: Rayleigh
/// monotonicity; the largest power of two, so that codes fill their blocks.
std::size_t Isolation::side_for_leakage() const {
  if (now_.kind != StepKind::bit && now_.kind != StepKind::blocks) {
    return 0;
  }
  std::array<double, 2> nets{};
  for (const std::size_t side : {0, 1}) {
    for (const std::uint32_t node : side == 0 ? now_.a : now_.b) {
      nets[side] += static_cast<double>(nodes_[node].nets);
    }
  }
  const double leak_ohm = *now_.ohm * nets[0] * nets[1];
  double side = 1;
  while (4 * side * side <= leak_ohm / conducting_ohm_) {
    side *= 2;
  }
  return side < std::max(nets[0], nets[1]) ? static_cast<std::size_t>(side) : 0;
}

void Isolation::plan_block(std::size_t block) {
  std::size_t signals = 0;
  std::size_t grounds = 0;
  for (const std::uint32_t id : blocks_[block].nodes) {
    Node& node = nodes_[id];
    (node.ground ? node.ground_code : node.code) =
        static_cast<std::uint32_t>(node.ground ? grounds++ : signals++);
  }
  const std::size_t bits = bits_for(signals + (grounds > 0 ? 1 : 0));
  for (const std::uint32_t id : blocks_[block].nodes) {
    if (nodes_[id].ground) {
      nodes_[id].code = static_cast<std::uint32_t>((std::uint64_t{1} << bits) - 1);
    }
  }
  for (std::size_t bit = 0; bit < bits; ++bit) {
    steps_.push_back({StepKind::bit, block, bit});
  }
  for (std::size_t bit = 0; bit < bits_for(grounds); ++bit) {
    steps_.push_back({StepKind::ground_bit, block, bit});
  }
}

/// Its two lists as they are now.
PairSearch::Lists Isolation::lists_of(const Step& step) const {
  PairSearch::Lists lists{step.a, step.b};
  const auto add_alive = [&](std::size_t block, auto side) {
    for (const std::uint32_t node : blocks_[block].nodes) {
      if (nodes_[node].alive && (step.kind != StepKind::ground_bit || nodes_[node].ground)) {
        (side(nodes_[node]) ? lists.second : lists.first).push_back(node);
      }
    }
  };
  switch (step.kind) {
    case StepKind::bit:
      add_alive(step.block, [&](const Node& node) { return (node.code >> step.other & 1U) != 0; });
      break;
    case StepKind::ground_bit:
      add_alive(step.block,
                [&](const Node& node) { return (node.ground_code >> step.other & 1U) != 0; });
      break;
    case StepKind::blocks:
      add_alive(step.block, [](const Node&) { return false; });
      add_alive(step.other, [](const Node&) { return true; });
      break;
    case StepKind::lists:
      break;
  }
  return lists;
}

/// Whether the sets of a step of their block are of other points once these two are one node.
bool Isolation::changes(const Step& step, const Node& kept, const Node& gone) const {
  switch (step.kind) {
    case StepKind::bit:
      return ((kept.code ^ gone.code) >> step.other & 1U) != 0;
    case StepKind::ground_bit:
      return kept.ground &&
             (!gone.ground || ((kept.ground_code ^ gone.ground_code) >> step.other & 1U) != 0);
    case StepKind::blocks:
    case StepKind::lists:
      break;
  }
  return false;
}

/// The step at hand and the planned ones that have no answer, with their lists. What was asked in
/// vain is asked ahead of its turn only as long as no more answers than spare_ can be in vain.
std::vector<std::pair<Isolation::Step*, PairSearch::Lists>> Isolation::waiting() {
  std::vector<std::pair<Step*, PairSearch::Lists>> waiting;
  if (!now_.a.empty() && !now_.b.empty()) {
    waiting.emplace_back(&now_, PairSearch::Lists{now_.a, now_.b});
  }
  auto at_stake =
      static_cast<std::size_t>(std::count_if(steps_.begin(), steps_.end(), [&](const Step& step) {
        return is_of_codes(step) && step.ohm && *step.ohm <= conducting_ohm_;
      }));
  for (Step& step : steps_) {
    if (waiting.size() == kMostTogether) {
      break;
    }
    if (step.ohm || (step.changed && at_stake >= spare_)) {
      continue;
    }
    PairSearch::Lists lists = lists_of(step);
    if (!lists.first.empty() && !lists.second.empty()) {
      at_stake += step.changed ? 1 : 0;
      waiting.emplace_back(&step, std::move(lists));
    }
  }
  return waiting;
}

/// To the next step that has no answer yet, or into the search of one that conducts.
void Isolation::go_on() {
  while (!search_) {
    const bool over = now_.ohm && *now_.ohm > conducting_ohm_;
    if (over || now_.a.empty() || now_.b.empty()) {
      now_ = {};
      leaky_ = false;
      if (steps_.empty()) {
        return;
      }
      now_ = std::move(steps_.front());
      steps_.pop_front();
      std::tie(now_.a, now_.b) = lists_of(now_);
    } else if (now_.ohm) {
      search_.emplace(now_.a, now_.b, leaky_);
    } else {
      return;
    }
  }
}

std::vector<PointId> Isolation::points_of(const List& nodes) const {
  std::vector<PointId> points;
  for (const std::uint32_t node : nodes) {
    add_all(points, nodes_[node].points);
  }
  return points;
}

std::vector<Isolation::Query> Isolation::next() {
  const auto query = [&](const PairSearch::Lists& lists, bool confirm) {
    const auto& [a, b] = lists;
    const bool pair = a.size() == 1 && b.size() == 1 && nodes_[a.front()].one_conductor &&
                      nodes_[b.front()].one_conductor;
    return Query{points_of(a), points_of(b), pair, confirm, {conducting_ohm_, kOpenOhm}};
  };
  go_on();
  std::vector<Query> queries;
  if (search_) {
    queries.push_back(query(search_->query(), search_->confirming()));
  } else {
    for (const auto& [step, lists] : waiting()) {
      queries.push_back(query(lists, false));
    }
  }
  return queries;
}

void Isolation::answer(std::span<const double> ohms) {
  if (search_) {
    assert(ohms.size() == 1);
    answer_search(ohms.front());
    return;
  }
  const auto asked = waiting();
  assert(ohms.size() == asked.size() && !ohms.empty());
  for (std::size_t i = 0; i < asked.size(); ++i) {
    asked[i].first->ohm = ohms[i];
  }
}

void Isolation::answer_search(double ohm) {
  const bool searched_for_one = !search_->thorough();
  search_->answer(ohm <= conducting_ohm_);
  if (const std::size_t side = searched_for_one && search_->thorough() ? side_for_leakage() : 0) {
    if (side_ == 0 || side < side_) {  // nets that parts join are never cut apart
      search_.reset();
      now_ = {};
      plan(side);
      return;
    }
  }
  if (!search_->over()) {
    return;
  }
  const auto found = search_->found();
  leaky_ = leaky_ || search_->thorough();
  search_.reset();
  if (found) {
    join(found->first, found->second, ohm);
    now_.ohm.reset();  // asked again, for there may be more
  } else {
    now_ = {};
  }
}

void Isolation::join(std::uint32_t a, std::uint32_t b, double ohm) {
  joins_.push_back({nodes_[a].units, nodes_[b].units, ohm});
  switch (now_.kind) {
    case StepKind::bit:
    case StepKind::ground_bit:
      merge(a, b, ohm);
      break;
    case StepKind::blocks:
      drop_from_other_block(a, b, ohm);
      break;
    case StepKind::lists:  // one of the lists holds a single node
      now_.a.size() == 1 ? erase(now_.b, b) : erase(now_.a, a);
      break;
  }
}

/// One node with one code, which is still on its side of the step at hand.
void Isolation::merge(std::uint32_t a, std::uint32_t b, double ohm) {
  const bool keep_b = nodes_[b].ground;
  Node& kept = nodes_[keep_b ? b : a];
  Node& gone = nodes_[keep_b ? a : b];
  add_all(kept.points, gone.points);
  add_all(kept.units, gone.units);
  kept.one_conductor = kept.one_conductor && gone.one_conductor && ohm <= one_conductor_ohm_;
  gone.alive = false;
  keep_b ? erase(now_.a, a) : erase(now_.b, b);
  for (Step& step : steps_) {
    if (step.block == now_.block && step.ohm && changes(step, kept, gone)) {
      step.ohm.reset();
      step.changed = true;
      spare_ -= spare_ > 0 ? 1 : 0;
    }
  }
}

void Isolation::drop_from_other_block(std::uint32_t a, std::uint32_t b, double ohm) {
  erase(now_.b, b);
  List others = without(now_.a, a);
  if (others.empty()) {
    return;
  }
  if (nodes_[b].one_conductor && ohm <= one_conductor_ohm_) {
    left_out_.push_back({std::move(others), b});  // what conducts to b conducts to a: known
  } else {
    steps_.push_front({StepKind::lists, 0, 0, std::move(others), {b}});
  }
}

std::vector<Isolation::Join> Isolation::take_joins() {
  return std::exchange(joins_, {});
}

void Isolation::ask_again_if(const std::function<bool(std::uint32_t unit)>& in_fragments) {
  std::vector<LeftOut> still;
  for (LeftOut& left : left_out_) {
    const List& units = nodes_[left.node].units;
    if (std::any_of(units.begin(), units.end(), in_fragments)) {
      steps_.push_back({StepKind::lists, 0, 0, std::move(left.others), {left.node}});
    } else {
      still.push_back(std::move(left));
    }
  }
  left_out_ = std::move(still);
}

PairSearch::List Isolation::ask_point(PointId point, std::uint32_t unit) {
  List others;
  List beside;
  bool ground = false;
  for (std::uint32_t node = 0; node < nodes_.size(); ++node) {
    const List& units = nodes_[node].units;
    const bool holds_it = std::find(units.begin(), units.end(), unit) != units.end();
    ground = ground || (holds_it && nodes_[node].ground);
    if (nodes_[node].alive && !holds_it) {
      others.push_back(node);
    } else if (nodes_[node].alive) {
      beside = without(units, unit);
    }
  }
  Node alone;
  alone.points = {point};
  alone.units = {unit};
  alone.ground = ground;
  alone.alive = false;  // its point is in its own node already
  const auto id = static_cast<std::uint32_t>(nodes_.size());
  nodes_.push_back(std::move(alone));
  Step step;
  (ground ? step.a : step.b) = std::move(others);
  (ground ? step.b : step.a) = {id};
  steps_.push_back(std::move(step));
  return beside;
}

}  // namespace padwalk::graph
