// SPDX-License-Identifier: MIT
//
// `padwalk pinpoint`: after a sweep, the tip goes where it tells most, until each break is one
// segment, or what no touch can tell from it.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <iostream>
#include <nlohmann/json.hpp>

#include "graph/board_splice.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/board_file.hpp"
#include "tools/button_lines.hpp"
#include "tools/hunt.hpp"
#include "tools/job_history.hpp"
#include "tools/job_record.hpp"
#include "tools/json_values.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/sweep_report.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PlaceId;
using graph::PointId;
using nlohmann::ordered_json;

constexpr graph::TouchTimes kTimes{4, 15};  // s, as a fixtures file says where it says nothing

/// What was read of a sweep's file. Errors: BadFile.
class SweepFile {
 public:
  /// `history` null: none.
  SweepFile(const Board& board, const std::string& file, const graph::BreakHistory* history)
      : board_(board), file_(file), history_(history), never_(graph::never_driven(board)) {}

  std::vector<Target> targets() const {
    std::vector<Target> targets;
    try {
      const ordered_json sweep = ordered_json::parse(graph::read_file(file_));
      if (sweep.at("padwalk") != "sweep/1") {
        refuse(fmt::format("it is {}", sweep.at("padwalk").dump()));
      }
      for (const ordered_json& finding : sweep.at("findings")) {
        if (finding.at("kind") == "open" || finding.at("kind") == "high resistance") {
          targets.push_back(target(finding));
        }
      }
    } catch (const ordered_json::exception&) {
      refuse("it cannot be read as JSON of a sweep");
    }
    return targets;
  }

 private:
  [[noreturn]] void refuse(const std::string& what) const {
    throw graph::BadFile(
        fmt::format("{}: {}; expected what 'padwalk sweep --json' writes", file_, what));
  }

  /// A point of the net of that name.
  PointId point(const std::string& net, const ordered_json& name) const {
    const auto point = board_.find_point(name.get<std::string>());
    if (!point) {
      refuse(fmt::format("the board has no point {}", name.get<std::string>()));
    }
    if (board_[*point].net != board_.find_net(net) || never_[graph::index(*point)]) {
      refuse(fmt::format("{} is not in net {}, or must never be driven", board_[*point].name, net));
    }
    return *point;
  }

  Target target(const ordered_json& finding) const {
    const std::string net = finding.at("net");
    graph::OpenCase open;
    std::vector<PointId> held;
    for (const ordered_json& piece : finding.at("pieces")) {
      std::vector<PointId> points;
      open.pieces.emplace_back();
      for (const ordered_json& name : piece) {
        points.push_back(point(net, name));
        open.net = board_[points.back()].net;
        open.pieces.back().push_back(board_[points.back()].held);
      }
      if (points.empty()) {
        refuse(fmt::format("a piece of net {} is empty", net));
      }
      // A lead holds rather where a clip can.
      const auto clip = std::find_if(points.begin(), points.end(), [&](PointId one) {
        return board_[one].access == graph::Access::clip;
      });
      held.push_back(clip == points.end() ? points.front() : *clip);
    }
    if (held.size() < 2) {
      refuse(fmt::format("net {} is in fewer than two pieces", net));
    }
    for (const ordered_json& suspect : finding.at("suspects")) {
      if (suspect.at("kind") == "contact" && suspect.contains("point")) {
        open.contact_doubtful.push_back(point(net, suspect.at("point")));
      }
    }
    if (history_ != nullptr) {
      graph::sharpen(board_, *history_, open, kTimes);
    }
    const graph::NetId id = open.net;
    return {finding.at("id"), id, std::move(held),
            graph::Pinpoint(board_, std::move(open), kTimes)};
  }

  const Board& board_;
  const std::string& file_;
  const graph::BreakHistory* history_;
  std::vector<bool> never_;
};

