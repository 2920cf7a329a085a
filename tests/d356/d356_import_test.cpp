// SPDX-License-Identifier: MIT
//
// Imports of real netlists of open-hardware boards, with the counts that were taken from the files
// by other means. The files lie beside the project; where they are absent ctest skips this.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <sstream>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "graph/yaml_reader.hpp"

namespace {

using namespace padwalk::graph;

const std::string kFolder = PADWALK_NETLISTS;

/// Counts: `grep -c ^317` and the like; nets: `cut -c4-17 | sort -u` without N/C and blanks.
struct Expected {
  const char* file;
  std::map<int, std::size_t> codes;
  std::size_t nets;
  std::size_t unconnected;
};

const std::vector<Expected> kFiles = {
    {"board-01.d356", {{317, 2120}, {327, 24}, {367, 2}}, 260, 2},
    {"board-02.d356", {{317, 562}, {327, 60}, {367, 2}}, 91, 2},
    {"board-03.d356", {{317, 46}, {327, 36}}, 30, 0},
    {"board-04.d356", {{317, 132}, {327, 25}, {367, 2}}, 41, 10},
    {"board-10.d356", {{317, 31}, {327, 8}, {367, 2}}, 7, 0},
    {"board-12.d356", {{17, 44}, {317, 412}, {327, 776}, {367, 1}}, 174, 14},
    {"board-21.d356", {{317, 22}, {327, 12}}, 5, 12},
};

std::size_t lines_of(const Expected& expected, int code) {
  const auto found = expected.codes.find(code);
  return found == expected.codes.end() ? 0 : found->second;
}

/// How many lines have that code and net, and that part in columns 21 to 26.
std::size_t lines_with(const std::string& text, const std::string& begin, const std::string& part) {
  std::istringstream lines(text);
  std::size_t count = 0;
  for (std::string line; std::getline(lines, line);) {
    count += line.rfind(begin, 0) == 0 && line.compare(20, part.size(), part) == 0 ? 1 : 0;
  }
  return count;
}

}  // namespace

TEST_CASE("every netlist imports with the counts of its file", "[d356]") {
  for (const Expected& expected : kFiles) {
    INFO(expected.file);
    const std::string path = kFolder + "/" + expected.file;
    const std::string text = read_file(path);
    Diagnostics diagnostics(path);
    IpcSummary summary;
    const BoardDescription description = read_ipc356(text, std::nullopt, diagnostics, summary);
    CHECK(diagnostics.errors().empty());
    CHECK(summary.codes == expected.codes);
    CHECK(summary.records ==
          lines_of(expected, 317) + lines_of(expected, 327) + lines_of(expected, 367));
    CHECK(summary.tooling_holes == lines_of(expected, 367));
    CHECK(summary.nets == expected.nets);
    CHECK(summary.unconnected == expected.unconnected);
    CHECK(description.state == BoardState::bare);

    std::size_t pins = 0;
    for (const PartDescription& part : description.parts) {
      pins += part.pins.size();
    }
    const std::size_t vias = lines_with(text, "317", "VIA ");
    CHECK(std::count_if(description.points.begin(), description.points.end(),
                        [](const PointDescription& point) { return !point.via.empty(); }) ==
          static_cast<long>(vias));
    CHECK(pins + description.points.size() == lines_of(expected, 317) + lines_of(expected, 327));

    const Board board(description, diagnostics);
    CHECK(diagnostics.errors().empty());
    CHECK(board.points().size() == pins + description.points.size() + vias);
    CHECK(board.listed_nets() == expected.nets);
    std::size_t in_no_net = 0;
    for (const Point& point : board.points()) {
      in_no_net += point.net == kNoNet || !board[point.net].listed ? 1 : 0;
    }
    CHECK(in_no_net ==
          expected.unconnected + lines_with(text, "317N/C ", "VIA "));  // these have two sides
  }
}

TEST_CASE("read, rewrite, read gives the same board", "[d356]") {
  for (const Expected& expected : kFiles) {
    INFO(expected.file);
    Diagnostics diagnostics(expected.file);
    IpcSummary summary;
    const BoardDescription description =
        read_ipc356(read_file(kFolder + "/" + expected.file), std::nullopt, diagnostics, summary);
    const std::string written = write_board(description);
    Diagnostics of_rewritten("rewritten");
    const BoardDescription again = read_board(written, of_rewritten);
    CHECK(of_rewritten.errors().empty());
    CHECK(of_rewritten.warnings().empty());
    CHECK(without_marks(again) == without_marks(description));
    CHECK(write_board(again) == written);
  }
}

TEST_CASE("what single lines of the real netlists become", "[d356]") {
  const auto import = [](const std::string& file) {
    Diagnostics diagnostics(file);
    IpcSummary summary;
    return Board(read_ipc356(read_file(kFolder + "/" + file), std::nullopt, diagnostics, summary),
                 diagnostics);
  };
  SECTION("a via with a pad on each side, an alias, an inner name with a blank") {
    const Board board = import("board-12.d356");
    CHECK(board.description().layers == 6);
    const std::string text = read_file(kFolder + "/board-12.d356");
    const std::size_t job = text.find("P  JOB   ") + 9;
    CHECK(board.name() == text.substr(job, text.find(' ', job) - job));
    CHECK(board.find_net("INIT_SURVEY_SEL"));
    CHECK(!board.find_net("m0000"));
    CHECK(board.find_net("ISO_DF_ DCD"));
    CHECK(board.find_point("J4.50"));
  }
  SECTION("an edge connector: two nets at one position, on two sides") {
    const Board board = import("board-03.d356");
    const auto top = board.find_point("U1.19");
    const auto bottom = board.find_point("U1.1");
    REQUIRE((top && bottom));
    CHECK(board[*top].xy == board[*bottom].xy);
    CHECK(board[board[*top].first].side == Side::top);
    CHECK(board[board[*bottom].first].side == Side::bottom);
  }
  SECTION("metric positions") {
    const Board board = import("board-21.d356");
    const auto pin = board.find_point("D1.4");
    REQUIRE(pin);
    CHECK(board[*pin].xy == Xy{-0.62, 39.14});
  }
}

TEST_CASE("boards whose netlists draw conductors get the ways of their nets", "[d356]") {
  // No way is claimed of a file that draws nothing. Those that draw are not kept everywhere.
  std::vector<std::string> files;
  for (const auto& entry : std::filesystem::directory_iterator(kFolder)) {
    if (entry.path().extension() == ".d356") {
      files.push_back(entry.path().string());
    }
  }
  std::sort(files.begin(), files.end());
  REQUIRE(files.size() >= kFiles.size());
  for (const std::string& path : files) {
    INFO(path);
    Diagnostics diagnostics(path);
    IpcSummary summary;
    const BoardDescription description =
        read_ipc356(read_file(path), std::nullopt, diagnostics, summary);
    const std::size_t drawn = summary.codes.count(378) != 0 ? summary.codes.at(378) : 0;
    std::size_t with_route = 0;
    for (const NetDescription& net : description.nets) {
      with_route += net.route.empty() ? 0 : 1;
    }
    CHECK(with_route == summary.routed + summary.routed_in_part);
    CHECK((drawn > 0) == (with_route > 0));
    const Board board(description, diagnostics);
    CHECK(board.listed_nets() == summary.nets);
    if (drawn > 0) {
      WARN(path << ": " << drawn << " records 378; the way is known of " << summary.routed
                << " nets, in part of " << summary.routed_in_part << ", of " << summary.nets);
    }
  }
}
