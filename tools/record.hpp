// SPDX-License-Identifier: MIT
//
// What is told while a sweep measures, to whoever keeps it. Knows no file.
#pragma once

#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "graph/evidence.hpp"
#include "graph/hookup.hpp"

namespace padwalk::tools {

/// It can no longer be kept; `what()` is one sentence: what, where, what to try.
class RecordError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Each call returns when it is kept for good. Errors: RecordError. This one keeps nothing.
class Record {
 public:
  virtual ~Record() = default;
  /// All leads from now on; the tip, where it touches, is the last of them.
  virtual void leads(const graph::Hookup& /*now*/) {}
  /// One round, as it was decided.
  virtual void readings(std::span<const graph::Reading> /*readings*/) {}
  /// A spell of measuring with the same leads came to its end.
  virtual void spell(const graph::Measured& /*measured*/) {}
  /// As Evidence::forget().
  virtual void forgotten(const std::vector<graph::PointId>& /*points*/, std::size_t /*since*/) {}
  /// A fixture does not fit on a part or, a grabber, at a point: both by name.
  virtual void misfit(const std::string& /*fixture*/, const std::string& /*where*/) {}
  virtual void not_reached(graph::PointId /*point*/) {}
  /// The tip at a place conducted to these points; to none: silence, `metal`: proven to be so.
  virtual void heard(const std::string& /*place*/, const std::vector<graph::PointId>& /*with*/,
                     bool /*metal*/) {}
};

/// For whoever keeps nothing.
inline Record& no_record() {
  static Record none;
  return none;
}

/// What a sweep had kept when it was cut off.
struct Kept {
  graph::Evidence evidence;
  std::vector<graph::Lead> leads;                            ///< by point, the last that it had
  std::vector<std::pair<std::string, std::string>> misfits;  ///< fixture and where, by name
  std::vector<graph::PointId> not_reached;
};

}  // namespace padwalk::tools