void write_result(std::ostream& out, const Board& board, const Target& target) {
  const auto& suspects = target.pinpoint.suspects().suspects;
  fmt::print(out, "{}  net {}, after {} touch{}:\n", target.id, board[target.net].name,
             target.touches, target.touches == 1 ? "" : "es");
  if (target.pinpoint.closed_at()) {
    fmt::print(out, "      at {}: pressed by the tip it conducts\n",
               board.place_name(*target.pinpoint.closed_at()));
  }
  for (const SlideVia& via : target.vias) {
    fmt::print(out, "      {}: {}'s side\n", via.name, board[target.held[via.piece]].name);
  }
  for (const graph::OpenSuspect& suspect : suspects) {
    fmt::print(out, "      {}{}\n", suspect_text(board, suspect),
               suspects.size() > 1
                   ? fmt::format(" ({})", likelihood_text(suspect.likelihood, false))
                   : std::string());
  }
}

ordered_json to_json(const Board& board, const PinpointOptions& options,
                     const std::vector<Target>& targets) {
  ordered_json json;
  json["padwalk"] = "pinpoint/1";
  json["board"] = {{"name", board.name()}, {"file", options.board}};
  json["findings"] = ordered_json::array();
  for (const Target& target : targets) {
    ordered_json one;
    one["id"] = target.id;
    one["net"] = board[target.net].name;
    one["touches"] = target.touches;
    one["suspects"] = ordered_json::array();
    for (const graph::OpenSuspect& suspect : target.pinpoint.suspects().suspects) {
      one["suspects"].push_back(json_suspect(board, suspect));
    }
    const auto closed = target.pinpoint.closed_at();
    one["vias"] = ordered_json::array();
    for (const SlideVia& via : target.vias) {
      one["vias"].push_back({{"name", via.name},
                             {"xy", via.xy ? ordered_json({via.xy->x, via.xy->y}) : ordered_json()},
                             {"with", board[target.held[via.piece]].name}});
    }
    one["closed_at"] = closed ? ordered_json(board.place_name(*closed)) : ordered_json();
    json["findings"].push_back(std::move(one));
  }
  return json;
}

/// One whose findings can be settled.
bool has_sweep(const Job& job) {
  const std::vector<JobRun> runs = job.runs();
  return std::any_of(runs.begin(), runs.end(), [](const JobRun& run) {
    return run.verb == "sweep" && run.verdict == "faulty";
  });
}

/// Targets whose likelihoods earlier jobs sharpened, by their ids.
std::vector<std::string> sharpened_of(const std::vector<Target>& targets) {
  std::vector<std::string> ids;
  for (const Target& target : targets) {
    if (target.pinpoint.suspects().sharpened) {
      ids.push_back(target.id);
    }
  }
  return ids;
}

/// Said as a sweep says it.
void write_refusal(std::ostream& out, const Board& board, const Hunt& hunt) {
  SweepReport report;
  report.counts.scan = hunt.touches();
  note_live(*hunt.live(), hunt.attached(), report);
  tools::write_refusal(out, board, report, "pinpoint");
}

/// The one line that says what to do.
std::string next_step(const Board& board, const std::vector<Target>& targets, bool to_the_end) {
  if (!to_the_end) {
    return "pinpoint again to go on; what was heard is above.";
  }
  const auto& suspects = targets.front().pinpoint.suspects().suspects;
  if (targets.front().crossed) {
    return "look at the copper where the tone changed, mend it, then sweep again.";
  }
  if (const auto closed = targets.front().pinpoint.closed_at()) {
    return fmt::format("look at {} under the microscope.", board.place_name(*closed));
  }
  return suspects.empty()
             ? "check the file against the board."
             : fmt::format("mend {}, then sweep again.", suspect_text(board, suspects.front()));
}

/// Asks, and puts the vias into the board file.
void write_vias(std::ostream& out, const PinpointOptions& options, const Board& board,
                const std::vector<Target>& targets, Lines& lines) {
  std::vector<graph::FoundVia> found;
  std::string names;
  for (const Target& target : targets) {
    for (const SlideVia& via : target.vias) {
      found.push_back(
          {via.name, via.xy, {graph::Side::top, graph::Side::bottom}, board[target.net].name});
      names += (names.empty() ? "" : ", ") + via.name;
    }
  }
  if (found.empty()) {
    return;
  }
  offer_to_file(out, options.board, names, lines, [&](const std::string& text) {
    return graph::splice_vias(text, found, options.board);
  });
}

}  // namespace

