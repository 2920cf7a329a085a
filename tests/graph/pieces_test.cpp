// SPDX-License-Identifier: MIT
#include "graph/pieces.hpp"

#include <catch2/catch.hpp>
#include <random>

namespace {

using namespace padwalk::graph;

/// Points P0, P1, …; point i is in net N<i / size>.
Board board_in_pieces(std::size_t points, std::size_t size) {
  BoardDescription description;
  for (std::size_t i = 0; i < points; ++i) {
    PointDescription point;
    point.name = "P" + std::to_string(i);
    description.points.push_back(point);
    if (i % size == 0) {
      description.nets.emplace_back();
      description.nets.back().name = "N" + std::to_string(i / size);
    }
    description.nets.back().members.push_back({point.name, {}});
  }
  Diagnostics diagnostics("test");
  return Board(std::move(description), diagnostics);
}

Reading pair(std::uint32_t a, std::uint32_t b, double ohm, Purpose purpose = Purpose::continuity) {
  Reading reading;
  reading.wanted.source = {PointId{a}};
  reading.wanted.purpose = purpose;
  (purpose == Purpose::follow ? reading.wanted.sense : reading.wanted.sink.emplace_back()) =
      PointId{b};
  reading.ohm = ohm;
  return reading;
}

std::vector<PointId> points(std::initializer_list<std::uint32_t> ids) {
  std::vector<PointId> list;
  for (const std::uint32_t id : ids) {
    list.push_back(PointId{id});
  }
  return list;
}

}  // namespace

TEST_CASE("points join up to one limit inside a net and up to another between nets",
          "[graph][pieces]") {
  const Board board = board_in_pieces(9, 3);
  const std::vector<PointId> attached = points({0, 1, 2, 3, 4, 7, 6});
  Reading sets = pair(0, 3, 0);
  sets.wanted.sink.push_back(PointId{6});
  const std::vector<Reading> readings = {
      pair(0, 1, 9e3),
      pair(0, 2, 11e3),
      pair(3, 4, 0, Purpose::follow),
      pair(6, 7, kOpenOhm, Purpose::follow),
      pair(2, 4, 10),
      pair(0, 6, 10.1),
      pair(1, 7, 0, Purpose::isolation),  // whole nets, even where each has one point
      pair(0, 8, 0),                      // no lead
      sets,
  };
  const Pieces pieces = measured_pieces(board, attached, readings, 10e3, 10);
  CHECK(pieces.members == std::vector<std::vector<PointId>>{points({0, 1}), points({2, 3, 4}),
                                                            points({6}), points({7})});
  CHECK(pieces[PointId{4}] == 1);
  CHECK(pieces[PointId{5}] == Pieces::kNotAttached);
  CHECK(pieces[PointId{8}] == Pieces::kNotAttached);
}

TEST_CASE("a later reading does not undo an earlier one", "[graph][pieces]") {
  const Board board = board_in_pieces(2, 2);
  const std::vector<Reading> readings = {pair(0, 1, 0.1), pair(0, 1, kOpenOhm)};
  CHECK(measured_pieces(board, points({0, 1}), readings, 10e3, 10).members.size() == 1);
}

TEST_CASE("what empties while it is read says nothing of its net", "[graph][pieces]") {
  const Board board = board_in_pieces(2, 2);
  Reading reading = pair(0, 1, 0);
  reading.settled = false;
  CHECK(measured_pieces(board, points({0, 1}), {{reading}}, 10e3, 10).members.size() == 2);
  reading.uncertainty_ohm = 0.2;  // a bound: it fills, and does so at once
  CHECK(measured_pieces(board, points({0, 1}), {{reading}}, 10e3, 10).members.size() == 1);
}

TEST_CASE("pieces of random readings are the classes that flooding finds", "[graph][pieces]") {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    INFO("seed " << seed);
    std::mt19937 random(seed);
    const std::size_t n = 2 + random() % 30;
    const Board board = board_in_pieces(n, 1 + random() % 5);
    std::vector<PointId> attached;
    for (std::uint32_t i = 0; i < n; ++i) {
      attached.push_back(PointId{i});
    }
    std::vector<std::vector<bool>> joined(n, std::vector<bool>(n));
    std::vector<Reading> readings;
    for (std::size_t i = random() % n; i > 0; --i) {
      const auto a = static_cast<std::uint32_t>(random() % n);
      const auto b = static_cast<std::uint32_t>(random() % n);
      const double ohm = random() % 2 == 0 ? 1 : 100;
      readings.push_back(pair(a, b, ohm));
      const bool same = board[PointId{a}].net == board[PointId{b}].net;
      joined[a][b] = joined[b][a] = joined[a][b] || same || ohm <= 10;
    }
    std::vector<std::size_t> label(n);
    for (std::size_t i = 0; i < n; ++i) {
      label[i] = i;
    }
    for (std::size_t round = 0; round < n; ++round) {
      for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
          label[i] = joined[i][j] ? std::min(label[i], label[j]) : label[i];
        }
      }
    }
    const Pieces pieces = measured_pieces(board, attached, readings, 10e3, 10);
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < n; ++j) {
        REQUIRE((pieces.piece_of[i] == pieces.piece_of[j]) == (label[i] == label[j]));
      }
    }
  }
}
