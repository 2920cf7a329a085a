// SPDX-License-Identifier: MIT
#include "tools/learn_measure.hpp"

#include <algorithm>
#include <utility>

#include "tools/hookup_reader.hpp"

namespace padwalk::tools {

namespace {

class HookupLearner {
 public:
  HookupLearner(const Measuring& measuring, const graph::Hookup& now, LearnReport& report)
      : measuring_(measuring),
        hookup_(now),
        report_(report),
        reader_(measuring.session, now, report.sweep) {}

  HookupLearned run(std::vector<std::vector<graph::PointId>> known,
                    const std::vector<graph::PointId>& fresh) {
    HookupLearned learned;
    learned.to_the_end = reader_.guarded([&] {
      const std::vector<graph::PointId> moved =
          known.empty() ? std::vector<graph::PointId>{} : fresh;
      if (!reader_.power_check(moved)) {
        return false;
      }
      std::vector<graph::PointId> silent;
      return read(std::move(known), fresh, learned.pieces, silent) &&
             ask_about(silent, learned.pieces);
    });
    report_.sweep.link = measuring_.session.counters();
    return learned;
  }

 private:
  bool read(std::vector<std::vector<graph::PointId>> known,
            const std::vector<graph::PointId>& fresh,
            std::vector<std::vector<graph::PointId>>& pieces, std::vector<graph::PointId>& silent) {
    graph::LearnScan scan(std::move(known), fresh, report_.joined_ohm,
                          measuring_.session.capabilities().max_source);
    const bool all = drain(scan);
    report_.follow_settings += scan.follow_settings();
    report_.follow_readings += scan.follow_readings();
    report_.current_readings += scan.current_readings();
    if (all) {
      pieces = scan.pieces();
      silent = scan.silent();
      const std::vector<graph::PointId> heard = scan.heard();
      report_.heard.insert(heard.begin(), heard.end());
      report_.between.insert(report_.between.end(), scan.between().begin(), scan.between().end());
    }
    return all;
  }

  bool drain(graph::LearnScan& scan) {
    for (auto wanted = scan.next(); !wanted.empty(); wanted = scan.next()) {
      if (measuring_.stop) {
        report_.sweep.interrupted = true;
        return false;
      }
      if (!reader_.may_drive()) {
        return false;
      }
      const std::vector<graph::Reading> readings = reader_.decide(wanted);
      measuring_.record.readings(readings);
      scan.record(readings);
    }
    return true;
  }

  /// What is silent is joined to nothing, or its lead touches nothing: once it is asked which.
  bool ask_about(std::vector<graph::PointId> silent,
                 std::vector<std::vector<graph::PointId>>& pieces) {
    if (silent.empty() || measuring_.person == nullptr) {
      return true;
    }
    std::vector<graph::Lead> leads;
    for (const graph::PointId point : silent) {
      leads.push_back({reader_.channel_of(point), point});
    }
    measuring_.person->reseat(measuring_.board, leads);
    measuring_.session.leads_moved();
    report_.asked = true;
    std::vector<std::vector<graph::PointId>> known = pieces;
    std::erase_if(known, [&](const std::vector<graph::PointId>& piece) {
      return std::find(silent.begin(), silent.end(), piece.front()) != silent.end();
    });
    std::vector<graph::PointId> still;
    return read(std::move(known), silent, pieces, still);
  }

  const Measuring& measuring_;
  const graph::Hookup& hookup_;
  LearnReport& report_;
  HookupReader reader_;
};

}  // namespace

HookupLearned learn_hookup(const Measuring& measuring, const graph::Hookup& now,
                           std::vector<std::vector<graph::PointId>> known,
                           const std::vector<graph::PointId>& fresh, LearnReport& report) {
  return HookupLearner(measuring, now, report).run(std::move(known), fresh);
}

std::vector<graph::PointId> without_lead(const graph::Board& board, const graph::Hookup& hookup) {
  std::vector<bool> has(board.points().size());
  for (const graph::Lead& lead : hookup.leads) {
    has[graph::index(lead.point)] = true;
  }
  std::vector<graph::PointId> none;
  for (std::uint32_t i = 0; i < has.size(); ++i) {
    if (!has[i]) {
      none.push_back(graph::PointId{i});
    }
  }
  return none;
}

}  // namespace padwalk::tools
