// SPDX-License-Identifier: MIT
//
// `padwalk enter`: lines as they are read off a schematic go into the board file one by one. Each
// is in the file before it is said to be taken, so that whatever ends the program takes nothing
// along.
#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <utility>

#include "graph/board_splice.hpp"
#include "graph/board_yaml.hpp"
#include "graph/net_entry.hpp"
#include "graph/yaml_reader.hpp"
#include "tools/input_lines.hpp"
#include "tools/interrupt.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

constexpr const char* kEnterHelp =
    "      U2 DIP-16 74138            a part: name, package, what is printed on it or its value\n"
    "      R7 axial 10 mm 4k7 5%      U10-U17 DIP-14 7400: eight that are alike\n"
    "      TP1 pad                    a test pad; TP1-TP4 pads\n"
    "      CLK U2.7 U9.3 R7.1         points of a net, new or not\n"
    "      +5V U10-U17.14             the same pin of many chips; U2.{1,4-6}: pins of one\n"
    "      D[0:7] U1.{33-26} U5.{2,5,6,9,12,15,16,19}     a bus, a net for each pin in turn\n"
    "      CLK                        alone: what is known of a net, a part or a pin\n"
    "      undo                       takes back the line that was taken last\n"
    "      !                          takes the line that was doubted\n"
    "      nets, q                    all nets; the end (each line is in the file by then)\n";

using EntryKind = graph::EntryAnswer::Kind;

/// The file, the board that it says, and what was put in.
class EnteredFile {
 public:
  explicit EnteredFile(std::string path) : path_(std::move(path)) { reload(); }

  const graph::Board& board() const { return *board_; }
  const std::string& path() const { return path_; }

  /// Takes in what somebody else wrote meanwhile. False: nobody did. Errors: BadFile; what is known
  /// stays as it was.
  bool look_again() {
    const bool changed = graph::read_file(path_) != text_;
    if (changed) {
      reload();
      taken_.clear();
    }
    return changed;
  }

  /// Errors: BadFile and std::runtime_error; the file is then as it was.
  void add(const std::string& line, const graph::BoardAdditions& additions) {
    graph::SplicedText spliced = graph::splice_board(text_, additions, path_);
    replace(std::move(spliced.text));
    taken_.push_back({line, std::move(spliced.insertions)});
  }

  /// The line that is taken back. Nothing: there is none. Errors: as above.
  std::optional<std::string> undo() {
    if (taken_.empty()) {
      return std::nullopt;
    }
    replace(graph::unspliced(text_, taken_.back().insertions).value());
    const std::string line = std::move(taken_.back().line);
    taken_.pop_back();
    return line;
  }

 private:
  struct Taken {
    std::string line;
    std::vector<graph::Insertion> insertions;
  };

  static graph::Board board_of(const std::string& text, const std::string& path) {
    graph::Diagnostics diagnostics(path);
    graph::BoardDescription description = graph::read_board(text, diagnostics);
    diagnostics.throw_if_errors();
    return graph::Board(std::move(description), diagnostics);
  }

  void reload() {
    std::string text = graph::read_file(path_);
    board_.emplace(board_of(text, path_));
    text_ = std::move(text);
  }

  void replace(std::string text) {
    graph::Board board = board_of(text, path_);
    OutputFile(path_).commit(text);
    text_ = std::move(text);
    board_.emplace(std::move(board));
  }

  std::string path_;
  std::string text_;
  std::optional<graph::Board> board_;
  std::vector<Taken> taken_;
};

class Entering {
 public:
  explicit Entering(const std::string& path) : file_(path) {}

  /// True: to the end; false: interrupted.
  bool run();
  bool all_taken() const { return refused_ == 0; }

 private:
  static bool at_terminal() { return isatty(STDIN_FILENO) == 1; }
  void say(const std::string& text) { fmt::print("      {}\n", text); }
  void complain_of(const std::string& text);
  void answer(const std::string& line);
  void take(const std::string& line, const graph::EntryAnswer& answer);
  bool answer_offer(const std::string& line);
  void undo();
  void list_nets();
  void sum_up() const;

  EnteredFile file_;
  std::string doubted_;  ///< the last line, if it was
  std::optional<graph::SupplyOffer> offer_;
  std::size_t line_number_ = 0;
  std::size_t refused_ = 0;
};

std::string parts_and_nets(const graph::Board& board) {
  return fmt::format("{}, {}", count_text(board.parts().size(), "part"),
                     count_text(board.listed_nets(), "net"));
}

std::string without_blanks(std::string_view line) {
  const std::size_t first = line.find_first_not_of(" \t\r");
  const std::size_t last = line.find_last_not_of(" \t\r");
  return first == std::string_view::npos ? "" : std::string(line.substr(first, last - first + 1));
}

/// A pipe does not show the line that is meant.
void Entering::complain_of(const std::string& text) {
  ++refused_;
  say(at_terminal() ? text : fmt::format("line {}: {}", line_number_, text));
}

