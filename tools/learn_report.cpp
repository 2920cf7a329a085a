// SPDX-License-Identifier: MIT
#include "tools/learn_report.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "tools/json_values.hpp"
#include "tools/name_list.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using LearnJson = nlohmann::ordered_json;

constexpr std::size_t kNamedPoints = 8;
constexpr std::size_t kNamedLinks = 12;
constexpr double kLearnVolt = 0.2;

std::string counted(std::size_t count, std::string_view what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : "s");
}

std::string learn_verdict(const LearnReport& report) {
  switch (report.status()) {
    case ExitStatus::refused:
      return "refused";
    case ExitStatus::good:
      return "learned";
    case ExitStatus::incomplete:
      return "incomplete";
    default:
      return "failed";
  }
}

std::size_t points_in_nets(const LearnReport& report) {
  std::size_t points = 0;
  for (const graph::LearnedNet& net : report.nets.nets) {
    points += net.points.size();
  }
  return points;
}

LearnJson link_json(const graph::LearnedLink& link) {
  LearnJson json = {{"between", {link.a, link.b}},
                    {"ohm", link.pair.number && link.pair.settled ? json_number(link.pair.ohm)
                                                                  : LearnJson(nullptr)},
                    {"uncertainty_ohm", json_number(link.pair.uncertainty_ohm)}};
  if (!link.pair.settled) {
    json["capacitor"] = true;
  }
  if (link.pair.intermittent) {
    json["intermittent"] = true;
  }
  return json;
}

std::string next_after_learning(const LearnReport& report) {
  if (!report.sweep.failure.empty()) {
    return "see to the tester and its cable, then learn again; no file was written.";
  }
  return report.sweep.interrupted ? "learn again and let it finish; no file was written."
                                  : fmt::format("padwalk check --lint {}", report.output);
}

}  // namespace

ExitStatus LearnReport::status() const {
  return sweep.refused            ? ExitStatus::refused
         : !sweep.failure.empty() ? ExitStatus::failed
         : sweep.interrupted || !never_together.empty() || !sweep.not_reached.empty()
             ? ExitStatus::incomplete
             : ExitStatus::good;
}

std::vector<std::string> not_learned(const Board& board, const LearnReport& report) {
  std::vector<std::string> all = {
      "which way the copper of a group runs, and which group is ground where no type of a chip "
      "says so",
      fmt::format("leaks and parts: what joins groups with more than {} was not held against a "
                  "limit; sweep the board with its new file",
                  graph::ohm_text(report.joined_ohm))};
  if (report.sweep.moves > 0) {
    all.push_back("whether each clip and plug sat right: there was nothing to hold it against");
  }
  if (!report.silent.empty()) {
    all.push_back(fmt::format("joined to nothing, or the lead touched no metal{}: {}",
                              report.asked ? ", re-seated once" : "",
                              listed(names_of(board, report.silent), kNamedPoints)));
  }
  if (!report.nets.across_copper.empty()) {
    all.push_back(fmt::format(
        "both ends of these are one group, by copper or through themselves; a fuse, a link, a "
        "closed switch look like copper: {}",
        listed(names_of(board, report.nets.across_copper), kNamedPoints)));
  }
  if (!report.no_lead.empty()) {
    all.push_back(fmt::format("had no lead, so that the file has them in no net: {}",
                              listed(names_of(board, report.no_lead), kNamedPoints)));
  }
  if (!report.sweep.not_reached.empty()) {
    all.push_back(fmt::format("the tip could not reach: {}",
                              listed(names_of(board, report.sweep.not_reached), kNamedPoints)));
  }
  if (!report.never_together.empty()) {
    std::vector<std::string> pairs;
    for (const auto& [a, b] : report.never_together) {
      pairs.push_back(fmt::format("{} and {}", board[a].name, board[b].name));
    }
    all.push_back(fmt::format("never had a lead at one time, so they may be joined: {}",
                              listed(pairs, kNamedPoints)));
  }
  return all;
}

