// SPDX-License-Identifier: MIT
//
// `padwalk compare`: two board files side by side, nets matched by their points.
#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <iostream>
#include <nlohmann/json.hpp>
#include <optional>

#include "graph/compare.hpp"
#include "tools/board_file.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::BoardsCompared;
using graph::MovedPoint;
using graph::NetDifference;
using graph::NetId;
using graph::PointId;

constexpr std::size_t kMostNamed = 12;

std::string net_of(const Board& board, PointId point) {
  const NetId net = board[point].net;
  return net == graph::kNoNet ? "no net" : fmt::format("net {}", board[net].name);
}

std::vector<std::pair<NetId, NetId>> renamed(const Board& a, const Board& b,
                                             const BoardsCompared& compared) {
  std::vector<std::pair<NetId, NetId>> all;
  std::copy_if(compared.same.begin(), compared.same.end(), std::back_inserter(all),
               [&](const auto& pair) { return a[pair.first].name != b[pair.second].name; });
  return all;
}

void write_difference(std::ostream& out, const Board& a, const Board& b,
                      const NetDifference& difference) {
  const std::string in_a =
      difference.a.empty() ? "no net" : listed(names_of(a, difference.a), kMostNamed);
  const std::string in_b =
      difference.b.empty() ? "no net" : listed(names_of(b, difference.b), kMostNamed);
  const bool apart = difference.a.size() == 1 && difference.b.size() > 1;
  const bool joined = difference.a.size() > 1 && difference.b.size() == 1;
  fmt::print(out, "DIFFERS  {} in the first, {} in the second{}\n", in_a, in_b,
             apart    ? ": apart there"
             : joined ? ": joined there"
                      : "");
  std::size_t shown = 0;
  for (const MovedPoint& point : difference.moved) {
    if (++shown > kMostNamed) {
      fmt::print(out, "      and {} more (--json lists all)\n",
                 difference.moved.size() - kMostNamed);
      return;
    }
    fmt::print(out, "      {}: in {} there, {} here\n", a[point.a].name, net_of(b, point.b),
               net_of(a, point.a));
  }
}

void write_text(std::ostream& out, const Board& a, const Board& b, const CompareOptions& options,
                const BoardsCompared& compared) {
  fmt::print(out, "first:  {} ({})\nsecond: {} ({})\n", options.first, a.name(), options.second,
             b.name());
  for (const NetDifference& difference : compared.differences) {
    write_difference(out, a, b, difference);
  }
  const auto other_names = renamed(a, b, compared);
  if (!other_names.empty()) {
    std::vector<std::string> names;
    for (const auto& [one, other] : other_names) {
      names.push_back(fmt::format("{} is {}", a[one].name, b[other].name));
    }
    fmt::print(out, "The same under another name: {}\n", listed(names, kMostNamed));
  }
  const auto only = [&](const Board& board, const std::vector<PointId>& points, const char* which) {
    if (!points.empty()) {
      fmt::print(out, "Only in the {}: {}\n", which, listed(names_of(board, points), kMostNamed));
    }
  };
  only(a, compared.only_a, "first");
  only(b, compared.only_b, "second");
  fmt::print(out, "{} net{} the same, {} difference{}.\n", compared.same.size(),
             compared.same.size() == 1 ? "" : "s", compared.differences.size(),
             compared.differences.size() == 1 ? "" : "s");
  fmt::print(out, "Next: {}\n",
             compared.differences.empty()
                 ? "nothing; their nets agree."
                 : "sweep the board with both files: what it is, only it can say.");
}

nlohmann::ordered_json to_json(const Board& a, const Board& b, const CompareOptions& options,
                               const BoardsCompared& compared) {
  using Json = nlohmann::ordered_json;
  Json json;
  json["padwalk"] = "compare/1";
  json["first"] = {{"name", a.name()}, {"file", options.first}};
  json["second"] = {{"name", b.name()}, {"file", options.second}};
  json["same"] = compared.same.size();
  json["renamed"] = Json::array();
  for (const auto& [one, other] : renamed(a, b, compared)) {
    json["renamed"].push_back({a[one].name, b[other].name});
  }
  json["differences"] = Json::array();
  for (const NetDifference& difference : compared.differences) {
    Json one;
    one["first"] = names_of(a, difference.a);
    one["second"] = names_of(b, difference.b);
    one["moved"] = Json::array();
    for (const MovedPoint& point : difference.moved) {
      one["moved"].push_back(a[point.a].name);
    }
    json["differences"].push_back(std::move(one));
  }
  json["only_first"] = names_of(a, compared.only_a);
  json["only_second"] = names_of(b, compared.only_b);
  return json;
}

}  // namespace

ExitStatus compare_two_boards(const CompareOptions& options) {
  const LoadedBoard first = load_board(options.first);
  const LoadedBoard second = load_board(options.second);
  JsonOutput json_output(options.json);
  const BoardsCompared compared = graph::compare_boards(first.board, second.board);
  write_text(json_output.text(), first.board, second.board, options, compared);
  if (json_output.wanted()) {
    json_output.write(to_json(first.board, second.board, options, compared).dump(1) + "\n");
  }
  return compared.differences.empty() ? ExitStatus::good : ExitStatus::findings;
}

}  // namespace padwalk::tools
