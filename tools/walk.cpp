// SPDX-License-Identifier: MIT
#include "tools/walk.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <map>

#include "tools/large_text.hpp"

namespace padwalk::tools {

namespace {

using graph::NetRole;
using graph::PointId;

/// Without contact, or without a name, for so many rounds, and it is believed.
constexpr std::size_t kRounds = 2;

/// Has touched again before being asked: the silence is read twice, and then believed.
class AskedBefore : public Person {
 public:
  void reseat(const graph::Board&, const std::vector<graph::Lead>&) override {}
};

std::string ohms_text(const WalkTouch& touch) {
  return fmt::format("{:.2f} ohm ± {:.2f}", std::max(touch.ohm, 0.0), touch.uncertainty_ohm);
}

}  // namespace

session::Held held_by(const graph::Board& board, const graph::Hookup& clipped) {
  // By rank and first lead: ground, supplies, the rest.
  std::map<std::pair<int, std::size_t>, std::vector<session::Channel>> groups;
  std::map<graph::NetId, std::size_t> first;
  session::Held held;
  for (std::size_t i = 0; i < clipped.leads.size(); ++i) {
    const graph::NetId net = board[clipped.leads[i].point].net;
    const bool in_net = net != graph::kNoNet;
    const std::size_t at = in_net ? first.emplace(net, i).first->second : i;
    int rank = 2;
    if (board.assembled() && in_net && board[net].role != NetRole::signal) {
      rank = board[net].role == NetRole::ground ? 0 : 1;
    }
    held.ground = held.ground || rank == 0;
    groups[{rank, at}].push_back(clipped.leads[i].channel);
  }
  for (auto& [where, channels] : groups) {
    held.apart += where.first < 2 ? 1 : 0;
    held.groups.push_back(std::move(channels));
  }
  return held;
}

Walk::Walk(const Measuring& measuring, const graph::Hookup& clipped,
           std::vector<session::Channel> tip, SimulatedBench* bench, Lines& lines, Sound& sound,
           std::ostream& out, std::size_t columns, SweepReport& report)
    : measuring_(measuring),
      board_(measuring.board),
      session_(measuring.session),
      clipped_(clipped),
      tip_(std::move(tip)),
      bench_(bench),
      lines_(lines),
      sound_(sound),
      out_(out),
      columns_(columns),
      report_(report),
      held_(held_by(board_, clipped_)) {
  held_.copper_ohm = report.limits.short_up_to_ohm;
}

void Walk::run() {
  ++report_.hookups;
  HookupSweep sweep(measuring_, clipped_, {}, report_);
  sweep.read();
  if (!sweep.finish()) {
    return;
  }
  out_ << "Touch anything. A point's name and Enter: you touch it next; a net's: you expect it.\n"
          "Enter alone: the tip is on it now. q and Enter: the end.\n";
  out_.flush();
  try {
    while (round()) {
    }
  } catch (const session::NotAtRest& live) {
    at_rest(live.check);
  } catch (const session::TesterError& error) {
    report_.failure = error.what();
  }
}

/// Listens once. False: the end.
bool Walk::round() {
  if (measuring_.stop) {
    report_.interrupted = true;
    return false;
  }
  ++rounds_;
  if (rounds_ > 2 * kRounds) {  // the tip was listened to since the last line
    bool ended = false;
    const std::optional<std::string> line = lines_.next(ended);
    if (line ? !follow(*line) : ended) {
      return false;
    }
  }
  if (!contact()) {
    if (++misses_ >= kRounds) {
      on_ = false;
      group_.reset();
      armed_ = true;
    }
    return true;
  }
  misses_ = 0;
  return hear();
}

bool Walk::contact() {
  if (tip_.size() == 1) {
    return session_.touches(tip_.front(), held_);
  }
  session::Held other;  // both needles on one piece of metal
  other.groups = {{tip_.back()}};
  return session_.touches(tip_.front(), other);
}

/// Does what a line says. False: the end.
bool Walk::follow(const std::string& line) {
  rounds_ = 0;
  if (line == "q") {
    return false;
  }
  if (line.empty()) {
    return insist();
  }
  const std::optional<PointId> point = board_.find_point(line);
  const std::optional<graph::NetId> net = board_.find_net(line);
  const bool never = point && graph::never_driven(board_)[graph::index(*point)];
  if ((!point && !net) || never) {
    if (never) {
      fmt::print(out_, "{} must never be driven: keep the tip off.\n", line);
    } else {
      fmt::print(out_, "The board has no point and no net {}.\n", line);
    }
    out_.flush();
    return true;
  }
  point_ = point;
  expected_ = point ? board_[*point].net : *net;
  silences_ = 0;
  armed_ = !on_;
  if (point && bench_ != nullptr) {
    bench_->touch(clipped_);
    for (std::size_t i = 0; i < kRounds; ++i) {
      contact();
    }
    on_ = false;
    group_.reset();
    armed_ = true;
    bench_->touch(with_tip(*point));
  }
  return true;
}

/// The tip is on something. Names it, once; false: the board is live, or the tester failed.
bool Walk::hear() {
  const session::Heard heard = session_.name(tip_.front(), held_);
  if (!heard.at_rest) {
    return at_rest(session_.power_check_more(tip_));
  }
  unnamed_ = heard.group ? 0 : unnamed_ + 1;
  const bool believed = heard.group || unnamed_ >= kRounds;
  if (!believed || (on_ && heard.group == group_)) {
    return true;
  }
  on_ = true;
  group_ = heard.group;
  WalkTouch touch = touch_of(heard);
  show(touch);
  const bool told = touch.point && touch.answer == Answer::expected;
  const bool well = !heard.group || (told ? read_lead(touch, false) : read_ohms(touch));
  touches_.push_back(touch);
  return well;
}

WalkTouch Walk::touch_of(const session::Heard& heard) const {
  WalkTouch touch;
  if (armed_) {
    touch.point = point_;
  }
  if (!heard.group) {
    return touch;
  }
  const auto lead = std::find_if(clipped_.leads.begin(), clipped_.leads.end(),
                                 [&](const auto& one) { return one.channel == heard.lead; });
  touch.lead = lead->point;
  touch.net = board_[lead->point].net;
  touch.ohm = heard.ohm;
  touch.uncertainty_ohm = heard.uncertainty_ohm;
  const bool any = expected_ == graph::kNoNet && !touch.point;
  const bool same = touch.net != graph::kNoNet && touch.net == expected_;
  touch.answer = any ? Answer::named : same ? Answer::expected : Answer::another;
  return touch;
}

/// The person says that the tip is on the point told: what is heard is believed then, be it another
/// net or nothing.
bool Walk::insist() {
  const bool silent = !on_;
  WalkTouch touch = silent ? WalkTouch() : touches_.back();
  touch.point = point_;
  if (silent) {
    show(touch);
    touches_.push_back(touch);
  }
  if (!point_ || !armed_ || touch.evidence) {
    return true;
  }
  if (silent && ++silences_ < 2) {
    out_ << "      press harder, or beside it, and Enter once more\n";
    out_.flush();
    return true;
  }
  const bool well = read_lead(touch, silent);
  touches_.back() = touch;
  return well;
}

/// Reads the point told as a sweep reads a lead, if it has none.
bool Walk::read_lead(WalkTouch& touch, bool asked_twice) {
  if (has_lead(*touch.point)) {
    return touch.lead == graph::kNoPoint || read_ohms(touch);
  }
  graph::Hookup now = clipped_;
  now.leads.push_back({tip_.front(), *touch.point});
  AskedBefore asked_before;
  Measuring measuring = measuring_;
  measuring.person = asked_twice ? &asked_before : nullptr;
  ++report_.touches;
  HookupSweep sweep(measuring, now, {*touch.point}, report_);
  sweep.read();
  if (!sweep.finish()) {
    return false;
  }
  touch.evidence = true;
  for (const graph::Reading& reading : sweep.measured().readings) {
    const bool pair = reading.wanted.source.size() == 1 && reading.wanted.sink.size() == 1;
    const auto ends = [&](PointId a, PointId b) {
      return pair && reading.wanted.source.front() == a && reading.wanted.sink.front() == b;
    };
    if (reading.number && (ends(*touch.point, touch.lead) || ends(touch.lead, *touch.point))) {
      touch.ohm = reading.ohm;
      touch.uncertainty_ohm = reading.uncertainty_ohm;
    }
  }
  note_leads(now, report_);
  show_sure(touch);
  return true;
}

/// Reads the ohms to the lead that was named, the power checked before.
bool Walk::read_ohms(WalkTouch& touch) {
  if (!at_rest(session_.power_check_more(tip_))) {
    return false;
  }
  const auto lead = std::find_if(clipped_.leads.begin(), clipped_.leads.end(),
                                 [&](const auto& one) { return one.point == touch.lead; });
  const session::Request request{
      {tip_.front()}, {lead->channel}, session::Purpose::continuity, 0, held_.copper_ohm};
  const session::Measurement measured = session_.measure({&request, 1}).front();
  if (measured.settled && measured.ohm <= held_.copper_ohm) {  // it may have been lifted meanwhile
    touch.ohm = measured.ohm;
    touch.uncertainty_ohm = measured.uncertainty_ohm;
    show_sure(touch);
  }
  return true;
}

void Walk::show(const WalkTouch& touch) {
  const std::string name = touch.net != graph::kNoNet      ? board_[touch.net].name
                           : touch.lead != graph::kNoPoint ? board_[touch.lead].name
                           : on_                           ? "A PART"
                                                           : "NOTHING";
  out_ << '\n';
  for (const std::string& row : large_text(name, columns_)) {
    fmt::print(out_, "{}\n", row);
  }
  const std::string told = touch.point ? ", at " + board_[*touch.point].name : std::string();
  const std::string wanted = expected_ == graph::kNoNet
                                 ? std::string()
                                 : fmt::format("; expected {}", board_[expected_].name);
  switch (touch.answer) {
    case Answer::named:
      fmt::print(out_, "\n      {}, not sure yet\n", name);
      break;
    case Answer::expected:
      fmt::print(out_, "\n      {} as expected{}, not sure yet\n", name, told);
      break;
    case Answer::another:
      fmt::print(out_, "\n      {}: another net{}{}, not sure yet\n", name, told, wanted);
      break;
    case Answer::nothing:
      fmt::print(out_, "\n      {}{}{}\n", on_ ? "no net with a lead; a part leads on" : "nothing",
                 told, wanted);
      break;
  }
  out_.flush();
  sound_.play(touch.answer, touch.answer == Answer::nothing ? "nothing" : name);
}

void Walk::show_sure(const WalkTouch& touch) {
  const std::string kept =
      touch.evidence ? ", kept for " + board_[*touch.point].name : std::string();
  if (touch.lead == graph::kNoPoint) {
    fmt::print(out_, "      sure: nothing{}\n", kept);
  } else {
    fmt::print(out_, "      sure: {} to {}, at 0.2 V{}\n", ohms_text(touch),
               board_[touch.lead].name, kept);
  }
  out_.flush();
}

bool Walk::at_rest(const session::PowerCheck& check) {
  if (check.passed) {
    return true;
  }
  note_live(check, clipped_, report_);
  for (const session::LiveChannel& live : check.live) {
    if (std::find(tip_.begin(), tip_.end(), live.channel) != tip_.end()) {
      fmt::print(out_, "The tip is on something live: {:+.3f} V, {:.3f} V AC.\n", live.volt,
                 live.rms_volt);
    }
  }
  return false;
}

bool Walk::has_lead(PointId point) const {
  return std::any_of(clipped_.leads.begin(), clipped_.leads.end(),
                     [&](const auto& lead) { return lead.point == point; });
}

/// Both needles are on it.
graph::Hookup Walk::with_tip(PointId point) const {
  graph::Hookup hookup = clipped_;
  for (const session::Channel channel : tip_) {
    hookup.leads.push_back({channel, point});
  }
  return hookup;
}

}  // namespace padwalk::tools
