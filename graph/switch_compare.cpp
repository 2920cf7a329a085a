// SPDX-License-Identifier: MIT
#include "graph/switch_compare.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <stdexcept>

namespace padwalk::graph {

namespace {

using TerminalPair = std::pair<std::size_t, std::size_t>;
/// By pair: positions, ascending.
using PairPositions = std::map<TerminalPair, std::vector<std::size_t>>;

/// The same conductors where terminals a and b have changed places.
TerminalPartition exchange(const TerminalPartition& partition, std::size_t terminals, std::size_t a,
                           std::size_t b) {
  const auto at = [&](std::size_t terminal) {
    return terminal == a ? b : terminal == b ? a : terminal;
  };
  JoinedTerminals joined = partition.groups();
  for (std::vector<std::size_t>& group : joined) {
    std::transform(group.begin(), group.end(), group.begin(), at);
  }
  return {terminals, joined};
}

class SwitchComparison {
 public:
  SwitchComparison(const SwitchTable& expected, const SwitchTable& measured)
      : count_(expected.terminals.size()),
        description_(describe_switch(expected)),
        should_(partitions_of(expected)),
        is_(partitions_of(measured)),
        poles_(count_, description_.always) {
    for (const SwitchPole& pole : description_.poles) {
      for (const std::size_t terminal : pole.terminals) {
        poles_.join(pole.terminals.front(), terminal);
      }
    }
  }

  std::vector<SwitchFault> faults() {
    if (should_ != is_ && !is_stuck() && !is_turned_round()) {
      find_exchanged();
      find_missing();
      find_extra();
    }
    return std::move(faults_);
  }

 private:
  std::size_t positions() const { return should_.size(); }

  bool is_stuck() {
    const auto same_as = [](const auto& all, const TerminalPartition& one) {
      return std::all_of(all.begin(), all.end(), [&](const auto& each) { return each == one; });
    };
    const auto found = std::find(should_.begin(), should_.end(), is_.front());
    if (!same_as(is_, is_.front()) || same_as(should_, should_.front()) || found == should_.end()) {
      return false;
    }
    faults_.push_back(
        {SwitchFaultKind::stuck, 0, 0, {static_cast<std::size_t>(found - should_.begin())}});
    return true;
  }

  /// Of a single pole with throws it is the throws that are said to be exchanged.
  bool is_turned_round() {
    if (description_.poles.size() == 1 && description_.poles.front().throws.size() > 1) {
      return false;
    }
    for (std::size_t p = 0; p < positions(); ++p) {
      for (std::size_t q = p + 1; q < positions(); ++q) {
        std::vector<TerminalPartition> turned = should_;
        std::swap(turned[p], turned[q]);
        if (turned == is_) {
          faults_.push_back({SwitchFaultKind::exchanged_positions, 0, 0, {p, q}});
          return true;
        }
      }
    }
    return false;
  }

  /// Only what these terminals have to do with one another.
  bool agree(const std::vector<TerminalPartition>& should,
             const std::vector<std::size_t>& terminals) const {
    for (std::size_t p = 0; p < positions(); ++p) {
      for (const std::size_t a : terminals) {
        for (const std::size_t b : terminals) {
          if (should[p].together(a, b) != is_[p].together(a, b)) {
            return false;
          }
        }
      }
    }
    return true;
  }

  std::vector<TerminalPartition> with_exchanged(std::size_t a, std::size_t b) const {
    std::vector<TerminalPartition> changed;
    for (const TerminalPartition& partition : should_) {
      changed.push_back(exchange(partition, count_, a, b));
    }
    return changed;
  }

  /// Two terminals of one pole; else two of the whole switch that explain all that is wrong.
  void find_exchanged() {
    for (const SwitchPole& pole : description_.poles) {
      // Legs that are one terminal move apart: all of them are looked at.
      std::vector<std::size_t> terminals;
      for (std::size_t terminal = 0; terminal < count_; ++terminal) {
        if (poles_.together(terminal, pole.terminals.front())) {
          terminals.push_back(terminal);
        }
      }
      if (!agree(should_, terminals)) {
        try_exchanges(terminals);
      }
    }
    if (should_ != is_) {
      std::vector<std::size_t> all(count_);
      for (std::size_t terminal = 0; terminal < count_; ++terminal) {
        all[terminal] = terminal;
      }
      try_exchanges(all);
    }
  }

