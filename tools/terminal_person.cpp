// SPDX-License-Identifier: MIT
#include "tools/terminal_person.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <utility>

namespace padwalk::tools {

namespace {

/// The clip or plug that has that channel; a grabber or a tip, or none: nullptr.
const graph::Fixture* clip_with(const graph::Fixtures& bench, std::uint16_t channel) {
  const auto found =
      std::find_if(bench.fixtures.begin(), bench.fixtures.end(), [&](const auto& fixture) {
        const bool clip = fixture.kind == graph::FixtureKind::chip_clip ||
                          fixture.kind == graph::FixtureKind::plug;
        return clip && std::find(fixture.channels.begin(), fixture.channels.end(), channel) !=
                           fixture.channels.end();
      });
  return found == bench.fixtures.end() ? nullptr : &*found;
}

Reached reached_by(const std::string& said) {
  return said == "n" ? Reached::no : said == "l" ? Reached::later : Reached::yes;
}

}  // namespace

void TerminalPerson::reseat(const graph::Board& board, const std::vector<graph::Lead>& leads) {
  out_ << "Silent: rock the clip, or take a single lead off and put it on again:\n";
  for (const graph::Lead& lead : leads) {
    const graph::Fixture* clip = clip_with(bench_, lead.channel);
    out_ << (clip == nullptr
                 ? fmt::format("      {} (lead {})\n", board[lead.point].name, lead.channel)
                 : fmt::format("      {}: rock {}\n", board[lead.point].name, clip->name));
  }
  out_ << "      press Enter when it is done: ";
  out_.flush();
  lines_.wait();  // who is not there has re-seated nothing: the sweep goes on all the same
}

std::vector<std::size_t> TerminalPerson::place(const graph::PlanStep& step, const graph::Hookup&) {
  steps_.write_moves(step);
  std::vector<std::size_t> misfits;
  while (misfits.size() < step.moves.size()) {
    out_ << fmt::format(
        "      press Enter when all {}sit right{}: ", misfits.empty() ? "" : "others ",
        std::exchange(told_of_misfits_, true) ? "" : " (x: one does not fit)");
    if (answer() != "x" || stop_) {
      break;
    }
    if (const auto which = ask_which(step, misfits)) {
      misfits.push_back(*which);
      out_ << "      leave it off; the plan is made anew without it\n";
    }
  }
  return misfits;
}

/// Which move does not fit, where several could be meant; nothing: no number was given.
std::optional<std::size_t> TerminalPerson::ask_which(const graph::PlanStep& step,
                                                     const std::vector<std::size_t>& misfits) {
  std::vector<std::size_t> on;
  for (std::size_t i = 0; i < step.moves.size(); ++i) {
    if (std::find(misfits.begin(), misfits.end(), i) == misfits.end()) {
      on.push_back(i);
    }
  }
  if (on.size() == 1) {
    return on.front();
  }
  for (std::size_t i = 0; i < on.size(); ++i) {
    out_ << fmt::format("      {}: {}\n", i + 1, move_text(board_, bench_, step.moves[on[i]]));
  }
  out_ << "      which one, 1 to " << on.size() << ": ";
  const std::string said = answer();
  std::size_t number = 0;
  const auto [end, error] = std::from_chars(said.data(), said.data() + said.size(), number);
  return error == std::errc() && number >= 1 && number <= on.size() ? std::optional(on[number - 1])
                                                                    : std::nullopt;
}

Reached TerminalPerson::touch(const graph::Hookup& now) {
  if (sound_ != nullptr && told_) {
    sound_->play(Answer::expected, {});  // the one before is done
  }
  steps_.write_touch(now.leads.back().point);
  const char* how = session_ != nullptr
                        ? ", hold it (Enter if it is not heard, l: later, n: cannot reach it): "
                        : ", hold it, press Enter (l: later, n: cannot reach it): ";
  out_ << (std::exchange(told_, true) ? ": " : how);
  const std::optional<Reached> heard = hears(now);
  return heard ? *heard : reached_by(answer());
}

/// Waits until the tip has contact, lifted since the touch before, or until a line is there, which
/// may say that it cannot be reached. Nothing: it cannot be heard.
std::optional<Reached> TerminalPerson::hears(const graph::Hookup& now) {
  if (session_ == nullptr || now.leads.size() < 2) {
    return std::nullopt;
  }
  out_.flush();
  const session::Channel tip = now.leads.back().channel;
  session::Held held;
  held.groups.emplace_back();
  for (const graph::Lead& lead : now.leads) {
    if (lead.channel != tip) {
      held.groups.back().push_back(lead.channel);
    }
  }
  bool lifted = false;
  int rounds = 0;
  try {
    while (!stop_ && !session_->needs_power_check()) {
      bool ended = false;
      if (const auto line = lines_.next(ended)) {
        said_ = *line;
        return reached_by(said_);
      }
      if (ended) {
        return std::nullopt;
      }
      if (!session_->touches(tip, held)) {
        lifted = true;
        rounds = 0;
      } else if (lifted && ++rounds == 2) {
        said_.clear();
        out_ << "heard\n";
        out_.flush();
        return Reached::yes;
      }
    }
  } catch (const session::TesterError&) {
    return Reached::yes;  // the sweep finds it too, and says so
  }
  return std::nullopt;
}

bool TerminalPerson::put_right(const graph::PlanMove& move, const graph::Slip& slip,
                               const graph::Hookup&) {
  out_ << fmt::format("      {}\n      press Enter when it is right; n and Enter: it was right: ",
                      slip_text(board_, bench_, move, slip));
  return answer() != "n" && !stop_;
}

bool TerminalPerson::touch_again(graph::NetId instead, const graph::Hookup& now) {
  out_ << fmt::format(
      "      that conducts to net {}: is it {}? Touch it again and press Enter; n and Enter: it "
      "is: ",
      board_[instead].name, board_[now.leads.back().point].name);
  return answer() != "n" && !stop_;
}

std::string TerminalPerson::answer() {
  out_.flush();
  const std::optional<std::string> line = lines_.wait();
  stop_ = stop_ || !line;
  said_ = line.value_or(std::string());
  return said_;
}

}  // namespace padwalk::tools
