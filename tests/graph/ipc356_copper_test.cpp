// SPDX-License-Identifier: MIT
//
// The routes that an import makes of drawn conductors, against metal that is painted and flooded,
// pixel by pixel: what falls apart when a track is cut with a knife must be what falls apart when a
// segment of the board is cut. The lines themselves: ipc356_routes_test.cpp.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <numeric>
#include <set>

#include "graph/board.hpp"
#include "graph/board_yaml.hpp"
#include "graph/ipc356.hpp"
#include "tests/support/drawn_nets.hpp"

namespace {

using namespace padwalk;
using namespace padwalk::graph;
using test::MetalNet;
using test::MetalPad;
using test::MetalStroke;
using test::Spot;

constexpr double kPixel = 0.06;
/// Which points are together: sets of names.
using Parting = std::set<std::set<std::string>>;

double distance(Spot a, Spot b) {
  return std::hypot(a.x - b.x, a.y - b.y);
}

/// A cut straight across a track.
struct Knife {
  Spot at;
  Spot along;  ///< of the track, length 1
  double half_width = 0;
  int layer = 0;

  bool cuts(Spot point) const {
    const Spot from{point.x - at.x, point.y - at.y};
    return std::abs(from.x * along.x + from.y * along.y) < kPixel &&
           std::abs(from.x * along.y - from.y * along.x) < half_width + kPixel;
  }
};

/// The metal of one net on all layers, as pixels.
class Metal {
 public:
  Metal(const MetalNet& net, int layers) : net_(net), layers_(layers) {
    low_ = net.pads.front().at;
    Spot high = low_;
    const auto hold = [&](Spot at) {
      low_ = {std::min(low_.x, at.x), std::min(low_.y, at.y)};
      high = {std::max(high.x, at.x), std::max(high.y, at.y)};
    };
    for (const MetalPad& pad : net.pads) {
      hold(pad.at);
    }
    for (const MetalStroke& stroke : net.strokes) {
      std::for_each(stroke.points.begin(), stroke.points.end(), hold);
    }
    low_ = {low_.x - 1, low_.y - 1};
    columns_ = static_cast<int>((high.x + 1 - low_.x) / kPixel) + 1;
    rows_ = static_cast<int>((high.y + 1 - low_.y) / kPixel) + 1;
    metal_.assign(static_cast<std::size_t>(layers * rows_ * columns_), 0);
    paint();
  }

  /// The points that are together when a knife (or none) has cut.
  Parting pieces(const Knife* knife) const {
    std::vector<int> label(metal_.size(), 0);
    std::vector<std::size_t> group(net_.pads.size());
    std::iota(group.begin(), group.end(), std::size_t{0});
    const auto find = [&](std::size_t pad) {
      while (group[pad] != pad) {
        pad = group[pad];
      }
      return pad;
    };
    for (std::size_t p = 0; p < net_.pads.size(); ++p) {
      const MetalPad& pad = net_.pads[p];
      for (int layer = pad.first_layer; layer <= pad.last_layer; ++layer) {
        const std::size_t at = index_of(pad.at, layer);
        if (label[at] != 0) {
          group[find(p)] = find(static_cast<std::size_t>(label[at]) - 1);
        } else {
          flood(at, layer, static_cast<int>(p) + 1, knife, label);
        }
      }
    }
    std::map<std::size_t, std::set<std::string>> sets;
    for (std::size_t p = 0; p < net_.pads.size(); ++p) {
      sets[find(p)].insert(net_.pads[p].name);
    }
    Parting parting;
    for (const auto& [first, names] : sets) {
      parting.insert(names);
    }
    return parting;
  }

 private:
  void paint() {
    for (int layer = 1; layer <= layers_; ++layer) {
      for (int row = 0; row < rows_; ++row) {
        for (int column = 0; column < columns_; ++column) {
          if (is_metal(middle(column, row), layer)) {
            metal_[index_of(column, row, layer)] = 1;
          }
        }
      }
    }
  }

