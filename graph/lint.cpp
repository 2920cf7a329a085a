// SPDX-License-Identifier: MIT
#include "graph/lint.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "graph/chip_types.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kBrothers = 4;  // lines that make a bus

class Lint {
 public:
  explicit Lint(const Board& board) : board_(board) {
    for (std::uint32_t i = 0; i < board.parts().size(); ++i) {
      const Part& part = board.parts()[i];
      const auto uses = part.kind == PartKind::ic ? pin_uses(part.type) : std::nullopt;
      if (uses && uses->size() == part.pins.size()) {
        for (std::size_t pin = 0; pin < part.pins.size(); ++pin) {
          use_[part.pins[pin]] = static_cast<PinUse>((*uses)[pin]);
        }
      }
    }
  }

  std::vector<std::string> run() {
    check_rail(PinUse::supply, "supply");
    check_rail(PinUse::ground, "ground");
    check_inputs();
    check_outputs();
    check_buses();
    return std::move(doubts_);
  }

 private:
  std::string type_of(PointId pin) const { return board_[board_[pin].part].type; }

  /// The net that most pins of this use are on speaks for all; so does a role in the file.
  void check_rail(PinUse use, const char* word) {
    std::map<NetId, std::size_t> votes;
    for (const auto& [pin, its] : use_) {
      votes[board_[pin].net] += its == use && board_[pin].net != kNoNet ? 1 : 0;
    }
    const auto most =
        std::max_element(votes.begin(), votes.end(),
                         [](const auto& a, const auto& b) { return a.second < b.second; });
    const NetRole role = use == PinUse::supply ? NetRole::supply : NetRole::ground;
    for (const auto& [pin, its] : use_) {
      const NetId net = board_[pin].net;
      if (its != use || net == most->first || (net != kNoNet && board_[net].role == role) ||
          fed_from(net, most->first)) {
        continue;
      }
      doubts_.push_back(
          fmt::format("{} is the {} pin of a {}, and {}", board_[pin].name, word, type_of(pin),
                      net == kNoNet ? "is in no net"
                                    : fmt::format("is in net {}, not with the others in {}",
                                                  board_[net].name, board_[most->first].name)));
    }
  }

  /// By way of a diode, a fuse, a resistor.
  bool fed_from(NetId net, NetId rail) const {
    const std::vector<PartLink> links = board_.part_links();
    return std::any_of(links.begin(), links.end(), [&](const PartLink& link) {
      return (link.a == net && link.b == rail) || (link.a == rail && link.b == net);
    });
  }

  void check_inputs() {
    for (const auto& [pin, use] : use_) {
      if (use == PinUse::input && alone(pin)) {
        doubts_.push_back(fmt::format("{} is an input of a {}, and nothing is joined to it",
                                      board_[pin].name, type_of(pin)));
      }
    }
  }

  void check_outputs() {
    std::map<NetId, std::vector<PointId>> outputs;
    for (const auto& [pin, use] : use_) {
      if (use == PinUse::output && board_[pin].net != kNoNet) {
        outputs[board_[pin].net].push_back(pin);
      }
    }
    for (const auto& [net, pins] : outputs) {
      // Gates of one chip are sometimes joined for more current.
      const bool one_chip = std::all_of(pins.begin(), pins.end(), [&](PointId pin) {
        return board_[pin].part == board_[pins.front()].part;
      });
      if (pins.size() > 1 && !one_chip) {
        doubts_.push_back(fmt::format("net {} joins two outputs, {} and {}", board_[net].name,
                                      board_[pins[0]].name, board_[pins[1]].name));
      }
    }
  }

  bool alone(PointId pin) const {
    const NetId net = board_[pin].net;
    return net == kNoNet || board_[net].points.size() < 2;
  }

  /// Whether a pin of it that should be on a bus is on nothing.
  bool misses_a_line(PartId chip) const {
    return std::any_of(use_.begin(), use_.end(), [&](const auto& entry) {
      const auto& [pin, use] = entry;
      return board_[pin].part == chip && alone(pin) &&
             (use == PinUse::input || use == PinUse::three_state);
    });
  }

  /// Lines of one bus join the same chips; one that lacks a chip is unlike its brothers.
  void check_buses() {
    using Chips = std::set<PartId>;
    std::map<Chips, std::vector<NetId>> lines;
    for (std::uint32_t i = 0; i < board_.nets().size(); ++i) {
      Chips chips;
      for (const PointId point : board_.nets()[i].points) {
        const auto use = use_.find(point);
        if (use != use_.end()) {
          chips.insert(board_[point].part);
        }
      }
      if (board_.nets()[i].role == NetRole::signal) {
        lines[chips].push_back(NetId{i});
      }
    }
    for (const auto& [chips, nets] : lines) {
      for (const PartId lacking : chips) {
        Chips fewer = chips;
        fewer.erase(lacking);
        const auto found = lines.find(fewer);
        if (fewer.size() < 2 || nets.size() < kBrothers || !misses_a_line(lacking) ||
            found == lines.end() || found->second.size() * 2 >= nets.size()) {
          continue;
        }
        for (const NetId net : found->second) {
          doubts_.push_back(fmt::format("net {} does not reach {}, as {} and {} others like it do",
                                        board_[net].name, board_[lacking].name,
                                        board_[nets.front()].name, nets.size() - 1));
        }
      }
    }
  }

  const Board& board_;
  std::map<PointId, PinUse> use_;
  std::vector<std::string> doubts_;
};

}  // namespace

std::vector<std::string> lint(const Board& board) {
  return Lint(board).run();
}

}  // namespace padwalk::graph
