// SPDX-License-Identifier: MIT
//
// `padwalk settle`: says of each finding of a job's last sweep what it turned out to be, one key
// each; what the file has wrong is corrected in it.
#include <fmt/format.h>
#include <fmt/ostream.h>
#include <unistd.h>

#include <algorithm>
#include <iostream>
#include <map>

#include "tools/interrupt.hpp"
#include "tools/name_list.hpp"
#include "tools/options.hpp"
#include "tools/settling.hpp"
#include "tools/single_keys.hpp"
#include "tools/sweep_report.hpp"

namespace padwalk::tools {

namespace {

constexpr const char* kSettleKeys =
    "t typed wrong, d the drawing is wrong, c changed at the factory: the file is corrected, with "
    "a note.\n"
    "f a fault of the board, l left as it is: the file stays. u: takes back. ?: more. q: the "
    "end.\n";

constexpr const char* kSettleHelp =
    "      Each finding takes one key. A correction changes a few characters of the board file; "
    "all\n"
    "      else in it stays byte by byte, and a remark says what was changed, why and when. One\n"
    "      correction may settle several findings. What cannot be corrected with certainty stays\n"
    "      unsettled, and what to change by hand is said. q or Ctrl-C ends; what is settled is\n"
    "      kept, and the next 'padwalk settle' goes on with the rest.\n";

const Disposition& disposition_named(const std::string& word) {
  const auto found = std::find_if(kDispositions.begin(), kDispositions.end(),
                                  [&](const Disposition& one) { return one.word == word; });
  if (found == kDispositions.end()) {
    throw UsageError(fmt::format(
        "{}: no such disposition; expected typed, drawing, factory, fault or leave", word));
  }
  return *found;
}

std::vector<std::size_t> unsettled_of(const Settling& settling) {
  std::vector<std::size_t> all;
  for (std::size_t i = 0; i < settling.findings().size(); ++i) {
    if (settling.settled(i) == nullptr) {
      all.push_back(i);
    }
  }
  return all;
}

void say_settled(const SettledFindings& settled) {
  fmt::print("      {}\n", settled_text(settled));
  std::fflush(stdout);
}

/// One key, until it is one that says something: of a disposition, 'u', or 'q' for the end.
char asked_key(SingleKeys& keys, const std::string& id) {
  for (;;) {
    fmt::print("{} [t d c f l u ? q] ", id);
    std::fflush(stdout);
    const char key = keys.wait().value_or('q');
    const bool known = key == 'u' || key == 'q' ||
                       std::any_of(kDispositions.begin(), kDispositions.end(),
                                   [&](const Disposition& one) { return one.key == key; });
    fmt::print("{}\n", known ? std::string(1, key) : "");
    if (known) {
      return key;
    }
    fmt::print("{}{}", kSettleKeys, kSettleHelp);
  }
}

/// Settles one finding, or takes back what was settled last; says so. Where to go on among `todo`.
std::size_t act_on(Settling& settling, const std::vector<std::size_t>& todo, std::size_t at,
                   char key) {
  const std::string& id = settling.findings()[todo[at]].id;
  try {
    if (key == 'u') {
      const std::size_t finding = settling.take_back();
      fmt::print("      {}: taken back\n\n", settling.findings()[finding].id);
      return static_cast<std::size_t>(std::find(todo.begin(), todo.end(), finding) - todo.begin());
    }
    const auto as = std::find_if(kDispositions.begin(), kDispositions.end(),
                                 [&](const Disposition& one) { return one.key == key; });
    say_settled(settling.settle(todo[at], *as));
  } catch (const graph::BadFile& bad) {  // what to do by hand is said; it stays unsettled
    const std::string_view all = bad.what();
    fmt::print("      {} stays unsettled: {}\n", id, all.substr(0, all.find('\n')));
  } catch (const UsageError& refused) {
    fmt::print("      {}\n", refused.what());
    if (key == 'u') {
      return at;  // the same is asked once more
    }
  }
  fmt::print("\n");
  return at + 1;
}

/// What is left to do, by what was said.
std::string after_settling(const Settling& settling, const std::string& job) {
  const std::size_t left = unsettled_of(settling).size();
  if (left > 0) {
    return fmt::format("padwalk settle {} ({} left).", job, count_text(left, "finding"));
  }
  std::vector<std::string> faults;
  bool corrected = false;
  for (std::size_t i = 0; i < settling.findings().size(); ++i) {
    const SettledFindings& one = *settling.settled(i);
    corrected = corrected || !one.correction.empty();
    if (one.word == "fault") {
      faults.push_back(settling.findings()[i].id);
    }
  }
  const std::string sweep = corrected ? "sweep again, by the corrected file" : "sweep again";
  return faults.empty() ? corrected ? sweep + "." : "nothing; the file stays as it is."
                        : fmt::format("mend {}, then {}.", listed(faults, 8), sweep);
}

ExitStatus settle_all(Settling& settling, const std::string& job) {
  StopOnInterrupt interrupt;
  const std::vector<std::size_t> todo = unsettled_of(settling);
  const std::string& file = settling.board_file();
  fmt::print("{}: {} of the sweep of {} to settle.\n{}\n", file.substr(file.find_last_of('/') + 1),
             count_text(todo.size(), "finding"), settling.sweep().at.substr(0, 10),
             todo.empty() ? "" : kSettleKeys);
  {
    SingleKeys keys;
    for (std::size_t at = 0; at < todo.size();) {
      const graph::Finding& finding = settling.findings()[todo[at]];
      if (settling.settled(todo[at]) != nullptr) {
        ++at;  // with another
        continue;
      }
      std::fflush(stdout);
      write_finding(std::cout, settling.board(), finding);
      std::cout << std::flush;
      fmt::print("      correction of the file: {}\n", settling.correction_text(todo[at]));
      const char key = asked_key(keys, finding.id);
      if (key == 'q' || interrupt.requested()) {
        break;
      }
      at = act_on(settling, todo, at, key);
    }
  }
  std::map<std::string_view, std::size_t> counts;
  for (std::size_t i = 0; i < settling.findings().size(); ++i) {
    if (const SettledFindings* one = settling.settled(i)) {
      ++counts[one->word];
    }
  }
  std::vector<std::string> parts;
  for (const Disposition& one : kDispositions) {
    if (counts.count(one.word) != 0) {
      parts.push_back(fmt::format("{}: {}", one.said, counts[one.word]));
    }
  }
  fmt::print("Settled: {}.\nNext: {}\n",
             parts.empty() ? "nothing" : fmt::format("{}", fmt::join(parts, "; ")),
             after_settling(settling, job));
  return unsettled_of(settling).empty() ? ExitStatus::good : ExitStatus::incomplete;
}

}  // namespace

ExitStatus settle_findings(const SettleOptions& options) {
  Settling settling(options.job);
  if (options.finding.empty()) {
    return settle_all(settling, options.job);
  }
  const Disposition& as = disposition_named(options.disposition);
  say_settled(settling.settle(settling.find(options.finding), as));
  fmt::print("Next: {}\n", after_settling(settling, options.job));
  return ExitStatus::good;
}

}  // namespace padwalk::tools
