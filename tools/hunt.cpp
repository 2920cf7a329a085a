// SPDX-License-Identifier: MIT
#include "tools/hunt.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>

#include "tools/bench_plan.hpp"

namespace padwalk::tools {

using graph::PlaceId;
using graph::Side;

namespace {

/// Two needles on one piece of metal, contacts and all.
constexpr double kMetalOhm = 10;

}  // namespace

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
      break;
    }
    if (!hunted) {
      write_turn(out_, *turn_to);
      up_.turn_to(*turn_to);
    }
  }
  return std::all_of(targets.begin(), targets.end(), [&](Target& target) {
    return !target.pinpoint.suspects().way_unknown || target.pinpoint.closed_at() || slide(target);
  });
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
    Touch heard;
    Said said = Said::there;
    for (int asked = 0; asked < 2 && heard.pieces.empty() && !heard.metal && said == Said::there;
         ++asked) {
      said = touch(*place, asked > 0);
      if (said == Said::stop || (said == Said::there && !listen(target, heard))) {
        return false;
      }
    }
    if (said == Said::cannot_reach) {
      target.pinpoint.cannot_reach(*place);
    } else if (said == Said::later) {
      target.pinpoint.later(*place);
    } else {
      say(target, heard);
      std::vector<graph::PointId> with;
      for (const std::size_t piece : heard.pieces) {
        with.push_back(target.held[piece]);
      }
      record_.heard(board_.place_name(*place), with, heard.metal);
      target.pinpoint.heard(*place, heard.pieces, heard.metal);
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
  if (needles_ == 2) {
    fmt::print(out_, "      the needles are leads {} and {}; press Enter: ", channels.size() + 1,
               channels.size() + 2);
  } else {
    fmt::print(out_, "      the tip is lead {}; press Enter: ", channels.size() + 1);
  }
  if (bench_ != nullptr) {
    bench_->touch(attached_);
  }
  if (answer() == "s") {
    return false;
  }
  session_.leads_moved();
  return at_rest(session_.power_check(channels));
}

/// Along copper whose way is not known, where a person is there to slide. False: stopped, or live.
bool Hunt::slide(Target& target) {
  if (lines_ == nullptr) {
    return true;
  }
  if (!hold(target)) {
    return false;
  }
  Slide slide(session_, board_, attached_,
              static_cast<session::Channel>(attached_.leads.size() + 1), bench_, *lines_, sound_,
              out_);
  const bool to_the_end = slide.run();
  target.vias = slide.vias();
  target.crossed = slide.crossed();
  if (slide.live()) {
    at_rest(*slide.live());
  }
  return to_the_end;
}

Hunt::Said Hunt::touch(PlaceId place, bool again) {
  fmt::print(out_, "      {} {}, press Enter{}: ", again ? "nothing: once more" : "touch",
             board_.place_name(place), again ? "" : " (l: later, n: cannot reach, s: stop)");
  if (!again) {
    std::erase_if(attached_.leads, [](const auto& lead) { return lead.place != graph::kNoPlace; });
    const std::size_t first = attached_.leads.size() + 1;
    for (std::size_t needle = 0; needle < needles_; ++needle) {
      attached_.leads.push_back(
          {static_cast<std::uint16_t>(first + needle), board_[place].point, place});
    }
  }
  if (bench_ != nullptr) {
    bench_->touch(attached_);
  }
  const std::string said = answer();
  return said == "s"   ? Said::stop
         : said == "n" ? Said::cannot_reach
         : said == "l" ? Said::later
                       : Said::there;
}

/// Fills in the pieces that the tip conducts to as well as copper should: beside a weak joint it
/// conducts to both, to one of them well. False: the board is live.
bool Hunt::listen(Target& target, Touch& heard) {
  std::vector<session::Channel> tip;
  for (std::size_t i = target.held.size(); i < attached_.leads.size(); ++i) {
    tip.push_back(attached_.leads[i].channel);
  }
  const graph::PointId point = attached_.leads.back().point;
  ++target.touches;
  if (!at_rest(session_.power_check_more(tip))) {
    return false;
  }
  ++touches_;
  std::vector<session::Request> requests;
  for (std::size_t piece = 0; piece < target.held.size(); ++piece) {
    requests.push_back(
        {{tip.front()}, {attached_.leads[piece].channel}, session::Purpose::continuity, 0, 0});
  }
  if (needles_ == 2) {
    requests.push_back({{tip.front()}, {tip.back()}, session::Purpose::continuity, 0, 0});
  }
  try {
    const std::vector<session::Measurement> measured = session_.measure(requests);
    for (std::size_t piece = 0; piece < target.held.size(); ++piece) {
      if (measured[piece].settled && measured[piece].ohm <= good_(point, target.held[piece])) {
        heard.pieces.push_back(piece);
      }
    }
    const session::Measurement& across = measured.back();
    heard.metal = needles_ == 2 && across.settled && across.ohm <= kMetalOhm;
  } catch (const session::NotAtRest& live) {
    return at_rest(live.check);
  }
  return true;
}

void Hunt::say(const Target& target, const Touch& heard) {
  if (heard.pieces.size() == 1) {
    fmt::print(out_, "      with {}\n", board_[target.held[heard.pieces.front()]].name);
  } else if (heard.pieces.size() > 1) {
    fmt::print(out_, "      with both: the touch itself closes the break\n");
  } else if (heard.metal) {
    fmt::print(out_, "      nothing, and both needles bite: it is cut off\n");
  } else if (needles_ == 2) {
    fmt::print(out_, "      still nothing, and the needles do not bite: it says nothing\n");
  } else {
    fmt::print(out_, "      still nothing: it may be cut off, or the tip has no contact\n");
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
  if (lines_ == nullptr) {
    out_ << '\n';
    return {};
  }
  return lines_->wait().value_or("s");
}

}  // namespace padwalk::tools
