// SPDX-License-Identifier: MIT
//
// `padwalk pinpoint`: after a sweep, the tip goes where it tells most, until each break is one
// segment, or what no touch can tell from it. One lead holds each piece; the tip is one lead more.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <array>
#include <iostream>
#include <nlohmann/json.hpp>

#include "graph/pinpoint.hpp"
#include "graph/plan.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/board_file.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"
#include "tools/sweep_report.hpp"
#include "tools/tester_connection.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PlaceId;
using graph::PointId;
using graph::Side;
using nlohmann::ordered_json;

constexpr graph::TouchTimes kTimes{4, 15};  // s, as a fixtures file says where it says nothing

/// One open of the sweep, and how far it is pinned down.
struct Target {
  std::string id;
  std::string net;
  std::vector<PointId> held;  ///< one of each piece
  graph::Pinpoint pinpoint;
  std::size_t touches = 0;
  bool given_up = false;  ///< by the person
};

[[noreturn]] void refuse_file(const std::string& file, const std::string& what) {
  throw graph::BadFile(
      fmt::format("{}: {}; expected what 'padwalk sweep --json' writes", file, what));
}

/// One finding's pieces as places. Errors: BadFile where the board has no such point.
graph::OpenCase read_case(const Board& board, const std::string& file,
                          const ordered_json& finding) {
  graph::OpenCase open;
  const auto point_of = [&](const ordered_json& name) {
    const auto point = board.find_point(name.get<std::string>());
    if (!point) {
      refuse_file(file, fmt::format("the board has no point {}", name.get<std::string>()));
    }
    return *point;
  };
  for (const ordered_json& piece : finding.at("pieces")) {
    open.pieces.emplace_back();
    for (const ordered_json& name : piece) {
      const PointId point = point_of(name);
      open.net = board[point].net;
      open.pieces.back().push_back(board[point].held);
    }
  }
  for (const ordered_json& suspect : finding.at("suspects")) {
    if (suspect.at("kind") == "contact" && suspect.contains("point")) {
      open.contact_doubtful.push_back(point_of(suspect.at("point")));
    }
  }
  return open;
}

std::vector<Target> read_targets(const Board& board, const std::string& file) {
  std::vector<Target> targets;
  try {
    const ordered_json sweep = ordered_json::parse(graph::read_file(file));
    if (sweep.at("padwalk") != "sweep/1") {
      refuse_file(file, fmt::format("it is {}", sweep.at("padwalk").dump()));
    }
    for (const ordered_json& finding : sweep.at("findings")) {
      if (finding.at("kind") != "open" && finding.at("kind") != "high resistance") {
        continue;
      }
      graph::OpenCase open = read_case(board, file, finding);
      std::vector<PointId> held;
      for (const std::vector<PlaceId>& piece : open.pieces) {
        held.push_back(board[piece.front()].point);
      }
      targets.push_back({finding.at("id"), finding.at("net"), std::move(held),
                         graph::Pinpoint(board, std::move(open), kTimes)});
    }
  } catch (const ordered_json::exception&) {
    refuse_file(file, "it cannot be read as JSON of a sweep");
  }
  return targets;
}

/// Where the leads are for one target: channel 1, 2, … on its pieces, the tip behind them.
graph::Hookup leads_for(const Target& target) {
  graph::Hookup hookup;
  for (const PointId point : target.held) {
    hookup.leads.push_back({static_cast<std::uint16_t>(hookup.leads.size() + 1), point});
  }
  return hookup;
}

/// The person's hands and answers; a simulated bench answers at once.
class Tip {
 public:
  Tip(std::ostream& out, const Board& board, SimulatedBench* bench)
      : out_(out), board_(board), bench_(bench) {}

  /// False: whoever closes the terminal goes away.
  bool hold(const Target& target, const graph::Hookup& leads) {
    fmt::print(out_, "{}  net {}, {} places may be broken\n", target.id, target.net,
               target.pinpoint.suspects().suspects.size());
    for (const graph::Lead& lead : leads.leads) {
      fmt::print(out_, "      lead {} on {}\n", lead.channel, board_[lead.point].name);
    }
    fmt::print(out_, "      the tip is lead {}; press Enter: ", leads.leads.size() + 1);
    if (bench_ != nullptr) {
      bench_->touch(leads);
    }
    return answer() != "s";
  }

