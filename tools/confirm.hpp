// SPDX-License-Identifier: MIT
//
// What to read again round a joint that somebody made, and what that says: of the net, of the wire,
// and of what else changed since the sweep before. Measures nothing itself.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/board.hpp"
#include "graph/copper_ohms.hpp"
#include "graph/findings.hpp"
#include "graph/hookup.hpp"

namespace padwalk::tools {

/// A wire, or a place that was mended: both ends in one net.
struct Joint {
  graph::NetId net = graph::kNoNet;
  graph::PlaceId a = graph::kNoPlace;
  graph::PlaceId b = graph::kNoPlace;
  bool wire = false;
  std::optional<int> gauge;         ///< of a wire
  std::optional<double> length_mm;  ///< the same
};

/// Where solder may go: a bare pin is its pad on the solder side. Errors: UsageError.
Joint find_joint(const graph::Board& board, const std::string& from, const std::string& to);

/// The wire as the board file will have it.
graph::WireDescription described(const graph::Board& board, const Joint& joint);

/// Leads on all of the joint's net, on whole nets that run by it or near its ends, on pins in no
/// net near the ends, and of supplies and grounds on what is near them; the nearest first where
/// there are more than `most`. Errors: UsageError where the net alone has more, or fewer than two.
struct JointHookup {
  graph::Hookup hookup;
  bool as_before = false;              ///< each lead where it was
  std::vector<graph::NetId> left_out;  ///< nets that would have been read with more channels
};
/// Channels as in `before` where all of them have one of their own there up to `most`, else 1, 2,
/// ….
JointHookup leads_for(const graph::Board& board, const Joint& joint,
                      const std::vector<graph::Lead>& before, std::size_t most);

/// What a sweep's JSON said, by name.
struct EarlierFinding {
  std::string id;
  std::string kind;
  std::vector<std::string> nets;  ///< in order of their names, and points in no net of the file
  std::vector<std::vector<std::string>> pieces;  ///< of an open
};
struct EarlierSweep {
  std::string at;  ///< when, or the file that says it
  std::vector<EarlierFinding> findings;
};
/// Errors: graph::BadFile, as of `file`.
EarlierSweep earlier_sweep(std::string_view json, const std::string& file);

/// The two leads nearest to the joint's ends, and what lies between them along the joint alone.
/// Units: ohm. Nothing: no lead can hold near an end.
struct JointOhms {
  graph::PointId from = graph::kNoPoint;
  graph::PointId to = graph::kNoPoint;
  graph::CopperOhm expected;
  double most_ohm = 0;  ///< above this a joint is bad
};
std::optional<JointOhms> joint_ohms(const graph::Board& board, const Joint& joint,
                                    const graph::Hookup& hookup);

/// What changed, by the findings of before and now.
struct Changes {
  bool whole = false;                  ///< nothing is wrong with the joint's net itself
  bool as_before = false;              ///< it is in the same pieces
  std::vector<std::size_t> of_net;     ///< findings that are the net's own
  std::vector<std::size_t> wrong_pad;  ///< new shorts of a net that is still in pieces
  std::vector<std::size_t> fresh;      ///< findings that were not there before
  std::vector<std::size_t> same;       ///< that were
  std::vector<EarlierFinding> gone;    ///< of nets that were read, besides the joint's
};
/// Shape: indices into `now.findings`. `before` null: all findings count as fresh.
Changes compare_findings(const graph::Board& board, const Joint& joint, const graph::Hookup& hookup,
                         const EarlierSweep* before, const graph::Findings& now);

/// The one of `points` that is nearest to an end of the joint, and that end; nothing without
/// positions.
struct Nearest {
  graph::PointId point = graph::kNoPoint;
  graph::PlaceId end = graph::kNoPlace;
  double mm = 0;
};
std::optional<Nearest> nearest_to_joint(const graph::Board& board, const Joint& joint,
                                        const std::vector<graph::PointId>& points);

/// Of a wire on a supply or ground that has less copper than the traces beside it. Units: mm2.
struct ThinWire {
  double wire_mm2 = 0;
  double trace_mm2 = 0;
  int enough_gauge = 0;  ///< the thinnest that has as much
  bool width_known = false;
};
std::optional<ThinWire> thin_wire(const graph::Board& board, const Joint& joint);

}  // namespace padwalk::tools