  /// One exchange among them after which they do to one another what was measured.
  void try_exchanges(const std::vector<std::size_t>& from) {
    for (std::size_t i = 0; i < from.size(); ++i) {
      for (std::size_t j = i + 1; j < from.size(); ++j) {
        std::vector<TerminalPartition> changed = with_exchanged(from[i], from[j]);
        if (agree(changed, from)) {
          should_ = std::move(changed);
          faults_.push_back({SwitchFaultKind::exchanged, from[i], from[j], {}});
          exchange_poles(from[i], from[j]);
          return;
        }
      }
    }
  }

  void exchange_poles(std::size_t a, std::size_t b) {
    poles_ = exchange(poles_, count_, a, b);
    for (SwitchPole& pole : description_.poles) {
      const auto at = [&](std::size_t terminal) {
        return terminal == a ? b : terminal == b ? a : terminal;
      };
      std::transform(pole.terminals.begin(), pole.terminals.end(), pole.terminals.begin(), at);
      std::transform(pole.throws.begin(), pole.throws.end(), pole.throws.begin(), at);
      pole.common = pole.common ? std::optional(at(*pole.common)) : std::nullopt;
    }
  }

  bool is_common(std::size_t terminal) const {
    return std::any_of(description_.poles.begin(), description_.poles.end(),
                       [&](const SwitchPole& pole) { return pole.common == terminal; });
  }

  /// Joints that are not there: of each group that fell apart, from the common, else from its first
  /// terminal, to the first terminal of every other piece.
  void find_missing() {
    PairPositions missing;
    for (std::size_t p = 0; p < positions(); ++p) {
      for (const std::vector<std::size_t>& group : should_[p].groups()) {
        const auto common = std::find_if(group.begin(), group.end(),
                                         [&](std::size_t one) { return is_common(one); });
        const std::size_t from = common == group.end() ? group.front() : *common;
        std::vector<std::size_t> seen = {from};
        for (const std::size_t to : group) {
          if (std::none_of(seen.begin(), seen.end(),
                           [&](std::size_t one) { return is_[p].together(one, to); })) {
            missing[std::minmax(from, to)].push_back(p);
            seen.push_back(to);
          }
        }
      }
    }
    for (const SwitchPole& pole : description_.poles) {
      const bool all = pole.common && pole.throws.size() > 1 &&
                       std::all_of(pole.throws.begin(), pole.throws.end(), [&](std::size_t one) {
                         return never(missing, *pole.common, one);
                       });
      if (all) {
        faults_.push_back({SwitchFaultKind::dead_pole, *pole.common, 0, {}});
        for (const std::size_t one : pole.throws) {
          missing.erase(std::minmax(*pole.common, one));
        }
      }
    }
    for (const auto& [pair, where] : missing) {
      const bool none = never(missing, pair.first, pair.second);
      faults_.push_back({none ? SwitchFaultKind::never_closes : SwitchFaultKind::misses, pair.first,
                         pair.second, none ? std::vector<std::size_t>{} : where});
    }
  }

  /// Missing wherever it should be.
  bool never(const PairPositions& missing, std::size_t a, std::size_t b) const {
    const auto found = missing.find(std::minmax(a, b));
    return found != missing.end() &&
           found->second.size() == static_cast<std::size_t>(std::count_if(
                                       should_.begin(), should_.end(),
                                       [&](const auto& one) { return one.together(a, b); }));
  }

  /// Joints that should not be: again and again the one that explains most. Of those that explain
  /// as much, one that is a contact of the switch in other positions, then one of its pole.
  void find_extra() {
    std::vector<TerminalPartition> known;  // what is there of what should be
    for (std::size_t p = 0; p < positions(); ++p) {
      known.emplace_back(count_, JoinedTerminals{});
      for (std::size_t a = 0; a < count_; ++a) {
        for (std::size_t b = a + 1; b < count_; ++b) {
          if (should_[p].together(a, b) && is_[p].together(a, b)) {
            known[p].join(a, b);
          }
        }
      }
    }
    while (known != is_) {
      TerminalPair best{0, 0};
      std::vector<std::size_t> best_where;
      int best_rank = -1;
      for (std::size_t a = 0; a < count_; ++a) {
        for (std::size_t b = a + 1; b < count_; ++b) {
          std::vector<std::size_t> where;
          for (std::size_t p = 0; p < positions(); ++p) {
            if (is_[p].together(a, b) && !known[p].together(a, b)) {
              where.push_back(p);
            }
          }
          const int rank = is_contact(a, b) ? 2 : poles_.together(a, b) ? 1 : 0;
          if (!where.empty() && (where.size() > best_where.size() ||
                                 (where.size() == best_where.size() && rank > best_rank))) {
            best = {a, b};
            best_where = where;
            best_rank = rank;
          }
        }
      }
      const auto& [a, b] = best;
      for (const std::size_t p : best_where) {
        known[p].join(a, b);
      }
      const bool always = is_contact(a, b) && std::all_of(is_.begin(), is_.end(), [&](auto& one) {
                            return one.together(best.first, best.second);
                          });
      faults_.push_back({!poles_.together(a, b) ? SwitchFaultKind::across
                         : always               ? SwitchFaultKind::never_opens
                                                : SwitchFaultKind::closes_too,
                         a, b, best_where});
    }
  }

