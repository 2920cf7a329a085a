// SPDX-License-Identifier: MIT
//
// Ohms between the nodes of a network of resistors, one conductor's copper or a board's parts.
// Plain numbers in and out: it knows no board, and nothing but resistors.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <vector>

namespace padwalk::graph {

/// Nodes 0..n-1 and resistors between them, from 0 ohm up; parallel resistors are allowed.
///
/// Accuracy: 1e-9 relative in every answer, however far apart the resistors are (1e-3 ohm beside
/// 1e8 ohm). A Laplacian of node voltages loses the small ones in rounding, and the large ones with
/// them, so the unknowns are the voltages across a spanning tree of the best conductors. There
/// every other resistor conducts at most about as much as the tree beside it: scaled by the tree's
/// own conductances, the matrix stays well-conditioned, and milliohms stand beside megohms without
/// harm.
///
/// Cost: one sparse Cholesky factorisation after the last add(), at the first question; then each
/// question is one solution. What the matrix holds grows with the number of loops times the square
/// of their length: little for copper and parts, much for a wide mesh of equal resistors
/// (100 x 100 is too much). Not to be asked from two threads at once.
class ResistiveNetwork {
 public:
  using Node = std::size_t;

  /// What a current of 1 A in at one node and out at another does: volts along the tree. The ohms
  /// between the two are its `ohm`. Good only for the network that made it, until its next add().
  struct Flow {
    Node from = 0;
    Node to = 0;
    double ohm = 0;            ///< infinite: nothing joins the two, and nothing flows
    std::vector<double> drop;  ///< by node: volts from it to the next node towards the tree's root
  };

  /// One conductance more or less between u and v. `siemens`: above 0 a resistor is added, infinity
  /// is a short; -1/r takes away a resistor of r ohms that is there.
  struct Change {
    Node u = 0;
    Node v = 0;
    double siemens = 0;
  };

  explicit ResistiveNetwork(std::size_t nodes);

  std::size_t nodes() const { return nodes_; }
  /// Number of resistors that were added; they are numbered in that order.
  std::size_t size() const { return resistors_.size(); }

  /// A resistor. 0 ohm makes the two one node, infinity does nothing.
  /// Errors: std::invalid_argument for ohms below 0 or not a number, or a node that is not there.
  void add(Node a, Node b, double ohm);

  /// Ohms between two nodes; 0 for the same node, infinite where nothing joins them.
  double between(Node a, Node b) const;
  /// Ohms between two groups, the nodes of each tied together; 0 if they share a node, infinite if
  /// one is empty. Cost: a factorisation of the components that both groups touch.
  double between(std::span<const Node> a, std::span<const Node> b) const;

  Flow flow(Node a, Node b) const;
  /// Volts from u to v in that flow. Cost: the depth of the tree.
  double volt(const Flow& flow, Node u, Node v) const;
  /// The part of `flow.ohm` that the resistor of that number makes: its watts at 1 A. The parts of
  /// all resistors sum to the whole (Tellegen's theorem).
  double share(const Flow& flow, std::size_t resistor) const;

  /// Ohms between a and b after one change, by the rank-one formula from two flows. Where that
  /// would lose digits (the only way is removed, a short leaves next to nothing, a change joins
  /// what was apart), the changed network is solved itself.
  /// Errors: std::invalid_argument for a siemens that is not a number, and where it shows that more
  /// would be taken away than is there.
  double between_with(Node a, Node b, Change change) const;
  /// The same from flows that the caller keeps, so that a table of many changes and many pairs
  /// costs one solution a pair and one a change. `at_change` is the flow from change.u to change.v.
  double between_with(const Flow& flow, const Flow& at_change, Change change) const;

 private:
  struct Resistor {
    Node a = 0;
    Node b = 0;
    double ohm = 0;
  };
  struct Solved;

  const Solved& solved() const;
  void check(Node node) const;
  double solve_changed(Node a, Node b, Change change) const;

  std::size_t nodes_;
  std::vector<Resistor> resistors_;
  mutable std::shared_ptr<const Solved> solved_;
};

}  // namespace padwalk::graph
