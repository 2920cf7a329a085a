// SPDX-License-Identifier: MIT
#include "tools/net_watch.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "graph/values.hpp"

namespace padwalk::tools {

namespace {

using graph::Board;
using graph::PointId;
using Steady = std::chrono::steady_clock;

/// Of a capacitor whose value the file lacks; more than its value by tolerance; an input of a chip.
constexpr double kGuessedFarad = 100e-9;
constexpr double kFaradMargin = 1.5;
constexpr double kInputFarad = 15e-12;
/// Each has a line; more are counted, or nobody could read it.
constexpr std::size_t kListedEvents = 20;
/// What a report holds.
constexpr std::size_t kKeptEvents = 10000;
constexpr std::chrono::milliseconds kDraw{100};
constexpr std::chrono::milliseconds kBetweenTones{200};
constexpr std::size_t kTrace = 24;

std::vector<PointId> points_of(const std::vector<graph::Lead>& leads, std::size_t from) {
  std::vector<PointId> points;
  for (std::size_t i = from; i < leads.size(); ++i) {
    points.push_back(leads[i].point);
  }
  return points;
}

}  // namespace

double farad_on(const Board& board, graph::NetId net) {
  double farad = 0;
  for (std::size_t i = 0; board.assembled() && i < board.parts().size(); ++i) {
    const graph::Part& part = board.parts()[i];
    const auto pins = std::count_if(part.pins.begin(), part.pins.end(),
                                    [&](PointId pin) { return board[pin].net == net; });
    if (part.kind == graph::PartKind::capacitor && pins > 0) {
      const auto value = graph::parse_value(board.description().parts[i].value, graph::Unit::farad);
      farad += kFaradMargin * value.value_or(kGuessedFarad);
    } else {
      farad += kInputFarad * static_cast<double>(pins);
    }
  }
  return farad;
}

std::optional<std::string> tag_of(char key) {
  switch (key) {
    case 'f':
      return "flex";
    case 't':
      return "tap";
    case 'c':
      return "cold";
    case 'h':
      return "heat";
    case ' ':
      return "";
    default:
      return std::nullopt;
  }
}

NetWatch::NetWatch(Setup setup, std::vector<graph::Lead> leads, WatchReport& report)
    : with_(std::move(setup)),
      leads_(std::move(leads)),
      report_(report),
      interruptions_(leads_.front().point, points_of(leads_, 1)) {
  report_.driven = leads_.front().point;
}

bool NetWatch::check_power() {
  if (!with_.session.needs_power_check()) {
    return true;
  }
  std::vector<session::Channel> channels;
  for (const graph::Lead& lead : with_.attached.leads) {
    channels.push_back(lead.channel);
  }
  const session::PowerCheck check = with_.session.power_check(channels);
  report_.run.power_readings += check.readings;
  report_.run.power_limit_volt = check.limit_volt;
  if (!check.passed) {
    note_live(check, with_.attached, report_.run);
  }
  return check.passed;
}

void NetWatch::run(double seconds, std::optional<double> zero_s) {
  zero_s_ = zero_s;
  const double farad = farad_on(with_.board, report_.net);
  try {
    if (!check_power()) {
      return;
    }
    // The noise is known now: as many as stand out of it.
    report_.sight = with_.session.sight(leads_.size() - 1, farad);
    std::set<PointId> left_off;
    while (leads_.size() > 2 && !std::isfinite(report_.sight.least_ohm)) {
      left_off.insert(leads_.back().point);
      leads_.pop_back();
      report_.sight = with_.session.sight(leads_.size() - 1, farad);
    }
    if (!std::isfinite(report_.sight.least_ohm)) {
      report_.run.failure =
          "the leads pick up so much that no interruption would stand out; keep them away from "
          "mains leads and switched supplies";
      return;
    }
    interruptions_ = Interruptions(leads_.front().point, points_of(leads_, 1));
    std::set<PointId> watched;
    for (std::size_t i = 1; i < leads_.size(); ++i) {
      watched.insert(leads_[i].point);
    }
    watched.erase(report_.driven);
    for (const PointId point : watched) {
      left_off.erase(point);
    }
    report_.watched.assign(watched.begin(), watched.end());
    report_.not_watched.assign(left_off.begin(), left_off.end());
    for (const PointId point : report_.watched) {
      if (interruptions_.has_two_leads(point)) {
        report_.two_leads.push_back(point);
      }
    }
    if (interruptions_.has_two_leads(report_.driven)) {
      report_.two_leads.push_back(report_.driven);
    }
    watch_.source = leads_.front().channel;
    watch_.farad = farad;
    for (std::size_t i = 1; i < leads_.size(); ++i) {
      watch_.others.push_back(leads_[i].channel);
    }
    for (;;) {
      if (seconds > 0 && held_before_s_ >= seconds) {
        break;
      }
      watch_.seconds = seconds > 0 ? seconds - held_before_s_ : 0;
      const session::WatchEnd end = with_.session.watch(
          watch_, [this](const session::WatchNews& news) { return follow(news); });
      if (const auto lasting = interruptions_.end(now_s_, report_.gap_s)) {
        note(*lasting);
      }
      if (end != session::WatchEnd::silent) {
        break;
      }
      ++report_.silences;
      held_before_s_ = report_.held_s;
      edges_before_ = report_.edges;
      lost_before_ = report_.lost;
      interruptions_ = Interruptions(leads_.front().point, points_of(leads_, 1));
      print("the tester heard nothing for a second and opened its switches: power checked again");
      if (!check_power()) {
        break;
      }
    }
  } catch (const session::NotAtRest& live) {
    note_live(live.check, with_.attached, report_.run);
  } catch (const session::TesterError& error) {
    report_.run.failure = error.what();
  }
  if (with_.strip) {
    fmt::print(with_.out, "\r\x1b[K");
    with_.out.flush();
  }
}

bool NetWatch::follow(const session::WatchNews& news) {
  if (!zero_s_) {
    zero_s_ = news.began_s;
  }
  const double offset_s = news.began_s - *zero_s_;
  report_.gap_s = std::max(report_.gap_s, news.gap_s);
  report_.held_s = held_before_s_ + news.held_s;
  report_.edges = edges_before_ + news.edges;
  report_.lost = lost_before_ + news.lost;
  now_s_ = offset_s + news.held_s;
  const bool on = read_keys();
  for (const session::WatchChange& change : news.changes) {
    const bool begins = change.open && !interruptions_.present();
    auto ended = interruptions_.note(change.other, change.open, offset_s + change.at_s, with_.tag,
                                     report_.gap_s);
    open_since_drawn_ = true;
    if (begins && Steady::now() - sounded_ >= kBetweenTones) {
      sounded_ = Steady::now();
      with_.sound.play(Answer::nothing, "");
    }
    if (ended) {
      note(*std::move(ended));
    }
  }
  draw(false);
  return on;
}

/// False: to end.
bool NetWatch::read_keys() {
  while (const auto key = with_.keys.next()) {
    if (*key == 'q') {
      report_.stopped = true;
      return false;
    }
    if (const auto tag = tag_of(*key)) {
      with_.tag = *tag;
    }
  }
  if (with_.stop) {
    report_.stopped = true;
  }
  return !with_.stop;
}

void NetWatch::note(Interruption event) {
  last_ = span_text(event.open_s);
  const std::size_t before = report_.interruptions();
  if (before < kListedEvents) {
    print(fmt::format("{}  {:>8}  {}{}{}", clock_text(event.at_s), last_,
                      left_text(with_.board, report_, event), event.over ? "" : ", not over yet",
                      event.tag.empty() ? "" : fmt::format(" ({})", event.tag)));
    graph::Reading reading;
    reading.wanted.source = {report_.driven};
    reading.wanted.sink = event.points;
    reading.volt = report_.sight.volt;
    reading.intermittent = true;
    with_.record.readings({&reading, 1});
  } else if (before == kListedEvents) {
    print("more are counted, not listed");
  }
  if (report_.events.size() < kKeptEvents) {
    report_.events.push_back(std::move(event));
  } else {
    ++report_.more_events;
  }
}

void NetWatch::print(const std::string& line) {
  fmt::print(with_.out, "{}      {}\n", with_.strip ? "\r\x1b[K" : "", line);
  draw(true);
  with_.out.flush();
}

/// "TIDE_CLK  0:12.4  whole  3 interruptions, the last of 1.2 ms  flex  ____|__|____"
void NetWatch::draw(bool now) {
  if (!with_.strip || (!now && Steady::now() - drawn_ < kDraw)) {
    return;
  }
  drawn_ = Steady::now();
  if (!now) {
    trace_.push_back(interruptions_.present() || open_since_drawn_ ? '|' : '_');
    if (trace_.size() > kTrace) {
      trace_.pop_front();
    }
    open_since_drawn_ = false;
  }
  std::string line = fmt::format(
      "{}  {}  {}  {}{}{}  {}", with_.board[report_.net].name, clock_text(now_s_),
      interruptions_.present() ? "OPEN " : "whole",
      report_.interruptions() == 1 ? "1 interruption"
                                   : fmt::format("{} interruptions", report_.interruptions()),
      last_.empty() ? "" : ", the last of " + last_, with_.tag.empty() ? "" : "  " + with_.tag,
      std::string(trace_.begin(), trace_.end()));
  line.resize(std::min(line.size(), with_.columns - 1));
  fmt::print(with_.out, "\r\x1b[K{}", line);
  with_.out.flush();
}

}  // namespace padwalk::tools