  bool is_contact(std::size_t a, std::size_t b) const {
    return std::any_of(should_.begin(), should_.end(),
                       [&](const auto& one) { return one.together(a, b); });
  }

  std::size_t count_;
  SwitchDescription description_;
  std::vector<TerminalPartition> should_;
  std::vector<TerminalPartition> is_;
  TerminalPartition poles_;
  std::vector<SwitchFault> faults_;
};

}  // namespace

std::string switch_fault_name(SwitchFaultKind kind) {
  switch (kind) {
    case SwitchFaultKind::stuck:
      return "stuck";
    case SwitchFaultKind::exchanged_positions:
      return "exchanged positions";
    case SwitchFaultKind::exchanged:
      return "exchanged";
    case SwitchFaultKind::dead_pole:
      return "dead pole";
    case SwitchFaultKind::never_closes:
      return "never closes";
    case SwitchFaultKind::misses:
      return "misses";
    case SwitchFaultKind::never_opens:
      return "never opens";
    case SwitchFaultKind::closes_too:
      return "closes too";
    case SwitchFaultKind::across:
      return "across";
  }
  return "across";
}

std::string switch_fault_text(const SwitchTable& expected, const SwitchFault& fault) {
  const auto name = [&](std::size_t terminal) { return expected.terminals[terminal]; };
  const std::string pair = fmt::format("{} and {}", name(fault.a), name(fault.b));
  std::string where;
  for (const std::size_t position : fault.positions) {
    where += fmt::format("{}'{}'", where.empty() ? "" : ", ", expected.positions[position].name);
  }
  switch (fault.kind) {
    case SwitchFaultKind::stuck: {
      const SwitchDescription is = describe_switch(expected);
      const bool closed = !expected.positions[fault.positions.front()].joined.empty();
      std::string other;
      if (is.poles.size() == 1 && is.poles.front().throws.size() == 1) {
        other = fmt::format(", or {} and {} never {}", name(is.poles.front().terminals[0]),
                            name(is.poles.front().terminals[1]), closed ? "open" : "close");
      }
      return fmt::format("nothing changes: it stays as in position {}{}", where, other);
    }
    case SwitchFaultKind::exchanged_positions:
      return fmt::format("positions '{}' and '{}' are the other way round",
                         expected.positions[fault.positions[0]].name,
                         expected.positions[fault.positions[1]].name);
    case SwitchFaultKind::exchanged:
      return fmt::format("{} have changed places, on the switch or in the file", pair);
    case SwitchFaultKind::dead_pole:
      return fmt::format("{} conducts to none of its throws in any position", name(fault.a));
    case SwitchFaultKind::never_closes:
      return fmt::format("{} never close", pair);
    case SwitchFaultKind::misses:
      return fmt::format("{} do not close in {}", pair, where);
    case SwitchFaultKind::never_opens:
      return fmt::format("{} never open; they should in {}", pair, where);
    case SwitchFaultKind::closes_too:
      return fmt::format("{} conduct in {} and should not", pair, where);
    case SwitchFaultKind::across:
      return fmt::format("{} touch across poles in {}", pair, where);
  }
  return pair;
}

std::vector<SwitchFault> compare_switch(const SwitchTable& expected, const SwitchTable& measured) {
  if (expected.terminals.size() != measured.terminals.size() ||
      expected.positions.size() != measured.positions.size()) {
    throw std::invalid_argument("tables of two different switches");
  }
  return SwitchComparison(expected, measured).faults();
}

}  // namespace padwalk::graph