ExitStatus pinpoint_opens(const PinpointOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  std::optional<graph::BreakHistory> history;
  if (!options.history.empty()) {
    history = history_in(options.history, options.job, board);
  }
  std::vector<Target> targets =
      SweepFile(board, options.after, history ? &*history : nullptr).targets();
  if (targets.empty()) {
    throw UsageError(fmt::format("{} has no open to pinpoint", options.after));
  }
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();
  graph::Hookup most =
      std::max_element(targets.begin(), targets.end(), [](const Target& a, const Target& b) {
        return a.held.size() < b.held.size();
      })->leads();
  const std::size_t needles = options.two_needles ? 2 : 1;
  for (std::size_t needle = 0; needle < needles; ++needle) {
    most.leads.push_back({static_cast<std::uint16_t>(most.leads.size() + 1), most.leads[0].point});
  }
  TesterConnection connection(board, most,
                              {options.port, options.simulate, options.defects, options.channels});
  const std::vector<std::string> sharpened = sharpened_of(targets);
  if (!sharpened.empty()) {
    fmt::print(text, "Likelihoods of {}: {}.\n", listed(sharpened, 8),
               sharpened_text(history->jobs));
  }
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  KeptRun kept(options.job, "pinpoint", board_options_json(options.board), board, options.board);
  kept.met_tester(connection.session().capabilities(), connection.label());
  InputLines typed;
  ButtonLines lines(typed, connection.session());
  Sound sound(text, options.sound && connection.bench() == nullptr);
  const bool person = options.keys || connection.bench() == nullptr;
  Hunt hunt(connection.session(), board, connection.bench(), person ? &lines : nullptr, needles,
            sound, kept.record(), text);
  bool to_the_end = false;
  std::string failure;
  std::string not_kept;
  try {
    to_the_end = hunt.run(targets);
  } catch (const session::TesterError& error) {
    failure = error.what();
  } catch (const RecordError& error) {
    not_kept = error.what();
  }
  text << '\n';
  for (const Target& target : targets) {
    write_result(text, board, target);
  }
  write_vias(text, options, board, targets, lines);
  const ExitStatus status = !failure.empty() || !not_kept.empty() ? ExitStatus::failed
                            : hunt.live()                         ? ExitStatus::refused
                            : to_the_end                          ? ExitStatus::findings
                                                                  : ExitStatus::incomplete;
  ordered_json report = to_json(board, options, targets);
  if (!sharpened.empty()) {
    report["history"] = {{"jobs", history->jobs}, {"findings", sharpened}};
  }
  try {
    kept.end(verdict_word(status), report.dump());
  } catch (const RecordError& error) {
    not_kept = error.what();
  }
  if (json_output.wanted()) {
    json_output.write(report.dump(1) + "\n");
  }
  if (!not_kept.empty()) {
    fmt::print(text,
               "NO LONGER KEPT: {}\nNext: pinpoint again, once the job can be written; what was "
               "heard is above.\n",
               not_kept);
    return ExitStatus::failed;
  }
  if (!failure.empty()) {
    fmt::print(text,
               "THE TESTER FAILED: {}\nNext: see to the tester and its cable, then pinpoint "
               "again; what was heard is above.\n",
               failure);
    return status;
  }
  if (hunt.live()) {
    write_refusal(text, board, hunt);
    return status;
  }
  std::string next = next_step(board, targets, to_the_end);
  if (to_the_end && kept.job() != nullptr && has_sweep(*kept.job())) {
    next.erase(next.find_last_not_of('.') + 1);
    next += fmt::format("; where the file is wrong: padwalk settle {}", options.job);
  }
  fmt::print(text, "Next: {}\n", next);
  return status;
}

}  // namespace padwalk::tools
