// SPDX-License-Identifier: MIT
//
// Which sets of points to read against each other to prove that no two nets conduct, and to find
// the pairs that do. Knows no tester and no board, only groups of points.
//
// Nodes carry binary codes. Query b drives all nodes whose bit b is 0 and sinks all whose bit is 1;
// a query that conducts is searched for a pair, the pair becomes one node with one code, and the
// query is asked again. One pass over the bits is enough, since joined nodes agree on all bits that
// are done. Nets that parts join are one node from the start: they share a code, so no query has
// them on two sides. Ground has the code of all ones and is so always in the sink set; several
// ground nets share that code and are then told apart by queries of their own.
//
// All queries that follow if nothing conducts are asked in one round, and keep their answers. One
// that does not conduct is over, whatever joins come later: two nodes that turn out to be joined
// lay on one side of it, else it would have conducted, so the join takes no point to its other
// side. Only to what tells grounds apart a join can bring points that were in neither set: a
// signal's. One that conducts is searched when its turn comes; where a join has changed its sets
// since, it is asked again first.
//
// With a block limit the nodes are cut into blocks: codes inside each, one query a pair of blocks.
// Where a query conducts though no pair of it does, what leaks is taken from that query, and the
// blocks are made anew so small that leakage alone stays above the limit.
#pragma once

#include <deque>
#include <functional>
#include <span>

#include "graph/pair_search.hpp"
#include "graph/reading.hpp"
#include "graph/scan_units.hpp"

namespace padwalk::graph {

class Isolation {
 public:
  struct Query {
    std::vector<PointId> source;
    std::vector<PointId> sink;
    bool pair = false;     ///< of two conductors alone
    bool confirm = false;  ///< an independent repetition: this pair is about to be believed
    Band expected;         ///< where nothing conducts
  };
  /// Two groups of units that conduct to each other.
  struct Join {
    PairSearch::List a;
    PairSearch::List b;
    double ohm = 0;  ///< of the confirmation
  };

  /// `conducting_ohm`: a query conducts at or below. `one_conductor_ohm`: a pair is so well joined
  /// that it is one conductor. `block_side`: nets a side of a query; 0: no limit. Units that are
  /// `left_out` take no part; pairs of which neither is `fresh` are known. Shape of both: one entry
  /// a unit, or none at all: none is left out, all are fresh.
  Isolation(std::span<const ScanUnit> units, double conducting_ohm, double one_conductor_ohm,
            std::size_t block_side, const std::vector<bool>& left_out = {},
            const std::vector<bool>& fresh = {});

  /// The queries that wait for an answer, none of which depends on another's: the one of a search,
  /// or all that follow if nothing conducts. Empty: there is nothing left to ask. To call it again
  /// changes nothing.
  std::vector<Query> next();
  /// The lowest ohms of each query that next() gave, in its order.
  void answer(std::span<const double> ohms);

  /// The pairs found since the last call.
  std::vector<Join> take_joins();

  /// Between blocks, a found node is taken for one conductor and not asked again against the rest
  /// of the other block. Asks after all where that was wrong, because `in_fragments(unit)`.
  void ask_again_if(const std::function<bool(std::uint32_t unit)>& in_fragments);

  /// Asks one point of `unit` against all nodes that do not hold `unit`. Returns the other units of
  /// the node that does, which no query of sets can tell from it.
  PairSearch::List ask_point(PointId point, std::uint32_t unit);

 private:
  using List = PairSearch::List;
  struct Node {
    std::vector<PointId> points;
    List units;
    std::uint32_t code = 0;
    std::uint32_t ground_code = 0;  ///< tells grounds apart
    std::size_t nets = 0;
    bool ground = false;
    bool fresh = true;
    bool one_conductor = true;
    bool alive = true;
  };
  struct Block {
    List nodes;
    bool fresh = true;
  };
  enum class StepKind : std::uint8_t { bit, ground_bit, blocks, lists };
  /// A query that is planned; its lists are made when it is asked, and anew when its turn comes.
  struct Step {
    StepKind kind = StepKind::lists;
    std::size_t block = 0;
    std::size_t other = 0;  ///< the bit, or the second block
    List a = {};
    List b = {};
    std::optional<double> ohm = {};  ///< its answer, until a join changes its sets
    bool changed = false;            ///< one did: an answer was in vain
  };
  /// Pairs that were left out: all of `others` against `node`.
  struct LeftOut {
    List others;
    std::uint32_t node = 0;
  };

  void make_nodes(std::span<const ScanUnit> units, const std::vector<bool>& left_out,
                  const std::vector<bool>& fresh);
  void plan(std::size_t block_side);
  void make_blocks(std::size_t block_side);
  std::size_t side_for_leakage() const;
  void plan_block(std::size_t block);
  static bool is_of_codes(const Step& step);
  PairSearch::Lists lists_of(const Step& step) const;
  bool changes(const Step& step, const Node& kept, const Node& gone) const;
  std::vector<std::pair<Step*, PairSearch::Lists>> waiting();
  void go_on();
  void answer_search(double ohm);
  void join(std::uint32_t a, std::uint32_t b, double ohm);
  void merge(std::uint32_t a, std::uint32_t b, double ohm);
  void drop_from_other_block(std::uint32_t a, std::uint32_t b, double ohm);
  std::vector<PointId> points_of(const List& nodes) const;

  double conducting_ohm_;
  double one_conductor_ohm_;
  std::vector<Node> nodes_;
  std::vector<Block> blocks_;
  std::size_t side_ = 0;  ///< nets that a block holds at most; 0: no limit
  std::deque<Step> steps_;
  std::size_t spare_ = 0;  ///< answers that may still be in vain
  Step now_;               ///< the step at hand; its lists are what is left of it
  bool leaky_ = false;     ///< it conducted although no pair of it did
  std::optional<PairSearch> search_;
  std::vector<Join> joins_;
  std::vector<LeftOut> left_out_;
};

}  // namespace padwalk::graph
