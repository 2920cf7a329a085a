// SPDX-License-Identifier: MIT
//
// Random routed boards as IPC-D-356A texts with their conductors drawn, and the same metal as plain
// shapes for a test that has its own eyes. Each net keeps to a cell of the board: pins of either
// kind, tracks with corners, vias, forks, blind ends, loops. Knows nothing of the product.
// Units: mm, but for the text, which counts in 0.001 mm (CUST 1).
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace padwalk::test {

struct Spot {
  double x = 0;
  double y = 0;
};

/// A round or square pad or hole on a span of layers.
struct MetalPad {
  std::string name;  ///< as an import calls it; of a via without its side
  Spot at;
  double half = 0.5;
  bool square = false;
  int first_layer = 1;
  int last_layer = 1;
};

struct MetalStroke {
  int layer = 1;
  double width = 0;
  std::vector<Spot> points;
};

struct MetalNet {
  std::string name;
  std::vector<MetalPad> pads;
  std::vector<MetalStroke> strokes;
};

struct DrawnBoard {
  int layers = 2;
  std::vector<MetalNet> nets;
  std::string text;
};

struct DrawingHabits {
  int layers = 2;
  int nets = 9;
  int most_pins = 8;
  int most_vias = 3;       ///< of one connection
  int loops_percent = 30;  ///< nets with a connection that closes a loop
  int blind_percent = 30;
  int unreached_percent = 0;  ///< pins that nothing is drawn to
  int short_percent = 0;      ///< ends that stop before the middle of what they meet
};

class BoardDrawing {
 public:
  static constexpr double kGrid = 1.27;
  static constexpr int kCell = 12;  ///< grid steps of a net's cell

  BoardDrawing(unsigned seed, const DrawingHabits& habits) : random_(seed), habits_(habits) {
    board_.layers = habits.layers;
  }

  DrawnBoard draw() {
    for (int n = 0; n < habits_.nets; ++n) {
      draw_net(n);
    }
    write();
    return std::move(board_);
  }

 private:
  struct Step {
    int x = 0;
    int y = 0;
    friend auto operator<=>(const Step&, const Step&) = default;
  };
  struct Corner {
    Step at;
    int layer = 1;
  };

  int below(int n) { return static_cast<int>(random_() % static_cast<unsigned>(n)); }
  bool chance(int percent) { return below(100) < percent; }

  Spot spot(Step at) const {
    return {(at.x + (cell_ % 4) * (kCell + 4) + 2) * kGrid,
            (at.y + (cell_ / 4) * (kCell + 4) + 2) * kGrid};
  }

  Step free_step() {
    Step at{below(kCell), below(kCell)};
    while (!taken_.insert(at).second) {
      at = {below(kCell), below(kCell)};
    }
    return at;
  }

  void draw_net(int n) {
    cell_ = n;
    taken_.clear();
    corners_.clear();
    steps_.clear();
    board_.nets.push_back({"LEVEL" + std::to_string(n + 1), {}, {}});
    const int pins = 2 + below(habits_.most_pins - 1);
    for (int p = 0; p < pins; ++p) {
      add_pin(n, p);
    }
    for (std::size_t p = 1; p < static_cast<std::size_t>(pins); ++p) {
      if (chance(habits_.unreached_percent)) {
        continue;
      }
      connect(p, static_cast<std::size_t>(below(static_cast<int>(p))));
    }
    if (chance(habits_.loops_percent)) {
      connect(static_cast<std::size_t>(below(pins)), static_cast<std::size_t>(below(pins)));
    }
    if (chance(habits_.blind_percent) && !corners_.empty()) {
      const Corner from =
          corners_[static_cast<std::size_t>(below(static_cast<int>(corners_.size())))];
      const Step to{std::clamp(from.at.x + below(5) - 2, 0, kCell - 1),
                    std::clamp(from.at.y + below(5) - 2, 0, kCell - 1)};
      add_track(from.at, to, from.layer);
    }
  }

  MetalNet& net() { return board_.nets.back(); }

  void add_pin(int n, int p) {
    MetalPad pad;
    const Step at = free_step();
    steps_.push_back(at);
    pad.name = "U" + std::to_string(n + 1) + "." + std::to_string(p + 1);
    pad.at = spot(at);
    pad.square = chance(40);
    pad.half = pad.square ? 0.42 : 0.5;  // no corner comes close to what passes by
    pad.last_layer = board_.layers;
    if (chance(30)) {
      pad.first_layer = pad.last_layer = chance(50) ? 1 : board_.layers;
    }
    net().pads.push_back(pad);
  }

  int some_layer(std::size_t pad) {
    const MetalPad& one = net().pads[pad];
    return one.first_layer + below(one.last_layer - one.first_layer + 1);
  }

  /// From one pin to another, or to a corner of the copper that is there.
  void connect(std::size_t from, std::size_t to) {
    Corner at{steps_[from], some_layer(from)};
    Corner end{steps_[to], some_layer(to)};
    if (chance(40) && !corners_.empty()) {
      end = corners_[static_cast<std::size_t>(below(static_cast<int>(corners_.size())))];
    }
    int vias = below(habits_.most_vias + 1);
    if (vias == 0 && at.layer != end.layer) {
      vias = 1;
    }
    for (int v = 0; v < vias; ++v) {
      const Step hole = free_step();
      add_track(at.at, hole, at.layer);
      MetalPad via;
      via.name = "V" + std::to_string(++vias_);
      via.at = spot(hole);
      via.half = 0.4;
      via.last_layer = board_.layers;
      net().pads.push_back(via);
      int next = v + 1 == vias ? end.layer : 1 + below(board_.layers);
      if (next == at.layer && v + 1 < vias) {
        next = next % board_.layers + 1;
      }
      at = {hole, next};
    }
    add_track(at.at, end.at, end.layer);
  }

  /// Straight or with one corner, square or at 45 degrees.
  void add_track(Step from, Step to, int layer) {
    if (from == to) {
      return;
    }
    std::vector<Step> way{from};
    const int dx = to.x - from.x;
    const int dy = to.y - from.y;
    const int both = std::min(std::abs(dx), std::abs(dy));
    const auto sign = [](int v) { return v > 0 ? 1 : v < 0 ? -1 : 0; };
    if (dx != 0 && dy != 0 && std::abs(dx) != std::abs(dy)) {
      const Step diagonal{from.x + sign(dx) * both, from.y + sign(dy) * both};
      const Step square{to.x, from.y};
      way.push_back(chance(60) ? diagonal : square);
    } else if (dx != 0 && dy != 0 && chance(40)) {
      way.push_back({to.x, from.y});
    }
    way.push_back(to);
    MetalStroke stroke;
    stroke.layer = layer;
    stroke.width = 0.2 + 0.1 * below(3);
    for (const Step& step : way) {
      corners_.push_back({step, layer});
      stroke.points.push_back(spot(step));
    }
    if (chance(habits_.short_percent)) {  // still within half the narrowest track
      Spot& end = stroke.points.back();
      const Spot& before = stroke.points[stroke.points.size() - 2];
      end.x += before.x < end.x ? -0.07 : before.x > end.x ? 0.07 : 0;
      end.y += before.y < end.y ? -0.07 : before.y > end.y ? 0.07 : 0;
    }
    net().strokes.push_back(std::move(stroke));
  }

  // ---- as a text
  static std::string in_columns(const std::string& text, std::size_t columns) {
    std::string padded = text;
    padded.resize(std::max(columns, text.size()), ' ');
    return padded;
  }

  static long um(double mm) { return std::lround(mm * 1000); }

  static std::string padded_number(const char* form, long value) {
    char text[32];
    std::snprintf(text, sizeof text, form, value);
    return text;
  }

  void write() {
    board_.text = "P  JOB   Tide gauge logger, sheet of trial tracks\nP  UNITS CUST 1\n";
    for (MetalNet& one : board_.nets) {
      for (const MetalPad& pad : one.pads) {
        write_pad(one, pad);
      }
    }
    for (const MetalNet& one : board_.nets) {
      write_strokes(one);
    }
    board_.text += "999\n";
  }

  void write_pad(const MetalNet& of, const MetalPad& pad) {
    const bool is_via = pad.name[0] == 'V';
    const bool surface = pad.first_layer == pad.last_layer;
    const std::size_t dot = pad.name.find('.');
    std::string line = std::string(surface ? "327" : "317") + in_columns(of.name, 17);
    line += is_via ? in_columns("VIA", 11)
                   : in_columns(pad.name.substr(0, dot), 6) + "-" +
                         in_columns(pad.name.substr(dot + 1), 4);
    line += surface ? "       " : " D0300P";
    line.resize(38, ' ');
    line += padded_number("A%02ld", surface ? pad.first_layer : 0);
    line += padded_number("X%+07ld", um(pad.at.x)) + padded_number("Y%+07ld", um(pad.at.y));
    line += padded_number("X%04ld", um(2 * pad.half)) +
            padded_number("Y%04ld", pad.square ? um(2 * pad.half) : 0) + "R000 S0";
    board_.text += line + "\n";
  }

  /// Strokes of one layer and width in one record, each habit of real writers now and then.
  void write_strokes(const MetalNet& of) {
    std::vector<bool> written(of.strokes.size(), false);
    for (std::size_t first = 0; first < of.strokes.size(); ++first) {
      if (written[first]) {
        continue;
      }
      const bool padded = chance(60);
      const bool modal = chance(50);
      const bool one_line_each = chance(30);
      std::string line;
      long x = 0;
      long y = 0;
      const auto begin = [&](const MetalStroke& stroke) {
        line = "378" + in_columns(of.name, 15) + padded_number("L%02ld", stroke.layer) +
               padded_number(padded ? " X%04ld" : " X%ld", um(stroke.width)) +
               (padded ? "Y0000" : "Y0");
        x = y = -1;
      };
      begin(of.strokes[first]);
      for (std::size_t s = first; s < of.strokes.size(); ++s) {
        const MetalStroke& stroke = of.strokes[s];
        if (written[s] || stroke.layer != of.strokes[first].layer ||
            stroke.width != of.strokes[first].width) {
          continue;
        }
        written[s] = true;
        for (std::size_t i = 0; i < stroke.points.size(); ++i) {
          const long to_x = um(stroke.points[i].x);
          const long to_y = um(stroke.points[i].y);
          std::string position;
          if (!modal || i == 0 || to_x != x || to_y == y) {
            position += padded_number(padded ? "X%+07ld" : "X%ld", to_x);
          }
          if (!modal || i == 0 || to_y != y) {
            position += padded_number(padded ? "Y%+07ld" : "Y%ld", to_y);
          }
          x = to_x;
          y = to_y;
          if (line.size() + position.size() > 78) {
            board_.text += line + "\n";
            line = "078";
          }
          const bool lifted = line.back() == '*';
          line += (lifted && chance(50) ? "" : " ") + position;
        }
        line += "*";
        if (one_line_each) {
          break;
        }
      }
      board_.text += line + "\n";
    }
  }

  std::mt19937 random_;
  DrawingHabits habits_;
  DrawnBoard board_;
  int cell_ = 0;
  int vias_ = 0;
  std::set<Step> taken_;
  std::vector<Step> steps_;      ///< of the pins
  std::vector<Corner> corners_;  ///< of the copper so far
};

inline DrawnBoard draw_board(unsigned seed, const DrawingHabits& habits = {}) {
  return BoardDrawing(seed, habits).draw();
}

}  // namespace padwalk::test
