// SPDX-License-Identifier: MIT
#include "firmware-host/simulated/factorization.hpp"

#include <Eigen/SparseCholesky>

namespace padwalk::simulated {

struct Factorization::Solver {
  Eigen::SimplicialLDLT<Matrix> ldlt;
};

Factorization::Factorization() : solver_(std::make_unique<Solver>()) {}
Factorization::~Factorization() = default;

void Factorization::analyze(const Matrix& lower) {
  solver_->ldlt.analyzePattern(lower);
}

bool Factorization::factorize(const Matrix& lower) {
  solver_->ldlt.factorize(lower);
  return solver_->ldlt.info() == Eigen::Success;
}

void Factorization::solve(Eigen::Ref<Eigen::MatrixXd> columns) const {
  columns = solver_->ldlt.solve(columns).eval();
}

}  // namespace padwalk::simulated