  void turn(Side side) {
    fmt::print(out_, "      turn the board: {} up\n",
               side == Side::top ? "component side" : "solder side");
  }

  /// "": it is there; "n": it cannot be reached; "s": stop.
  std::string touch(PlaceId place, const graph::Hookup& leads, bool again) {
    fmt::print(out_, "      {} {}, press Enter{}: ", again ? "nothing: once more" : "touch",
               board_.place_name(place), again ? "" : " (n: cannot reach, s: stop)");
    if (bench_ != nullptr) {
      bench_->touch(leads);
    }
    return answer();
  }

 private:
  std::string answer() {
    out_.flush();
    std::string line;
    if (bench_ != nullptr) {
      out_ << '\n';
      return line;
    }
    return std::getline(std::cin, line) ? line : "s";
  }

  std::ostream& out_;
  const Board& board_;
  SimulatedBench* bench_;
};

/// A board that is live, said as the other commands say it.
struct Live {
  std::vector<session::LiveChannel> channels;
  std::optional<double> tied_ohm;
};

class Hunt {
 public:
  Hunt(session::Session& session, const Board& board, Tip& tip, std::ostream& out)
      : session_(session), board_(board), tip_(tip), out_(out), limits_(graph::limits_for(board)) {}

  /// All that this side can tell, then the other side. Throws Live.
  void run(std::vector<Target>& targets) {
    for (bool more = true; more && !stopped_;) {
      more = false;
      std::optional<Side> turn_to;
      for (Target& target : targets) {
        const auto place = target.given_up ? std::nullopt : target.pinpoint.next(up_.side());
        const Side side = place ? board_[*place].side : Side::unknown;
        if (place && up_.must_turn(side)) {
          turn_to = turn_to.value_or(side);
        } else if (place && !stopped_) {
          more = true;
          hunt(target);
        }
      }
      if (!more && turn_to && !stopped_) {
        tip_.turn(*turn_to);
        up_.turn_to(*turn_to);
        more = true;
      }
    }
  }

  bool stopped() const { return stopped_; }

 private:
  /// One target, for as long as the board need not be turned.
  void hunt(Target& target) {
    const graph::Hookup leads = leads_for(target);
    if (!tip_.hold(target, leads)) {
      stopped_ = true;
      return;
    }
    session_.leads_moved();
    std::vector<session::Channel> channels;
    for (const graph::Lead& lead : leads.leads) {
      channels.push_back(lead.channel);
    }
    check(session_.power_check(channels));
    while (const auto place = target.pinpoint.next(up_.side())) {
      if (up_.must_turn(board_[*place].side)) {
        return;
      }
      std::optional<std::vector<std::size_t>> heard;
      for (const bool again : {false, true}) {
        heard = touch(target, leads, *place, again);
        if (!heard || !heard->empty()) {
          break;
        }
      }
      if (!heard) {
        if (stopped_) {
          return;
        }
        target.pinpoint.cannot_reach(*place);
        continue;
      }
      say(target, *heard);
      target.pinpoint.heard(*place, *heard, false);
    }
  }

  /// The pieces that the tip conducts to there; nothing: it was not touched.
  std::optional<std::vector<std::size_t>> touch(Target& target, graph::Hookup leads, PlaceId place,
                                                bool again) {
    const auto channel = static_cast<std::uint16_t>(leads.leads.size() + 1);
    leads.leads.push_back({channel, board_[place].point, place});
    const std::string answer = tip_.touch(place, leads, again);
    stopped_ = stopped_ || answer == "s";
    if (!answer.empty()) {
      return std::nullopt;
    }
    ++target.touches;
    const std::array<session::Channel, 1> tip = {channel};
    check(session_.power_check_more(tip));
    std::vector<session::Request> requests;
    for (std::size_t piece = 0; piece < target.held.size(); ++piece) {
      session::Request request;
      request.source = {channel};
      request.sink = {static_cast<session::Channel>(piece + 1)};
      request.purpose = session::Purpose::continuity;
      requests.push_back(std::move(request));
    }
    const std::vector<session::Measurement> measured = session_.measure(requests);
    std::vector<std::size_t> conducted_to;
    for (std::size_t piece = 0; piece < measured.size(); ++piece) {
      if (measured[piece].settled && measured[piece].ohm <= limits_.short_up_to_ohm) {
        conducted_to.push_back(piece);
      }
    }
    return conducted_to;
  }

