// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/factorization.hpp"

#include <Eigen/SparseCholesky>
#include <algorithm>
#include <vector>

namespace padwalk::simulated {

/// In an order of little fill that is found once; a factorisation then only moves the values there.
struct Factorization::Solver {
  Eigen::PermutationMatrix<Eigen::Dynamic, Eigen::Dynamic, int> order;
  Matrix upper;            // in that order
  std::vector<int> place;  // in its values, of each value of the lower half that is given
  Eigen::SimplicialLDLT<Matrix, Eigen::Upper, Eigen::NaturalOrdering<int>> ldlt;
};

Factorization::Factorization() : solver_(std::make_unique<Solver>()) {}
Factorization::~Factorization() = default;

void Factorization::analyze(const Matrix& lower) {
  Eigen::AMDOrdering<int>()(lower.selfadjointView<Eigen::Lower>(), solver_->order);
  solver_->order = solver_->order.inverse().eval();
  const auto& to = solver_->order.indices();
  // Each entry carries its own number to where it belongs.
  std::vector<Eigen::Triplet<double>> entries;
  for (int column = 0; column < lower.cols(); ++column) {
    for (Matrix::InnerIterator entry(lower, column); entry; ++entry) {
      const auto [row_to, column_to] = std::minmax(to[entry.row()], to[column]);
      entries.emplace_back(row_to, column_to, static_cast<double>(entries.size()));
    }
  }
  Matrix& upper = solver_->upper;
  upper.resize(lower.rows(), lower.cols());
  upper.setFromTriplets(entries.begin(), entries.end());
  solver_->place.resize(entries.size());
  for (int i = 0; i < upper.nonZeros(); ++i) {
    solver_->place[static_cast<std::size_t>(upper.valuePtr()[i])] = i;
  }
  solver_->ldlt.analyzePattern(upper);
}

bool Factorization::factorize(const Matrix& lower) {
  for (std::size_t i = 0; i < solver_->place.size(); ++i) {
    solver_->upper.valuePtr()[solver_->place[i]] = lower.valuePtr()[i];
  }
  solver_->ldlt.factorize(solver_->upper);
  return solver_->ldlt.info() == Eigen::Success;
}

void Factorization::solve(Eigen::Ref<Eigen::MatrixXd> columns) const {
  // A column at a time, in place: far quicker than a whole matrix of one or two.
  for (auto column : columns.colwise()) {
    Eigen::VectorXd x = solver_->order * column;
    solver_->ldlt.matrixL().solveInPlace(x);
    x.array() /= solver_->ldlt.vectorD().array();
    solver_->ldlt.matrixU().solveInPlace(x);
    column = solver_->order.inverse() * x;
  }
}

}  // namespace padwalk::simulated
