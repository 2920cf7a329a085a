// SPDX-License-Identifier: MIT
//
// The command line: verbs, their options and help, exit statuses, and the one try block that turns
// every exception into one sentence and a status.
#pragma once

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

namespace padwalk::tools {

/// Where several hold, the one listed first is returned.
enum class ExitStatus : int {
  bad_input = 2,   ///< a file, an option or a port that cannot be used
  refused = 4,     ///< the board is powered or charged: nothing was driven
  failed = 3,      ///< the tester or the link failed
  findings = 1,    ///< the board is not as its file says
  incomplete = 5,  ///< interrupted, or not all that was planned could be read
  good = 0
};

/// A mistake on the command line; `what()` is one sentence.
class UsageError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

struct CheckOptions {
  std::string board;
  std::string rewrite;  ///< empty: only check
  bool lint = false;    ///< by what chips' pins are for
};

struct NewOptions {
  std::string board;  ///< not there yet
  std::string name;
};

struct EnterOptions {
  std::string board;
};

struct ImportOptions {
  std::string netlist;
  std::string output;
  std::string units;  ///< "inch", "mm" or empty
  bool assembled = false;
};

/// What a plan is to settle, and with what.
struct PlanChoice {
  std::string fixtures;           ///< empty: a usual bench
  double neighbours_mm = 2.6;     ///< nets that are closer are to be together once
  bool all_pairs = false;         ///< all nets are
  std::vector<std::string> nets;  ///< only these and what they meet; empty: all
  std::string near;               ///< only nets of this region; empty: all
};

struct SweepOptions {
  std::string board;
  PlanChoice plan;  ///< with its fixtures; without, all clip points have a lead at once
  std::string port;
  bool simulate = false;
  std::string defects;         ///< with simulate; empty: a healthy board
  std::string simulate_board;  ///< with simulate: what is really there; empty: as the file says
  std::uint16_t channels = 0;  ///< of the simulated tester; 0: as many as the board needs
  bool quick = false;
  std::optional<bool> ask;
  bool keys = false;                   ///< with simulate: a person's keys move the simulated hands
  std::vector<std::string> leave_out;  ///< names of nets that are not to be driven
  double power_limit_volt = 0.015;
  std::optional<double> plug_wait_s;  ///< for a plug that was pulled; none: at a terminal only
  std::string json;                   ///< file name, "-" for standard output, empty for none
  std::string job;                    ///< where it is kept as it happens; empty: nowhere
  std::string history;                ///< a folder of jobs of such boards; empty: none counts
  std::int64_t resumes = 0;           ///< the run of that job that it goes on from; 0: none
};

struct OhmsOptions {
  std::string board;
  std::string from;  ///< a point or a net, as `to`
  std::string to;
  bool measure = false;
  bool passive = false;  ///< at 5 V
  std::string job;       ///< as in SweepOptions; with measure
  std::string port;
  bool simulate = false;
  std::string defects;
  std::uint16_t channels = 0;
  std::string json;
};

struct PlanOptions {
  std::string board;
  PlanChoice choice;
  std::string output;  ///< the text once more, to be printed; empty: nowhere
  std::string json;    ///< as in SweepOptions
};

struct PinpointOptions {
  std::string board;
  std::string after;  ///< the sweep's JSON
  bool two_needles = false;
  bool sound = true;
  std::string job;      ///< as in SweepOptions
  std::string history;  ///< the same
  bool keys = false;    ///< the same
  std::string port;
  bool simulate = false;
  std::string defects;
  std::uint16_t channels = 0;
  std::string json;
};

struct WalkOptions {
  std::string board;
  std::vector<std::string> hold;  ///< points that have a lead; empty: as a sweep, or by fixtures
  std::string fixtures;           ///< what a plan puts on first stays on
  std::string job;                ///< as in SweepOptions
  bool two_needles = false;
  bool sound = true;
  std::string port;
  bool simulate = false;
  std::string defects;
  std::uint16_t channels = 0;
  std::string json;
};

struct AuditOptions {
  std::string board;                   ///< empty: a loose switch
  std::string part;                    ///< with a board
  std::size_t terminals = 0;           ///< of a loose switch
  std::vector<std::string> positions;  ///< of a loose switch, the one at rest first; empty: usual
  std::size_t times = 1;               ///< how often it is operated
  bool keys = false;                   ///< as in SweepOptions
  std::string port;
  bool simulate = false;
  std::string defects;
  std::string form;  ///< with simulate: what the loose switch is
  std::uint16_t channels = 0;
  std::string job;   ///< the same
  std::string json;  ///< as in SweepOptions
};

struct ConfirmOptions {
  std::string board;
  std::vector<std::string> wire;      ///< its two ends; empty: something was mended
  std::vector<std::string> repaired;  ///< between these two
  std::optional<int> gauge;           ///< of the wire
  std::string length;                 ///< "45mm"
  bool flex = false;                  ///< watch the net while the board is bent
  double seconds = 0;                 ///< so long; 0: until stopped
  std::string job;                    ///< as in SweepOptions
  std::string after;                  ///< the sweep's JSON, instead of the job's last sweep
  std::string port;
  bool simulate = false;
  std::string defects;
  std::uint16_t channels = 0;
  std::string json;
};

struct WatchOptions {
  std::string board;
  std::string net;                  ///< empty: everything, until something comes or goes
  double seconds = 0;               ///< on the tester's clock; 0: until stopped
  std::vector<std::string> second;  ///< points with a second lead
  bool sound = true;
  std::string job;  ///< as in SweepOptions
  std::string port;
  bool simulate = false;
  std::string defects;
  std::uint16_t channels = 0;
  std::string json;
};

struct CompareOptions {
  std::string first;
  std::string second;
  std::string json;  ///< as in SweepOptions
};

struct LearnOptions {
  std::string parts;       ///< "U1 DIP-40, R7 axial 10 mm"
  std::string points;      ///< "TP1, TP2"
  std::string parts_from;  ///< a board file instead; its nets are not looked at
  bool assembled = false;
  std::string name;      ///< of the board
  std::string fixtures;  ///< empty: all points have a lead at once
  std::string output;
  std::string port;
  bool simulate = false;
  std::string defects;
  std::string simulate_board;  ///< with simulate: what is really there
  std::uint16_t channels = 0;
  std::optional<bool> ask;
  double power_limit_volt = 0.015;
  std::string job;   ///< as in SweepOptions
  std::string json;  ///< as in SweepOptions
};

struct SimulateOptions {
  std::string board;
  std::string defects;
  std::uint16_t channels = 0;
};

struct ZeroOptions {
  std::string port;
  bool simulate = false;
  std::uint16_t channels = 64;  ///< of the simulated tester
  std::string leads = "1-4";
  std::string job;   ///< as in SweepOptions
  std::string json;  ///< as in SweepOptions
};

struct JobOptions {
  std::string job;
  std::vector<std::string> done;  ///< of the checklist
};

struct NoteOptions {
  std::string job;
  std::string text;
  std::string photo;  ///< file name; empty: none
};

struct SettleOptions {
  std::string job;
  std::string finding;      ///< "F2"; empty: all that are not settled, key by key
  std::string disposition;  ///< of that one
};

struct ResumeOptions {
  std::string job;
  std::string port;  ///< empty: as it was
  std::string json;
};

ExitStatus check_board(const CheckOptions& options);
ExitStatus tell_job(const JobOptions& options);
ExitStatus add_note(const NoteOptions& options);
ExitStatus resume_sweep(const ResumeOptions& options);
ExitStatus settle_findings(const SettleOptions& options);
ExitStatus begin_board(const NewOptions& options);
ExitStatus enter_board(const EnterOptions& options);
ExitStatus import_netlist(const ImportOptions& options);
ExitStatus sweep_board(const SweepOptions& options);
ExitStatus tell_ohms(const OhmsOptions& options);
ExitStatus pinpoint_opens(const PinpointOptions& options);
ExitStatus walk_board(const WalkOptions& options);
ExitStatus audit_switch(const AuditOptions& options);
ExitStatus confirm_repair(const ConfirmOptions& options);
ExitStatus watch_board(const WatchOptions& options);
ExitStatus plan_board(const PlanOptions& options);
ExitStatus learn_board(const LearnOptions& options);
ExitStatus compare_two_boards(const CompareOptions& options);
ExitStatus list_serial_ports();
ExitStatus simulate_tester(const SimulateOptions& options);
ExitStatus zero_tester(const ZeroOptions& options);

/// Parses the command line and runs its verb. Returns the process's exit status.
int run(int argc, char** argv);

}  // namespace padwalk::tools
