// SPDX-License-Identifier: MIT
//
// Eigen's sparse Cholesky behind a small face, compiled once: the pattern of a circuit is analysed
// when it is clipped on, its numbers are factored anew a setting or a step.
#pragma once

#include <Eigen/SparseCore>
#include <memory>

namespace padwalk::simulated {

using Matrix = Eigen::SparseMatrix<double>;

class Factorization {
 public:
  Factorization();
  ~Factorization();

  /// Shape: the lower half of a symmetric matrix; later matrices have its pattern.
  void analyze(const Matrix& lower);
  /// False where the matrix is singular.
  bool factorize(const Matrix& lower);
  /// Solves for each column in place.
  void solve(Eigen::Ref<Eigen::MatrixXd> columns) const;

 private:
  struct Solver;
  std::unique_ptr<Solver> solver_;
};

}  // namespace padwalk::simulated