void Entering::take(const std::string& line, const graph::EntryAnswer& answer) {
  file_.add(line, answer.additions);
  say(answer.text);
  offer_ = graph::offer_supplies(answer.additions, file_.board());
  if (offer_) {
    say(offer_->text + ": Enter takes it, n leaves it");
  }
}

/// Whether the line was for what is offered. Any other line leaves it and stands for itself.
bool Entering::answer_offer(const std::string& line) {
  const std::optional<graph::SupplyOffer> offer = std::exchange(offer_, std::nullopt);
  if (!offer) {
    return false;
  }
  if (line.empty() || line == "y") {
    file_.add(offer->text, offer->additions);
    say("taken");
    return true;
  }
  say("left: " + offer->text);
  return line == "n";
}

void Entering::undo() {
  const auto line = file_.undo();
  say(line ? fmt::format("taken back: {}", *line)
           : "nothing to take back of what was entered since the start");
}

void Entering::list_nets() {
  const graph::Board& board = file_.board();
  for (const graph::Net& net : board.nets()) {
    if (net.listed) {
      std::vector<std::string> points;
      for (const graph::PointId point : net.points) {
        points.push_back(board[point].name);
      }
      say(fmt::format("{}: {}", net.name, listed(points, 8)));
    }
  }
  say(count_text(board.listed_nets(), "net"));
}

void Entering::answer(const std::string& line) {
  if (file_.look_again()) {
    say(fmt::format("{} was changed by somebody else: read again; undo ends here", file_.path()));
    offer_.reset();
  }
  if (answer_offer(line) || line.empty()) {
    return;
  }
  const std::string doubted = std::exchange(doubted_, {});
  if (line == "undo") {
    undo();
  } else if (line == "nets") {
    list_nets();
  } else if (line == "?") {
    fmt::print("{}", kEnterHelp);
  } else if (line == "!" && doubted.empty()) {
    complain_of("! takes a line that was doubted; there is none");
  } else {
    const std::string meant = line == "!" ? doubted + " !" : line;
    const graph::EntryAnswer answer = graph::enter_line(meant, file_.board());
    switch (answer.kind) {
      case EntryKind::nothing:
        break;
      case EntryKind::told:
        say(answer.text);
        break;
      case EntryKind::taken:
        take(meant, answer);
        refused_ -= meant == doubted + " !" ? 1 : 0;
        break;
      case EntryKind::doubtful:
        doubted_ = meant;
        complain_of(answer.text + " (!: take it as it stands)");
        break;
      case EntryKind::refused:
        complain_of(answer.text);
        break;
    }
  }
}

void Entering::sum_up() const {
  const graph::Board& board = file_.board();
  std::vector<std::string> begun;
  for (const graph::Net& net : board.nets()) {
    if (net.listed && net.points.size() == 1) {
      begun.push_back(net.name);
    }
  }
  std::size_t pins = 0;
  std::size_t in_nets = 0;
  for (const graph::Point& point : board.points()) {
    pins += point.part != graph::kNoPart ? 1 : 0;
    in_nets += point.part != graph::kNoPart && point.net != graph::kNoNet ? 1 : 0;
  }
  fmt::print("{}: {}, {} of {} pins in nets\n", file_.path(), parts_and_nets(board), in_nets, pins);
  if (!begun.empty()) {
    fmt::print("One point so far: {}\n", listed(begun, 12));
  }
  if (refused_ > 0 && !at_terminal()) {
    fmt::print("Not taken: {}, named above.\n", count_text(refused_, "line"));
  }
  fmt::print("Next: padwalk check {} --lint\n", file_.path());
}

bool Entering::run() {
  StopOnInterrupt interrupt;
  const graph::Board& board = file_.board();
  fmt::print("{}: {}. A part: U2 DIP-16 74138. A net: CLK U2.7 R7.1. ?: more. q: the end.\n",
             file_.path(), parts_and_nets(board));
  std::fflush(stdout);
  InputLines lines;
  while (auto typed = lines.wait()) {
    ++line_number_;
    const std::string line = without_blanks(*typed);
    if (interrupt.requested() || line == "q") {
      break;
    }
    try {
      answer(line);
    } catch (const graph::BadFile& bad) {  // the file does not take it, or is broken meanwhile
      const std::string_view all = bad.what();
      complain_of(std::string(all.substr(0, all.find('\n'))));
    }
    std::fflush(stdout);
  }
  sum_up();
  return !interrupt.requested();
}

}  // namespace

ExitStatus enter_board(const EnterOptions& options) {
  Entering entering(options.board);
  if (!entering.run()) {
    return ExitStatus::incomplete;
  }
  return entering.all_taken() || isatty(STDIN_FILENO) == 1 ? ExitStatus::good
                                                           : ExitStatus::bad_input;
}

}  // namespace padwalk::tools
