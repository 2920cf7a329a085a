// SPDX-License-Identifier: MIT
//
// Records 379 and 079. Source: IPC-D-356A, columns from memory: 4 to 17 net, then its neighbours
// in columns 19 to 32, 34 to 47, 49 to 62 and 64 to 77. A continuation has the same columns, or
// its names from column 5 on; a writer that pads no names leaves blanks between them. The layout
// with the fewest names that are no nets of the file is taken.
#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <tuple>

#include "graph/ipc356_records.hpp"
#include "graph/ipc356_routes.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kNameStep = kIpcNetColumns + 1;
constexpr std::size_t kFirstNeighbour = 19;
constexpr std::size_t kFirstContinued = 5;

std::vector<std::string_view> names_in_columns(std::string_view text, std::size_t first) {
  std::vector<std::string_view> names;
  for (; first <= text.size(); first += kNameStep) {
    const std::string_view name = ipc_columns(text, first, first + kIpcNetColumns - 1);
    if (!name.empty()) {
      names.push_back(name);
    }
  }
  return names;
}

std::vector<std::string_view> names_between_blanks(std::string_view text, std::size_t first) {
  std::vector<std::string_view> names;
  text.remove_prefix(std::min(first - 1, text.size()));
  while (!(text = without_blanks(text)).empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    names.push_back(text.substr(0, end));
    text.remove_prefix(end);
  }
  return names;
}

}  // namespace

void add_ipc_neighbours(const IpcNetlist& netlist, const IpcNetIndex& nets, BoardDescription& board,
                        Diagnostics& diagnostics) {
  std::set<std::pair<std::size_t, std::size_t>> pairs;
  std::size_t strange = 0;
  Mark first_strange;
  const auto known = [&](std::string_view name) {
    return name == "N/C" || nets.find(name) != nets.end();
  };
  for (const IpcAdjacency& record : netlist.adjacency) {
    std::vector<std::vector<std::string_view>> layouts = {
        names_in_columns(record.text, kFirstNeighbour)};
    if (record.continues) {
      layouts.push_back(names_in_columns(record.text, kFirstContinued));
    }
    layouts.push_back(names_between_blanks(
        record.text, record.continues ? kFirstContinued - 1 : kFirstNeighbour - 1));
    const auto strangers = [&](const std::vector<std::string_view>& names) {
      return std::count_if(names.begin(), names.end(),
                           [&](std::string_view name) { return !known(name); });
    };
    const std::vector<std::string_view>& names =
        *std::min_element(layouts.begin(), layouts.end(), [&](const auto& one, const auto& other) {
          return std::tuple(one.empty(), strangers(one), other.size()) <
                 std::tuple(other.empty(), strangers(other), one.size());
        });
    const auto net = nets.find(record.net);
    for (const std::string_view name : names) {
      const auto other = nets.find(name);
      if (net != nets.end() && other != nets.end()) {
        if (net->second != other->second) {
          pairs.insert(std::minmax(net->second, other->second));
        }
      } else if (name != "N/C" && record.net != "N/C") {
        const std::size_t column =
            net == nets.end() ? 4 : static_cast<std::size_t>(name.data() - record.text.data()) + 1;
        first_strange =
            strange++ == 0 ? Mark{record.line, static_cast<int>(column)} : first_strange;
      }
    }
  }
  for (const auto& [a, b] : pairs) {
    const Mark mark = board.nets[a].mark;
    if (board.neighbours.empty() || board.neighbours.back().name != board.nets[a].name) {
      board.neighbours.push_back({board.nets[a].name, {}, mark});
    }
    board.neighbours.back().nets.push_back({board.nets[b].name, mark});
  }
  if (strange > 0) {
    diagnostics.warning(first_strange, fmt::format("a record of neighbours names a net that has no "
                                                   "points here; it is left out (names like this: "
                                                   "{})",
                                                   strange));
  }
}

}  // namespace padwalk::graph
