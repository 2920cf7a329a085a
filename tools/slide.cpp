// SPDX-License-Identifier: MIT
#include "tools/slide.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace padwalk::tools {

namespace {

/// Rounds of listening without contact before silence is believed.
constexpr int kSilentRounds = 2;
/// Rounds that the tip is listened to between two lines.
constexpr int kRoundsALine = 4;

bool is_name(std::string_view word) {
  const auto fits = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '-';
  };
  return !word.empty() && std::all_of(word.begin(), word.end(), fits);
}

std::string_view next_word(std::string_view& line) {
  line.remove_prefix(std::min(line.find_first_not_of(' '), line.size()));
  const std::string_view word = line.substr(0, line.find(' '));
  line.remove_prefix(word.size());
  return word;
}

std::optional<double> number(std::string_view word) {
  double value = 0;
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
  const bool whole = error == std::errc() && end == word.data() + word.size();
  return whole && std::isfinite(value) ? std::optional(value) : std::nullopt;
}

}  // namespace

std::optional<SlideVia> read_slide_via(std::string_view line) {
  SlideVia via;
  via.name = next_word(line);
  const std::string_view x = next_word(line);
  const std::string_view y = next_word(line);
  if (!is_name(via.name) || !next_word(line).empty()) {
    return std::nullopt;
  }
  if (x.empty()) {
    return via;
  }
  const auto x_mm = number(x);
  const auto y_mm = number(y);
  if (!x_mm || !y_mm) {
    return std::nullopt;
  }
  via.xy = graph::Xy{*x_mm, *y_mm};
  return via;
}

Slide::Slide(session::Session& session, const graph::Board& board, const graph::Hookup& leads,
             session::Channel tip, SimulatedBench* bench, Lines& lines, Sound& sound,
             std::ostream& out)
    : session_(session),
      board_(board),
      leads_(leads),
      tip_(tip),
      bench_(bench),
      lines_(lines),
      sound_(sound),
      out_(out) {
  for (const graph::Lead& lead : leads_.leads) {
    held_.groups.push_back({lead.channel});
  }
}

bool Slide::run() {
  fmt::print(out_,
             "      slide the tip along the copper, from {} on: high tone, its side; low tone, "
             "the other side\n"
             "      a name and Enter: a new via is under the tip (V7, or V7 12.5 40.1 in mm); "
             "q and Enter: done\n",
             name_of(0));
  out_.flush();
  for (int rounds = 0;; ++rounds) {
    if (rounds >= kRoundsALine) {
      bool ended = false;
      const std::optional<std::string> line = lines_.next(ended);
      if (line == "q") {
        return true;
      }
      if (ended) {
        return false;
      }
      if (line) {
        follow(*line);
        rounds = 0;
      }
    }
    if (!listen()) {
      return false;
    }
  }
}

/// One round. False: the board is live.
bool Slide::listen() {
  std::optional<std::size_t> heard;
  if (session_.touches(tip_, held_)) {
    const session::Heard name = session_.name(tip_, held_);
    if (!name.at_rest) {
      session::PowerCheck check = session_.power_check_more({&tip_, 1});
      if (!check.passed) {
        live_ = std::move(check);
        return false;
      }
    }
    heard = name.group;
  }
  misses_ = heard ? 0 : misses_ + 1;
  if (heard == now_ || (!heard && misses_ < kSilentRounds)) {
    return true;
  }
  now_ = heard;
  if (!heard) {
    return true;  // it was lifted: silence says enough
  }
  const bool crossed = last_ && *last_ != *heard;
  fmt::print(out_, "      {}: {}'s side\n", *heard == 0 ? "high" : "low", name_of(*heard));
  if (crossed) {
    fmt::print(out_, "      the break is between here and where the tip was before\n");
  }
  out_.flush();
  sound_.play(*heard == 0 ? Answer::expected : Answer::another, {});
  crossed_ = crossed_ || crossed;
  last_ = heard;
  return true;
}

/// A point that the board has: the tip is there now. Else a new via.
void Slide::follow(const std::string& line) {
  if (const auto point = board_.find_point(line)) {
    if (bench_ != nullptr) {
      graph::Hookup with_tip = leads_;
      with_tip.leads.push_back({tip_, *point});
      bench_->touch(with_tip);
      now_.reset();
    }
    return;
  }
  std::optional<SlideVia> via = read_slide_via(line);
  const bool known = via && std::any_of(vias_.begin(), vias_.end(), [&](const SlideVia& other) {
                       return other.name == via->name;
                     });
  if (!via) {
    fmt::print(out_, "      expected a via's name, such as V7, or V7 12.5 40.1\n");
  } else if (known || board_.find_point(via->name + "@top")) {
    fmt::print(out_, "      there is a {} already; give this one another name\n", via->name);
  } else if (!now_) {
    fmt::print(out_, "      {} is not noted: the tip hears nothing there\n", via->name);
  } else {
    via->piece = *now_;
    fmt::print(out_, "      {} noted, {}'s side\n", via->name, name_of(*now_));
    vias_.push_back(*std::move(via));
  }
  out_.flush();
}

const std::string& Slide::name_of(std::size_t piece) const {
  return board_[leads_.leads[piece].point].name;
}

}  // namespace padwalk::tools
