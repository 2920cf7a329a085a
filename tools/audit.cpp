// SPDX-License-Identifier: MIT
#include "tools/audit.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>

#include "tools/hookup_reader.hpp"

namespace padwalk::tools {

namespace {

/// What conducts as well as this is one conductor without doubt.
constexpr double kSurelyClosedOhm = 10;
/// The worst contact is one still; beyond it conducts like dirt.
constexpr double kConductsOhm = 1000;
/// So long a simulated move is heard.
constexpr double kHeardS = 0.5;

}  // namespace

Audit::Audit(Setup setup) : with_(std::move(setup)) {
  const std::size_t count = with_.terminals.size();
  for (std::size_t a = 0; a < count; ++a) {
    channels_.push_back(static_cast<session::Channel>(a + 1));
    for (std::size_t b = a + 1; b < count; ++b) {
      seen_.pairs.push_back({a, b, std::vector<ContactSeen>(with_.positions.size())});
    }
  }
}

bool Audit::run(std::size_t times) {
  try {
    for (std::size_t time = 1; time <= times && !seen_.stopped; ++time) {
      if (!operate(time, times)) {
        return false;
      }
      if (time == 1 && !seen_.stopped && ask_reseat()) {
        seen_.moves = SwitchMoves();
        for (ContactPair& pair : seen_.pairs) {  // what was read with a lead off is no reading
          pair.at.assign(pair.at.size(), ContactSeen());
        }
        --seen_.operations;
        if (!operate(time, times)) {
          return false;
        }
      }
    }
  } catch (const session::NotAtRest& live) {
    live_ = live.check;
    return false;
  }
  if (!seen_.stopped) {
    ask_stays();
  }
  return true;
}

bool Audit::operate(std::size_t time, std::size_t times) {
  if (poles_.empty()) {
    poles_ = watches_of(with_.terminals.size(), known_joined());
    // The board's ground is sunk always; a pole of several throws with it as the common is not
    // heard.
    for (SwitchWatch& pole : poles_) {
      if (pole.common == with_.ground && pole.throws.size() == 1) {
        std::swap(pole.common, pole.throws.front());
      }
    }
    std::erase_if(poles_, [&](const SwitchWatch& pole) { return pole.common == with_.ground; });
  }
  const std::string before = times > 1 ? fmt::format("{} of {}: ", time, times) : std::string();
  for (std::size_t position = 0; position < with_.positions.size(); ++position) {
    if (!put(position, before)) {
      seen_.stopped = true;
      return true;
    }
    if (!read(position)) {
      return false;
    }
  }
  ++seen_.operations;
  return true;
}

/// False: the person stops.
bool Audit::put(std::size_t position, const std::string& before) {
  const std::string& name = with_.positions[position];
  const bool word = name == "in" || name == "out";  // else a name such as "up" or "3"
  fmt::print(with_.out, "{}{} {} {}{}{}, press Enter (s: stop): ", before,
             position == 0 ? "leave" : "put", with_.name,
             word            ? ""
             : position == 0 ? "at "
                             : "to ",
             name, position == 0 ? "" : " and hold it");
  if (const SwitchWatch* pole = heard_pole()) {
    return listen(*pole, position) != "s";
  }
  if (answer("") == "s") {
    return false;
  }
  if (with_.bench != nullptr) {
    with_.bench->put_switch(with_.part, position);
  }
  return true;
}

/// As the file has it, else as it was read by now.
std::vector<graph::JoinedTerminals> Audit::known_joined() const {
  std::vector<graph::JoinedTerminals> joined = with_.joined;
  for (std::size_t position = 0; joined.size() < with_.positions.size(); ++position) {
    graph::TerminalPartition closed(with_.terminals.size(), {});
    for (const ContactPair& pair : seen_.pairs) {
      if (pair.at[position].closed > 0) {
        closed.join(pair.a, pair.b);
      }
    }
    joined.push_back(closed.groups());
  }
  return joined;
}

/// Another one at each operation; none before the first reading, which says that nothing is live.
const SwitchWatch* Audit::heard_pole() const {
  return poles_.empty() || !may_listen_ || with_.session.needs_power_check()
             ? nullptr
             : &poles_[seen_.operations % poles_.size()];
}

/// Holds a pole until the person says that it has been moved; a simulated one moves when it is
/// heard already. Returns what the person said.
std::string Audit::listen(const SwitchWatch& pole, std::size_t position) {
  std::string said;
  session::Watch watch;
  if (with_.bench != nullptr) {
    said = answer("");
    if (said == "s") {
      return said;
    }
    with_.bench->move_switch(with_.part, position, with_.simulated_makes_first);
    watch.seconds = kHeardS;
  }
  with_.out.flush();
  watch.source = channels_[pole.common];
  for (const std::size_t terminal : pole.throws) {
    watch.others.push_back(channels_[terminal]);
  }
  std::vector<session::WatchChange> changes;
  double gap_s = 0;
  const session::WatchEnd end = with_.session.watch(watch, [&](const session::WatchNews& news) {
    changes.insert(changes.end(), news.changes.begin(), news.changes.end());
    gap_s = news.gap_s;
    if (with_.bench != nullptr) {
      return true;
    }
    bool ended = false;
    const std::optional<std::string> line = with_.lines->next(ended);
    said = ended || with_.stop ? "s" : line.value_or("");
    return !line && !ended && !with_.stop;
  });
  if (with_.bench != nullptr) {
    with_.bench->rest_switch(with_.part);
  }
  if (end == session::WatchEnd::silent && with_.bench == nullptr && said.empty()) {
    return answer("");  // the hold broke off before the person was ready
  }
  if (end != session::WatchEnd::silent && said != "s") {
    add_move(pole, changes, gap_s, seen_.moves);
  }
  return said;
}

/// All pairs. What the switch joined may bring a charge to a lead: the power is checked anew.
bool Audit::read(std::size_t position) {
  may_listen_ = false;
  with_.session.leads_moved();
  const session::PowerCheck check = with_.session.power_check(channels_);
  if (!check.passed) {
    live_ = check;
    return false;
  }
  std::vector<session::Request> requests;
  std::vector<graph::WantedReading> wanted;
  for (const ContactPair& pair : seen_.pairs) {
    const bool swap = with_.ground == pair.a;  // ground is the side that is held low
    session::Request request;
    request.source = {channels_[swap ? pair.b : pair.a]};
    request.sink = {channels_[swap ? pair.a : pair.b]};
    request.purpose = session::Purpose::continuity;
    request.limit_ohm = kWornOhm;  // near it it is averaged
    requests.push_back(std::move(request));
    wanted.emplace_back();
    wanted.back().source = {with_.pins[swap ? pair.b : pair.a]};
    wanted.back().sink = {with_.pins[swap ? pair.a : pair.b]};
  }
  const std::vector<session::Measurement> measured = with_.session.measure(requests);
  seen_.readings += measured.size();
  seen_.volt = measured.front().volt;
  with_.record.readings(to_readings(wanted, measured));
  note(position, measured);
  may_listen_ = true;
  return true;
}

/// First what conducts without doubt; then what conducts better than all that lies beside it.
void Audit::note(std::size_t position, const std::vector<session::Measurement>& measured) {
  graph::TerminalPartition sure(with_.terminals.size(), {});
  for (std::size_t n = 0; n < measured.size(); ++n) {
    if (measured[n].ohm <= kSurelyClosedOhm) {
      sure.join(seen_.pairs[n].a, seen_.pairs[n].b);
    }
  }
  const auto with = [&](std::size_t terminal) {
    std::vector<std::size_t> group;
    for (std::size_t other = 0; other < with_.terminals.size(); ++other) {
      if (sure.together(terminal, other)) {
        group.push_back(other);
      }
    }
    return group;
  };
  for (std::size_t n = 0; n < measured.size(); ++n) {
    const session::Measurement& is = measured[n];
    const ContactPair& pair = seen_.pairs[n];
    ContactSeen& seen = seen_.pairs[n].at[position];
    const double outside = with_.outside == nullptr || sure.together(pair.a, pair.b)
                               ? graph::kOpenOhm
                               : with_.outside->least_ohm(with(pair.a), with(pair.b));
    seen.outside_ohm = std::min(seen.outside_ohm, outside);
    if (is.emf || is.clipped) {
      seen.driven = true;
      continue;
    }
    ++seen.reads;
    if (is.ohm <= std::max(kSurelyClosedOhm, std::min(kConductsOhm, outside / 2))) {
      seen.best_ohm = seen.closed == 0 ? is.ohm : std::min(seen.best_ohm, is.ohm);
      if (seen.closed == 0 || is.ohm > seen.worst_ohm) {
        seen.worst_ohm = is.ohm;
        seen.uncertainty_ohm = is.uncertainty_ohm;
      }
      seen.sum_ohm += is.ohm;
      ++seen.closed;
    } else if (is.settled && is.ohm < seen.least_open_ohm) {
      seen.least_open_ohm = is.ohm;
      seen.least_open_uncertainty_ohm = is.uncertainty_ohm;
    }
  }
}

/// Once: a lead without contact looks like a dead terminal. True: to be read anew.
bool Audit::ask_reseat() {
  std::vector<std::string> silent;
  for (std::size_t terminal = 0; terminal < with_.terminals.size(); ++terminal) {
    const bool conducts =
        std::any_of(seen_.pairs.begin(), seen_.pairs.end(), [&](const ContactPair& pair) {
          return (pair.a == terminal || pair.b == terminal) &&
                 std::any_of(pair.at.begin(), pair.at.end(),
                             [](const ContactSeen& seen) { return seen.closed > 0; });
        });
    if (!conducts && with_.should_conduct[terminal]) {
      silent.push_back(fmt::format("{} on {}", terminal + 1, with_.terminals[terminal]));
    }
  }
  if (silent.empty()) {
    return false;
  }
  fmt::print(with_.out, "nothing from lead {}: put {} on anew, press Enter (n: {} well): ",
             fmt::join(silent, ", lead "), silent.size() > 1 ? "them" : "it",
             silent.size() > 1 ? "they sit" : "it sits");
  const std::string said = answer("");
  if (said == "s") {
    seen_.stopped = true;
  }
  if (said == "n" || said == "s") {
    return false;
  }
  if (with_.bench != nullptr) {
    with_.bench->reseat_all();
  }
  return true;
}

void Audit::ask_stays() {
  fmt::print(with_.out,
             "let go of {}: y: it stays, n: it springs back, Enter: not told: ", with_.name);
  const std::string said = answer(with_.simulated_stays ? "y" : "n");
  if (said == "y" || said == "n") {
    seen_.stays = said == "y";
  }
}

/// Of whoever is there; the simulated person's is shown. Who closes the terminal stops.
std::string Audit::answer(const char* simulated) {
  with_.out.flush();
  if (with_.lines == nullptr) {
    fmt::print(with_.out, "{}\n", simulated);
    return with_.stop ? "s" : simulated;
  }
  const std::string said = with_.lines->wait().value_or("s");
  return with_.stop ? "s" : said;
}

}  // namespace padwalk::tools