void write_learn_json(std::ostream& out, const Board& board, const LearnReport& report) {
  const SweepReport& sweep = report.sweep;
  LearnJson json;
  json["padwalk"] = "learn/1";
  json["verdict"] = learn_verdict(report);
  json["board"] = {{"file", report.to_the_end() ? LearnJson(report.output) : LearnJson(nullptr)},
                   {"state", board.assembled() ? "assembled" : "bare"},
                   {"points", board.points().size()}};
  json["tester"] = json_tester(sweep);
  json["volt"] = kLearnVolt;
  json["joined_up_to_ohm"] = report.joined_ohm;
  json["hookups"] = sweep.hookups;
  json["moves"] = sweep.moves;
  json["touches"] = sweep.touches;
  json["attached"] = sweep.hookup.leads.size();
  json["groups"] = LearnJson::array();
  for (const graph::LearnedNet& net : report.nets.nets) {
    json["groups"].push_back({{"net", net.name},
                              {"role", graph::word_for(net.role)},
                              {"points", names_of(board, net.points)}});
  }
  json["alone"] = names_of(board, report.nets.alone);
  json["between"] = LearnJson::array();
  for (const graph::LearnedLink& link : report.nets.links) {
    json["between"].push_back(link_json(link));
  }
  json["no_contact_proven"] = names_of(board, report.silent);
  json["looks_like_copper"] = names_of(board, report.nets.across_copper);
  json["never_together"] = LearnJson::array();
  for (const auto& [a, b] : report.never_together) {
    json["never_together"].push_back({board[a].name, board[b].name});
  }
  json["settings"] = sweep.link.settings;
  json["follow_settings"] = report.follow_settings;
  json["readings"] = {{"power_check", sweep.power_readings},
                      {"follow", report.follow_readings},
                      {"current", report.current_readings},
                      {"repeat", sweep.repeated},
                      {"retry", sweep.link.retries}};
  json["rest_limit_volt"] = sweep.power_limit_volt;
  json["seconds"] = sweep.seconds;
  json["not_learned"] = not_learned(board, report);
  add_refusal_or_failure(board, sweep, json);
  out << json.dump(1) << '\n';
}

void write_learn_text(std::ostream& out, const Board& board, const LearnReport& report) {
  const SweepReport& sweep = report.sweep;
  fmt::print(
      out, "{} parts ({}), {}\n\n", board.parts().size(), board.assembled() ? "assembled" : "bare",
      sweep.port == "simulated" ? "on a simulated tester"
                                : fmt::format("tester {} on {}", sweep.tester.unit, sweep.port));
  if (sweep.refused) {
    write_refusal(out, board, sweep, "learn");
    return;
  }
  if (!sweep.failure.empty()) {
    fmt::print(out, "THE TESTER FAILED: {}\n", sweep.failure);
  } else if (sweep.interrupted) {
    fmt::print(out, "INTERRUPTED: what was read until then is no board yet.\n");
  } else {
    fmt::print(out,
               "Copper joins {} of {} points into {}; {} alone. Read at {} V; copper has {} at "
               "most.\n",
               points_in_nets(report), sweep.hookup.leads.size(),
               counted(report.nets.nets.size(), "group"),
               counted(report.nets.alone.size(), "point"), kLearnVolt,
               graph::ohm_text(report.joined_ohm));
    std::vector<std::string> links;
    std::transform(report.nets.links.begin(), report.nets.links.end(), std::back_inserter(links),
                   graph::link_text);
    if (!links.empty()) {
      fmt::print(out, "Joined by parts or by a leak, not by copper:\n");
      for (std::size_t i = 0; i < std::min(links.size(), kNamedLinks); ++i) {
        fmt::print(out, "      {}\n", links[i]);
      }
      if (links.size() > kNamedLinks) {
        fmt::print(out, "      and {} more (the file has all)\n", links.size() - kNamedLinks);
      }
    }
    fmt::print(out, "What was not learned:\n");
    for (const std::string& sentence : not_learned(board, report)) {
      fmt::print(out, "      {}\n", sentence);
    }
    if (sweep.hookups > 1 || sweep.touches > 0) {
      fmt::print(out, "Done: {}, {} put on, {} touch{}.\n", counted(sweep.hookups, "hookup"),
                 counted(sweep.moves, "fixture"), sweep.touches, sweep.touches == 1 ? "" : "es");
    }
    fmt::print(out,
               "Written: {}: {}, {}, {} of unknown way; {} readings in {} settings, {:.3g} s.\n",
               report.output, counted(board.parts().size(), "part"),
               counted(board.points().size(), "point"), counted(report.nets.nets.size(), "net"),
               report.follow_readings + report.current_readings + sweep.repeated,
               sweep.link.settings, sweep.seconds);
  }
  fmt::print(out, "Next: {}\n", next_after_learning(report));
}

}  // namespace padwalk::tools
