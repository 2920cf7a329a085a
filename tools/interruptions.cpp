// SPDX-License-Identifier: MIT
#include "tools/interruptions.hpp"

#include <algorithm>
#include <set>
#include <utility>

namespace padwalk::tools {

Interruptions::Interruptions(graph::PointId driven, std::vector<graph::PointId> others)
    : driven_(driven), others_(std::move(others)), open_(others_.size()), left_(others_.size()) {}

std::optional<Interruption> Interruptions::note(std::size_t other, bool open, double at_s,
                                                const std::string& tag, double gap_s) {
  open_[other] = open;
  if (open) {
    if (!present_) {
      present_.emplace();
      present_->at_s = at_s;
      present_->tag = tag;
      left_.assign(left_.size(), false);
    }
    left_[other] = true;
  }
  if (!present_) {
    return std::nullopt;
  }
  present_->open_s = at_s - present_->at_s;
  judge(gap_s);
  if (std::find(open_.begin(), open_.end(), true) != open_.end()) {
    return std::nullopt;
  }
  present_->over = true;
  return std::exchange(present_, std::nullopt);
}

std::optional<Interruption> Interruptions::end(double at_s, double gap_s) {
  if (present_) {
    present_->open_s = std::max(present_->open_s, at_s - present_->at_s);
    judge(gap_s);
  }
  return std::exchange(present_, std::nullopt);
}

bool Interruptions::has_two_leads(graph::PointId point) const {
  return std::count(others_.begin(), others_.end(), point) + (point == driven_ ? 1 : 0) > 1;
}

/// Which points left, and whether it was a clip.
void Interruptions::judge(double gap_s) {
  std::set<graph::PointId> points;
  std::size_t leads = 0;
  bool twin_left = false;  // the driven point's other lead
  for (std::size_t other = 0; other < others_.size(); ++other) {
    if (left_[other]) {
      ++leads;
      twin_left = twin_left || others_[other] == driven_;
      points.insert(others_[other]);
    }
  }
  present_->clip = graph::kNoPoint;
  if (present_->open_s >= gap_s) {
    if (twin_left && (leads == others_.size() || points.size() == 1)) {
      present_->clip = driven_;
    } else if (points.size() == 1 && has_two_leads(*points.begin()) && leads == 1) {
      present_->clip = *points.begin();
    }
  }
  points.erase(driven_);
  present_->points.assign(points.begin(), points.end());
  if (present_->clip != graph::kNoPoint) {
    present_->points = {present_->clip};
  }
}

}  // namespace padwalk::tools
