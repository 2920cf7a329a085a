// SPDX-License-Identifier: MIT
#include "tools/hunt.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <iostream>

#include "tools/bench_plan.hpp"

namespace padwalk::tools {

using graph::PlaceId;
using graph::Side;

graph::Hookup Target::leads() const {
  graph::Hookup hookup;
  for (const graph::PointId point : held) {
    hookup.leads.push_back({static_cast<std::uint16_t>(hookup.leads.size() + 1), point});
  }
  return hookup;
}

bool Hunt::run(std::vector<Target>& targets) {
  for (;;) {
    bool hunted = false;
    std::optional<Side> turn_to;
    for (Target& target : targets) {
      const auto place = target.pinpoint.next(up_.side());
      if (place && up_.must_turn(board_[*place].side)) {
        turn_to = board_[*place].side;
      } else if (place) {
        hunted = true;
        if (!hunt(target)) {
          return false;
        }
      }
    }
    if (!hunted && !turn_to) {
      return true;
    }
    if (!hunted) {
      write_turn(out_, *turn_to);
      up_.turn_to(*turn_to);
    }
  }
}

/// One target, for as long as the board need not be turned. False: stopped, or live.
bool Hunt::hunt(Target& target) {
  if (!hold(target)) {
    return false;
  }
  for (;;) {
    const auto place = target.pinpoint.next(up_.side());
    if (!place || up_.must_turn(board_[*place].side)) {
      return true;
    }
    std::vector<std::size_t> heard;
    Answer answer = Answer::there;
    for (int asked = 0; asked < 2 && heard.empty() && answer == Answer::there; ++asked) {
      answer = touch(*place, asked > 0);
      if (answer == Answer::stop || (answer == Answer::there && !listen(target, heard))) {
        return false;
      }
    }
    if (answer == Answer::cannot_reach) {
      target.pinpoint.cannot_reach(*place);
    } else {
      say(target, heard);
      target.pinpoint.heard(*place, heard, false);
    }
  }
}

bool Hunt::hold(const Target& target) {
  attached_ = target.leads();
  fmt::print(out_, "{}  net {}, {} places may be broken\n", target.id, board_[target.net].name,
             target.pinpoint.suspects().suspects.size());
  std::vector<session::Channel> channels;
  for (const graph::Lead& lead : attached_.leads) {
    fmt::print(out_, "      lead {} on {}\n", lead.channel, board_[lead.point].name);
    channels.push_back(lead.channel);
  }
  fmt::print(out_, "      the tip is lead {}; press Enter: ", channels.size() + 1);
  if (bench_ != nullptr) {
    bench_->touch(attached_);
  }
  if (answer() == "s") {
    return false;
  }
  session_.leads_moved();
  return at_rest(session_.power_check(channels));
}

Hunt::Answer Hunt::touch(PlaceId place, bool again) {
  fmt::print(out_, "      {} {}, press Enter{}: ", again ? "nothing: once more" : "touch",
             board_.place_name(place), again ? "" : " (n: cannot reach, s: stop)");
  if (!again) {
    std::erase_if(attached_.leads, [](const auto& lead) { return lead.place != graph::kNoPlace; });
    attached_.leads.push_back(
        {static_cast<std::uint16_t>(attached_.leads.size() + 1), board_[place].point, place});
  }
  if (bench_ != nullptr) {
    bench_->touch(attached_);
  }
  const std::string said = answer();
  return said == "s" ? Answer::stop : said == "n" ? Answer::cannot_reach : Answer::there;
}

/// Fills in the pieces that the tip conducts to as well as copper should: beside a weak joint it
/// conducts to both, to one of them well. False: the board is live.
bool Hunt::listen(Target& target, std::vector<std::size_t>& heard) {
  const graph::Lead& tip = attached_.leads.back();
  ++target.touches;
  if (!at_rest(session_.power_check_more({&tip.channel, 1}))) {
    return false;
  }
  ++touches_;
  std::vector<session::Request> requests;
  for (std::size_t piece = 0; piece < target.held.size(); ++piece) {
    session::Request request;
    request.source = {tip.channel};
    request.sink = {attached_.leads[piece].channel};
    request.purpose = session::Purpose::continuity;
    requests.push_back(std::move(request));
  }
  try {
    const std::vector<session::Measurement> measured = session_.measure(requests);
    for (std::size_t piece = 0; piece < measured.size(); ++piece) {
      if (measured[piece].settled && measured[piece].ohm <= good_(tip.point, target.held[piece])) {
        heard.push_back(piece);
      }
    }
  } catch (const session::NotAtRest& live) {
    return at_rest(live.check);
  }
  return true;
}

void Hunt::say(const Target& target, const std::vector<std::size_t>& heard) {
  if (heard.size() == 1) {
    fmt::print(out_, "      with {}\n", board_[target.held[heard.front()]].name);
  } else if (heard.empty()) {
    fmt::print(out_, "      still nothing: it may be cut off, or the tip has no contact\n");
  } else {
    fmt::print(out_, "      with both: the touch itself closes the break\n");
  }
}

bool Hunt::at_rest(const session::PowerCheck& check) {
  if (!check.passed) {
    live_ = check;
  }
  return check.passed;
}

/// Whoever closes the terminal stops.
std::string Hunt::answer() {
  out_.flush();
  std::string line;
  if (!keys_) {
    out_ << '\n';
    return line;
  }
  return std::getline(std::cin, line) ? line : "s";
}

}  // namespace padwalk::tools
