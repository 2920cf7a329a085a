// SPDX-License-Identifier: MIT
//
// Reads every pair of a switch's terminals in each of its positions, as often as asked: joins the
// session and whoever moves the switch. While it moves, one pole is held and heard: its bounce.
// What was read is judged in audit_report.hpp.
#pragma once

#include <atomic>
#include <functional>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "firmware-host/session/session.hpp"
#include "graph/reading.hpp"
#include "graph/switch_table.hpp"
#include "tools/audit_bounce.hpp"
#include "tools/contact_outside.hpp"
#include "tools/input_lines.hpp"
#include "tools/record.hpp"
#include "tools/simulated_bench.hpp"

namespace padwalk::tools {

/// The most of a good contact: the low-level life limit of MIL-PRF-22710H 4.5.23. Units: ohm.
inline constexpr double kWornOhm = 1;

/// What two terminals showed in one position, over all operations. Units: ohm.
struct ContactSeen {
  std::size_t reads = 0;
  std::size_t closed = 0;                   ///< of these
  double best_ohm = 0;                      ///< of the closed ones
  double worst_ohm = 0;                     ///< of the closed ones
  double uncertainty_ohm = 0;               ///< of the worst, k = 2
  double sum_ohm = 0;                       ///< of the closed ones
  double least_open_ohm = graph::kOpenOhm;  ///< of the open ones
  double least_open_uncertainty_ohm = 0;
  /// With what was closed then: the least that lay beside the pair.
  double outside_ohm = graph::kOpenOhm;
  bool driven = false;  ///< something on the board drives the pair, or it was over range
};

/// By terminal a < b.
struct ContactPair {
  std::size_t a = 0;
  std::size_t b = 0;
  std::vector<ContactSeen> at;  ///< one a position
};

struct SwitchReadings {
  std::vector<ContactPair> pairs;  ///< (0, 1), (0, 2), …
  std::size_t operations = 0;      ///< whole ones
  std::size_t readings = 0;
  double volt = 0;            ///< open-circuit test voltage
  std::optional<bool> stays;  ///< when let go, as the person says
  bool stopped = false;       ///< by the person
  SwitchMoves moves;          ///< what was heard on the way
};

class Audit {
 public:
  /// `outside` null: a loose switch. `bench` null: a real one. `lines` null: the simulated person
  /// moves it and answers. All outlive this. `part`: of the bench's board.
  struct Setup {
    session::Session& session;
    const ContactOutside* outside = nullptr;
    SimulatedBench* bench = nullptr;
    Lines* lines = nullptr;
    std::atomic<bool>& stop;
    std::ostream& out;
    std::string name;                            ///< of the switch
    graph::PartId part = graph::kNoPart;         ///< with a bench
    bool simulated_stays = false;                ///< what the simulated person says
    bool simulated_makes_first = false;          ///< of a simulated change-over
    std::vector<graph::JoinedTerminals> joined;  ///< by position, as the file says; empty: loose
    std::vector<std::string> terminals;          ///< lead 1, 2, … in this order
    std::vector<std::string> positions;          ///< the first at rest
    std::optional<std::size_t> ground;           ///< the terminal on the board's ground
    std::vector<bool> should_conduct;            ///< by terminal, in some position
    std::vector<graph::PointId> pins;            ///< of the board, by terminal
    Record& record;
  };

  explicit Audit(Setup setup);

  /// `times` operations. False: the board is live, see live(). What was read stays, whatever
  /// happens. Errors: session::TesterError, but for NotAtRest; RecordError.
  bool run(std::size_t times);
  const SwitchReadings& readings() const { return seen_; }
  const std::optional<session::PowerCheck>& live() const { return live_; }

 private:
  bool operate(std::size_t time, std::size_t times);
  bool put(std::size_t position, const std::string& before);
  std::vector<graph::JoinedTerminals> known_joined() const;
  const SwitchWatch* heard_pole() const;
  std::string listen(const SwitchWatch& pole, std::size_t position);
  bool read(std::size_t position);
  void note(std::size_t position, const std::vector<session::Measurement>& measured);
  bool ask_reseat();
  void ask_stays();
  std::string answer(const char* simulated);

  Setup with_;
  SwitchReadings seen_;
  std::vector<session::Channel> channels_;
  std::vector<SwitchWatch> poles_;
  bool may_listen_ = false;  ///< it is in a position that was read
  std::optional<session::PowerCheck> live_;
};

}  // namespace padwalk::tools
