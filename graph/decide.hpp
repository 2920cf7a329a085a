// SPDX-License-Identifier: MIT
//
// How many reads a yes-or-no question needs, and when to stop asking: sequential tests over reads
// that each say "conducts" or "does not". Not for ohms against limits (verdict.hpp) and not for
// when or how a reading is repeated: reads of one test must be independent, so the setting has to
// be applied afresh for each of them.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>

namespace padwalk::graph {

/// What a pair of points is, seen over many reads.
enum class Contact : std::uint8_t { closed, intermittent, open };

/// Chances that one read conducts through such a contact.
inline constexpr double kClosedConducts = 0.98;
inline constexpr double kIntermittentConducts = 0.5;
inline constexpr double kOpenConducts = 0.02;

/// Two hypotheses, closed or open, each read right with the same chance: stop when one answer is
/// `lead` reads ahead of the other. It is the sequential probability ratio test (Wald 1945) of this
/// symmetric case.
/// The smallest lead that keeps the chance of either error at `error` or below by Wald's limits:
/// ceil(ln((1 - error) / error) / ln(right / (1 - right))).
/// Errors: std::invalid_argument unless 0.5 < right < 1 and 0 < error < 0.5.
std::size_t lead_for(double right, double error);

/// What a test costs and how often it is wrong.
struct TestFigures {
  double error = 0;
  double mean_reads = 0;
};

/// Exact figures of the lead rule, by dynamic programming over the lead.
/// Errors: std::invalid_argument unless 0.5 < right < 1 and lead is at least 1.
/// Cost: lead^2 / (2 right - 1) steps or so.
TestFigures lead_figures(double right, std::size_t lead);

/// The smallest odd number of reads whose majority is wrong with a chance of `error` or less: what
/// a test of fixed length would need. Errors: as lead_for.
std::size_t majority_reads(double right, double error);

/// Three hypotheses, because a test of two hides an intermittent contact: it calls it closed or
/// open by chance. Stops when the likelihood of one is `ratio` times that of each other.
class SequentialTest {
 public:
  static constexpr std::size_t kMostReads = 100;

  /// `most_reads`: where no hypothesis leads after so many, the test gives up.
  /// Errors: std::invalid_argument unless ratio > 1 and most_reads is at least 1.
  explicit SequentialTest(double ratio, std::size_t most_reads = kMostReads);

  /// One more read. After the end (decided or exhausted) it changes nothing.
  void add(bool conducts);

  std::optional<Contact> decided() const { return decided_; }
  /// All reads spent and still undecided.
  bool exhausted() const { return !decided_ && reads() >= most_reads_; }
  std::size_t reads() const { return conducting_ + silent_; }
  std::size_t conducting() const { return conducting_; }

 private:
  double log_ratio_;
  std::size_t most_reads_;
  std::size_t conducting_ = 0;
  std::size_t silent_ = 0;
  std::optional<Contact> decided_;
};

/// What a SequentialTest says of a contact, as fractions of 1, and its mean number of reads.
struct SequentialFigures {
  double closed = 0;
  double intermittent = 0;
  double open = 0;
  double undecided = 0;
  double mean_reads = 0;
};

/// Exact figures for a contact that conducts in a fraction `conducts` of reads, by dynamic
/// programming over the counts of both answers. Errors: as SequentialTest; std::invalid_argument
/// unless 0 <= conducts <= 1. Cost: most_reads^2.
SequentialFigures sequential_figures(double ratio, double conducts,
                                     std::size_t most_reads = SequentialTest::kMostReads);

/// The ratio K that keeps the chance of one or more false alarms on a whole board at `board_risk`
/// or below, where `readings` contacts are each decided by a SequentialTest: K = 2 readings /
/// board_risk.
///
/// Why: every sequence of reads that ends in a wrong hypothesis is at least K times as likely
/// under that one as under the true one, so summed over all sequences the chance of ending there is
/// at most 1 / K (Wald 1945). There are two wrong hypotheses: 2 / K a contact. Chances add up at
/// most over the contacts, whether or not they depend on each other. A contact that conducts more
/// reliably than kClosedConducts alarms less often still, and a confirming reading afterwards only
/// lowers the risk. It does not bound missed faults of contacts between the three hypotheses.
/// Errors: std::invalid_argument unless 0 < board_risk < 1 and readings is at least 1.
double ratio_for(double board_risk, std::size_t readings);

}  // namespace padwalk::graph