  bool is_metal(Spot at, int layer) const {
    for (const MetalPad& pad : net_.pads) {
      const double dx = std::abs(at.x - pad.at.x);
      const double dy = std::abs(at.y - pad.at.y);
      if (layer >= pad.first_layer && layer <= pad.last_layer &&
          (pad.square ? std::max(dx, dy) : std::hypot(dx, dy)) <= pad.half) {
        return true;
      }
    }
    for (const MetalStroke& stroke : net_.strokes) {
      for (std::size_t i = 1; stroke.layer == layer && i < stroke.points.size(); ++i) {
        const Spot a = stroke.points[i - 1];
        const Spot b = stroke.points[i];
        const double square = distance(a, b) * distance(a, b);
        const double part = std::clamp(
            ((at.x - a.x) * (b.x - a.x) + (at.y - a.y) * (b.y - a.y)) / square, 0.0, 1.0);
        if (distance(at, {a.x + part * (b.x - a.x), a.y + part * (b.y - a.y)}) <=
            stroke.width / 2) {
          return true;
        }
      }
    }
    return false;
  }

  void flood(std::size_t from, int layer, int number, const Knife* knife,
             std::vector<int>& label) const {
    std::vector<std::size_t> open{from};
    label[from] = number;
    while (!open.empty()) {
      const std::size_t at = open.back();
      open.pop_back();
      const auto columns = static_cast<std::size_t>(columns_);
      for (const std::size_t next : {at + 1, at - 1, at + columns, at - columns}) {  // has a margin
        if (metal_[next] == 0 || label[next] != 0) {
          continue;
        }
        const auto in_layer = next % static_cast<std::size_t>(rows_ * columns_);
        const Spot spot =
            middle(static_cast<int>(in_layer % columns), static_cast<int>(in_layer / columns));
        if (knife == nullptr || knife->layer != layer || !knife->cuts(spot)) {
          label[next] = number;
          open.push_back(next);
        }
      }
    }
  }

  Spot middle(int column, int row) const {
    return {low_.x + (column + 0.5) * kPixel, low_.y + (row + 0.5) * kPixel};
  }
  std::size_t index_of(int column, int row, int layer) const {
    return static_cast<std::size_t>(((layer - 1) * rows_ + row) * columns_ + column);
  }
  std::size_t index_of(Spot at, int layer) const {
    return index_of(static_cast<int>((at.x - low_.x) / kPixel),
                    static_cast<int>((at.y - low_.y) / kPixel), layer);
  }