  void say(const Target& target, const std::vector<std::size_t>& heard) {
    if (heard.size() == 1) {
      fmt::print(out_, "      with {}\n", board_[target.held[heard.front()]].name);
    } else if (heard.empty()) {
      fmt::print(out_, "      still nothing: it may be cut off, or the tip has no contact\n");
    } else {
      fmt::print(out_, "      with both: the touch itself closes the break\n");
    }
  }

  static void check(const session::PowerCheck& check) {
    if (!check.passed) {
      throw Live{check.live, check.tied_ohm};
    }
  }

  session::Session& session_;
  const Board& board_;
  Tip& tip_;
  std::ostream& out_;
  graph::Limits limits_;
  graph::SideUp up_;
  bool stopped_ = false;
};

void write_result(std::ostream& out, const Board& board, const Target& target) {
  const auto& suspects = target.pinpoint.suspects().suspects;
  fmt::print(out, "{}  net {}, after {} touch{}:\n", target.id, target.net, target.touches,
             target.touches == 1 ? "" : "es");
  if (target.pinpoint.closed_at()) {
    fmt::print(out, "      at {}: pressed by the tip it conducts\n",
               board.place_name(*target.pinpoint.closed_at()));
  }
  for (const graph::OpenSuspect& suspect : suspects) {
    fmt::print(out, "      {}{}\n", suspect_text(board, suspect),
               suspects.size() > 1 ? fmt::format(" ({:.0f} in 10)", suspect.likelihood * 10)
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
    one["net"] = target.net;
    one["touches"] = target.touches;
    one["suspects"] = ordered_json::array();
    for (const graph::OpenSuspect& suspect : target.pinpoint.suspects().suspects) {
      ordered_json what;
      if (suspect.segment) {
        const graph::Segment& segment = board[*suspect.segment];
        what["kind"] = graph::segment_kind_name(segment.kind);
        what["segment"] = {board.place_name(segment.a), board.place_name(segment.b)};
      } else {
        what["kind"] = "contact";
        what["point"] = board[suspect.contact].name;
      }
      what["likelihood"] = suspect.likelihood;
      one["suspects"].push_back(std::move(what));
    }
    const auto closed = target.pinpoint.closed_at();
    one["closed_at"] = closed ? ordered_json(board.place_name(*closed)) : ordered_json();
    json["findings"].push_back(std::move(one));
  }
  return json;
}

}  // namespace

ExitStatus pinpoint_opens(const PinpointOptions& options) {
  const LoadedBoard loaded = load_board(options.board);
  const Board& board = loaded.board;
  std::vector<Target> targets = read_targets(board, options.after);
  if (targets.empty()) {
    throw UsageError(fmt::format("{} has no open to pinpoint", options.after));
  }
  JsonOutput json_output(options.json);
  std::ostream& text = json_output.text();
  graph::Hookup most = leads_for(*std::max_element(
      targets.begin(), targets.end(),
      [](const Target& a, const Target& b) { return a.held.size() < b.held.size(); }));
  most.leads.push_back({static_cast<std::uint16_t>(most.leads.size() + 1), most.leads[0].point});
  TesterConnection connection(board, most,
                              {options.port, options.simulate, options.defects, options.channels});
  text << "Mains plug out, cell out (memory saved first), big capacitors discharged and metered?\n";
  Tip tip(text, board, connection.bench());
  Hunt hunt(connection.session(), board, tip, text);
  try {
    hunt.run(targets);
  } catch (const Live& live) {
    text
        << (live.tied_ohm
                ? "REFUSED: the board is connected to the computer or to earth.\nNext: unplug it.\n"
                : "REFUSED: there is voltage on the board.\nNext: mains plug out, cell out, big "
                  "capacitors discharged.\n");
    return ExitStatus::refused;
  }
  text << '\n';
  for (const Target& target : targets) {
    write_result(text, board, target);
  }
  const auto& first = targets.front().pinpoint.suspects().suspects;
  fmt::print(text, "Next: {}\n",
             hunt.stopped() ? "pinpoint again to go on; what was heard is above."
             : first.empty()
                 ? "check the file against the board."
                 : fmt::format("mend {}, then sweep again.", suspect_text(board, first[0])));
  if (json_output.wanted()) {
    json_output.write(to_json(board, options, targets).dump(1) + "\n");
  }
  return hunt.stopped() ? ExitStatus::incomplete : ExitStatus::findings;
}

}  // namespace padwalk::tools