  const MetalNet& net_;
  int layers_;
  Spot low_;
  int columns_ = 0;
  int rows_ = 0;
  std::vector<char> metal_;
};

/// One or two cuts for each grid step of each track, away from where others may cross it.
std::vector<Knife> cuts_of(const MetalNet& net) {
  std::vector<Knife> knives;
  for (const MetalStroke& stroke : net.strokes) {
    for (std::size_t i = 1; i < stroke.points.size(); ++i) {
      const Spot a = stroke.points[i - 1];
      const Spot b = stroke.points[i];
      const double length = distance(a, b);
      const Spot along{(b.x - a.x) / length, (b.y - a.y) / length};
      const bool diagonal = std::abs(along.x) > 0.01 && std::abs(along.y) > 0.01;
      const double step = test::BoardDrawing::kGrid * (diagonal ? std::sqrt(2) : 1);
      for (double from = 0; from < length - step / 2; from += step) {
        for (const double part : {diagonal ? 0.35 : 0.5, diagonal ? 0.65 : 0.5}) {
          const Spot at{a.x + (from + part * step) * along.x, a.y + (from + part * step) * along.y};
          const bool at_pad =
              std::any_of(net.pads.begin(), net.pads.end(), [&](const MetalPad& pad) {
                return stroke.layer >= pad.first_layer && stroke.layer <= pad.last_layer &&
                       distance(at, pad.at) < pad.half * (pad.square ? 1.415 : 1) - 0.1;
              });
          if (!at_pad) {
            knives.push_back({at, along, stroke.width / 2, stroke.layer});
          }
        }
      }
    }
  }
  return knives;
}

/// What the board says of one net's points, with one segment cut; the unknown ways do not count.
Parting pieces_of(const Board& board, NetId net, std::optional<SegmentId> cut) {
  std::map<PlaceId, std::size_t> label;
  for (std::uint32_t i = 0; i < board.places().size(); ++i) {
    label[PlaceId{i}] = i;
  }
  const auto& segments = board[net].segments;
  for (bool changed = true; changed;) {
    changed = false;
    for (const SegmentId id : segments) {
      const Segment& segment = board[id];
      std::size_t& a = label[segment.a];
      std::size_t& b = label[segment.b];
      if (id != cut && segment.kind != SegmentKind::unknown_way && a != b) {
        a = b = std::min(a, b);
        changed = true;
      }
    }
  }
  std::map<std::size_t, std::set<std::string>> sets;
  for (const PointId point : board[net].points) {
    std::string name = board[point].name;
    if (name.rfind("fork", 0) != 0 && name.rfind("bend", 0) != 0) {
      name = name.substr(0, name.find('@'));
      sets[label.at(board[point].first)].insert(name);
    }
  }
  Parting parting;
  for (const auto& [first, names] : sets) {
    parting.insert(names);
  }
  return parting;
}

std::string in_words(const std::set<Parting>& partings) {
  std::string all;
  for (const Parting& parting : partings) {
    for (const std::set<std::string>& piece : parting) {
      all += "{";
      for (const std::string& name : piece) {
        all += " " + name;
      }
      all += " }";
    }
    all += "\n";
  }
  return all;
}

struct Tally {
  std::size_t nets = 0;
  std::size_t partings = 0;
  std::size_t loops = 0;  ///< nets with a segment whose cut parts nothing
  std::size_t in_part = 0;
  std::size_t forks = 0;
  std::size_t bends = 0;
};

void check_board(const test::DrawnBoard& drawn, Tally& tally) {
  Diagnostics diagnostics("n.ipc");
  IpcSummary summary;
  const BoardDescription description = read_ipc356(drawn.text, std::nullopt, diagnostics, summary);
  REQUIRE(diagnostics.errors().empty());
  const Board board(description, diagnostics);
  Diagnostics again("again.yaml");
  CHECK(without_marks(read_board(write_board(description), again)) == without_marks(description));
  CHECK(again.errors().empty());
  std::size_t whole = 0;
  for (const MetalNet& metal : drawn.nets) {
    INFO(metal.name << "\n" << write_board(description));
    const auto net = board.find_net(metal.name);
    REQUIRE(net);
    const Metal painted(metal, drawn.layers);
    const Parting intact = painted.pieces(nullptr);
    CHECK(in_words({pieces_of(board, *net, std::nullopt)}) == in_words({intact}));
    whole += intact.size() == 1 ? 1 : 0;
    tally.in_part += intact.size() == 1 ? 0 : 1;

    std::set<Parting> cut_by_knife;
    for (const Knife& knife : cuts_of(metal)) {
      cut_by_knife.insert(painted.pieces(&knife));
    }
    std::set<Parting> cut_on_board;
    for (const SegmentId id : board[*net].segments) {
      if (board[id].kind == SegmentKind::trace) {
        cut_on_board.insert(pieces_of(board, *net, id));
      }
    }
    tally.loops += cut_on_board.erase(intact);
    cut_by_knife.erase(intact);
    CHECK(in_words(cut_on_board) == in_words(cut_by_knife));
    ++tally.nets;
    tally.partings += cut_by_knife.size();
  }
  CHECK(summary.routed == whole);
  for (const PointDescription& point : description.points) {
    tally.forks += point.name.rfind("fork", 0) == 0 ? 1 : 0;
    tally.bends += point.name.rfind("bend", 0) == 0 ? 1 : 0;
  }
}

std::string in_words(const Tally& tally) {
  return fmt::format("{} nets, {} in part, {} partings, {} with loops, {} forks, {} bends",
                     tally.nets, tally.in_part, tally.partings, tally.loops, tally.forks,
                     tally.bends);
}

void check_boards(unsigned first, unsigned last, int nets, Tally& tally) {
  for (unsigned seed = first; seed < last; ++seed) {
    CAPTURE(seed);
    test::DrawingHabits habits;
    habits.nets = nets;
    habits.layers = seed % 3 == 0 ? 4 : 2;
    habits.most_pins = seed % 2 == 0 ? 8 : 4;
    habits.most_vias = seed % 2 == 0 ? 3 : 1;
    habits.short_percent = seed % 4 < 2 ? 40 : 0;
    habits.unreached_percent = seed % 5 == 0 ? 30 : 0;
    check_board(test::draw_board(seed, habits), tally);
  }
}

}  // namespace

TEST_CASE("a cut parts the same points on the board and in the metal", "[graph][ipc356]") {
  Tally tally;
  check_boards(1, 17, 3, tally);
  INFO(in_words(tally));
  CHECK(tally.nets == 48);
  CHECK(tally.partings > 130);
  CHECK(tally.in_part > 3);
  CHECK(tally.loops > 5);
  CHECK(tally.forks > 20);
  CHECK(tally.bends > 2);
}

TEST_CASE("a cut parts the same points on three hundred boards", "[.][slow][graph][ipc356]") {
  Tally tally;
  check_boards(100, 400, 9, tally);
  WARN(in_words(tally));
}
