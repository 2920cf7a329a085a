// SPDX-License-Identifier: MIT
//
// Capacitors, which look like anything until they are full: two averages 20 ms apart tell whether a
// pair is at rest; if not it is waited for, two seconds at most. A voltage with the source off is
// told apart here too: a charge goes, an EMF stays. All of it passes in the tester's time.
#include <algorithm>
#include <cmath>
#include <limits>

#include "firmware-host/session/session_state.hpp"

namespace padwalk::session {

namespace {

constexpr std::uint16_t kApartTicks = 200;  // 20 ms
constexpr std::uint16_t kSoonTicks = 10;
/// Averages in one go, and goes until two seconds are over.
constexpr std::size_t kAverages = 10;
constexpr int kGoes = 10;
/// Of their k = 2 errors: what two averages of the same may differ by.
constexpr double kMayDiffer = 1.5;
/// A capacitor of 10 mF falls by so much in 20 ms through the force paths. What sags as an EMF may
/// is found out at rest, see take_off().
constexpr double kStillFalls = 0.002;
/// After 5 V nothing is left above this.
constexpr double kEmptyVolt = 0.020;
/// Below this two points are joined, whatever else is there: in the first 10 ms a capacitor of
/// 4 mF that fills through range 1 is past it.
constexpr double kJoinedOhm = 0.5;
/// A reading that much above its limit clears it, and filling only makes it rise.
constexpr double kClear = 3;
/// Above this 5 V reads better.
constexpr double kFarOhm = 20e3;
/// Of the sense side, where no reading with the source off takes it away. Source: the reference
/// tester.
constexpr double kOffsetVolt = 5e-3;

}  // namespace

void Session::State::settle(std::span<const Request> requests) {
  std::vector<std::size_t> doubtful;
  std::vector<std::size_t> restless;
  for (std::size_t i = 0; i < requests.size(); ++i) {
    // A gain that suited the first sample is over range when a capacitor has filled a little.
    const bool doubtful_number = books[i].charged || measured[i].clipped;
    if (doubtful_number && requests[i].purpose != Purpose::follow) {
      restless.push_back(i);
    } else if (may_be_filling(requests[i], i)) {
      doubtful.push_back(i);
    } else if (std::isinf(measured[i].ohm)) {
      measured[i].settled = true;  // nothing flows: nothing fills
    }
  }
  // Noise alone makes a few of many differ, and hardly one of them again.
  doubtful = read_twice(requests, doubtful, restless);
  doubtful = read_twice(requests, doubtful, restless);
  restless.insert(restless.end(), doubtful.begin(), doubtful.end());
  for (const std::size_t i : restless) {
    wait_for_rest(requests[i], i);
  }
}

/// Two averages 20 ms apart. Returns which of `doubtful` differed; `charged`: which kept a charge.
std::vector<std::size_t> Session::State::read_twice(std::span<const Request> requests,
                                                    std::span<const std::size_t> doubtful,
                                                    std::vector<std::size_t>& charged) {
  std::vector<Sensing> sensings;
  for (const std::size_t i : doubtful) {
    Sensing twice = sensing_of(requests[i], head(books[i].range), books[i].pair);
    twice.head.period_ticks = kApartTicks;
    sensings.push_back(twice);
    twice.head.difference = 0;
    twice.head.period_ticks = 0;
    twice.head.settle_limit_ticks = kSoonTicks;
    sensings.push_back(twice);
    if (twice.head.level == wire::Level::high) {
      sensings.push_back(discharging(requests[i], books[i].pair));
    }
  }
  std::vector<wire::Result> results;
  execute(sensings, results);
  std::vector<std::size_t> differing;
  std::span<const wire::Result> left = results;
  for (const std::size_t i : doubtful) {
    const wire::StepHead now = head(books[i].range);
    const bool high_level = now.level == wire::Level::high;
    const bool rests = agree(left[1], left[2], now);
    judge(i, {left[0], left[2]}, now);
    measured[i].settled = true;
    books[i].charged |= high_level && holds_charge(left[3]);
    left = left.subspan(high_level ? 4 : 3);
    if (books[i].charged) {
      charged.push_back(i);
    } else if (!rests || measured[i].clipped) {
      differing.push_back(i);
    }
  }
  return differing;
}

bool Session::State::may_be_filling(const Request& request, std::size_t index) const {
  const Measurement& now = measured[index];
  if (request.purpose == Purpose::follow || now.clipped || std::isinf(now.ohm)) {
    return false;
  }
  // Of copper it is a break or a weak joint, and only at rest it is known which.
  if (request.purpose == Purpose::isolation && request.limit_ohm > 0 &&
      now.ohm - now.uncertainty_ohm > kClear * request.limit_ohm) {
    return false;
  }
  // What isolation found, it found with less than 100 uA.
  return !now.settled || request.purpose == Purpose::isolation || now.ohm > kJoinedOhm;
}

/// Whether two averages of one setting differ by no more than their errors.
bool Session::State::agree(const wire::Result& a, const wire::Result& b,
                           const wire::StepHead& head) const {
  const auto near = [](const Average& one, const Average& other, double more) {
    return std::abs(one.volt - other.volt) <= kMayDiffer * std::hypot(one.error, other.error, more);
  };
  const double hum = 2 * std::sqrt(2.0) * hum_volt / kHumLoadOhm;
  return near(ranges.sense(a, head, noise_volt), ranges.sense(b, head, noise_volt), 0) &&
         near(ranges.current(a, head, noise_volt), ranges.current(b, head, noise_volt),
              hum * wire::kRanges[head.range - 1].reference_ohm);
}

/// Makes the best of a pair that was not at rest: an EMF, ohms, or a lower bound that is flagged.
void Session::State::wait_for_rest(const Request& request, std::size_t index) {
  Book& book = books[index];
  Measurement& made = measured[index];
  if (Ranges::level(book.range) == wire::Level::high) {
    const bool empty = discharge(request, book.pair);
    if (made.emf) {
      if (!falls(request, book.pair)) {
        return;
      }
      made.settled = fill(request, index);
      made.settled &= discharge(request, book.pair);
    } else if (book.charged) {
      made.settled &= empty;  // the reading stood, and only left a charge behind
    } else {
      made.settled = fill(request, index);
      take_off(request, index);
      made.settled &= discharge(request, book.pair);
    }
    return;
  }
  if (made.emf && !falls(request, book.pair)) {
    return;
  }
  // With the most current first, then in the range that suits, if it rests there as well.
  std::optional<std::uint8_t> range = ranges.low(0);
  for (int step = 0; step < 3 && range; ++step) {
    const Measurement before = made;
    const Book before_book = book;
    book.range = *range;
    made.settled = fill(request, index);
    if (step == 0 && locate(request, index)) {
      made.settled = fill(request, index);
    }
    if (!made.settled && step > 0) {
      made = before;
      book = before_book;
      break;
    }
    range = made.settled && !made.clipped ? ranges.better(book.range, made.ohm) : std::nullopt;
  }
  take_off(request, index);
  // What a capacitor hid from 5 V.
  const std::uint8_t first = ranges.first(request.purpose);
  if (Ranges::level(first) == wire::Level::high && made.settled && !made.clipped &&
      made.ohm > kFarOhm) {
    book.range = first;
    made.settled = fill(request, index);
    take_off(request, index);
    made.settled &= discharge(request, book.pair);
  }
}

/// With the source off: whether what is across the pair goes away, as a charge does. No longer than
/// it takes to see, since the charge is wanted: the next fill goes on from it.
bool Session::State::falls(const Request& request, wire::Pair pair) {
  Sensing off = discharging(request, pair);
  off.head.period_ticks = kApartTicks;
  for (const std::size_t averages : {std::size_t{2}, kAverages}) {
    const std::vector<Sensing> sensings(averages, off);
    std::vector<wire::Result> results;
    execute(sensings, results);
    const Average first = ranges.sense(results.front(), off.head, noise_volt);
    const Average last = ranges.sense(results.back(), off.head, noise_volt);
    const double gone = std::abs(first.volt) - std::abs(last.volt);
    if (std::abs(last.volt) < kEmptyVolt ||
        gone > std::max(kStillFalls * std::abs(first.volt),
                        kMayDiffer * std::hypot(first.error, last.error))) {
      return true;
    }
  }
  return false;
}

/// Both sets at 0 V until less than 20 mV are left, two seconds at most.
bool Session::State::discharge(const Request& request, wire::Pair pair) {
  Sensing off = discharging(request, pair);
  off.head.period_ticks = kApartTicks;
  const std::vector<Sensing> sensings(kAverages, off);
  std::vector<wire::Result> results;
  for (int go = 0; go < kGoes; ++go) {
    results.clear();
    execute(sensings, results);
    if (!holds_charge(results.back())) {
      return true;
    }
  }
  return false;
}

Sensing Session::State::discharging(const Request& request, wire::Pair pair) const {
  Sensing off = sensing_of(request, head(ranges.low(0)), pair);
  off.head.level = wire::Level::off;
  off.head.difference = 0;
  return off;
}

bool Session::State::holds_charge(const wire::Result& off) const {
  wire::StepHead off_head = head(ranges.low(0));
  off_head.level = wire::Level::off;
  return std::abs(ranges.sense_volt(off, off_head)) > kEmptyVolt;
}

/// Drives the pair until averages 100 ms apart agree; false where that took more than two seconds,
/// the last one being kept. The switches open between two goes, which takes no charge away.
bool Session::State::fill(const Request& request, std::size_t index) {
  const Book& book = books[index];
  const wire::Result none = neutral(book.pair, book.range);
  Sensing on = sensing_of(request, head(book.range), book.pair);
  on.head.difference = 0;
  on.head.period_ticks = kApartTicks;
  on.head.settle_limit_ticks = kSoonTicks;
  const std::vector<Sensing> sensings(kAverages, on);
  std::vector<wire::Result> results;
  for (int go = 0; go < kGoes; ++go) {
    results.clear();
    execute(sensings, results);
    judge_filled(index, none, results.back(), on.head);
    if (!measured[index].clipped && agree(results[kAverages / 2 - 1], results.back(), on.head)) {
      average_filled(request, index, none);
      return true;
    }
  }
  if (measured[index].clipped) {
    return true;
  }
  const double early = ranges.sense_volt(results.front(), on.head);
  const double late = ranges.sense_volt(results.back(), on.head);
  if (std::abs(late) < std::abs(early)) {  // it empties: what was seen is above the truth
    measured[index].ohm = 0;
    measured[index].uncertainty_ohm = 0;
  }
  return false;
}

/// Where a resistor empties the capacitor as fast as it was filled, a reading with the source off
/// takes the offsets away as ever; what rests above 50 mV is an EMF after all.
void Session::State::take_off(const Request& request, std::size_t index) {
  const Book& book = books[index];
  if (!measured[index].settled || measured[index].clipped || std::isinf(measured[index].ohm)) {
    return;
  }
  wire::StepHead on_head = head(book.range);
  if (book.averaged) {
    on_head = averaging(on_head);
  }
  Sensing off = sensing_of(request, on_head, book.pair);
  off.head.level = wire::Level::off;
  off.head.difference = 0;
  off.head.period_ticks = kApartTicks;
  const std::vector<Sensing> sensings(kAverages, off);
  std::vector<wire::Result> results;
  for (int go = 0; go < kGoes; ++go) {
    results.clear();
    execute(sensings, results);
    if (agree(results[kAverages / 2 - 1], results.back(), off.head)) {
      judge(index, {results.back(), book.filled}, on_head);
      measured[index].settled = true;
      return;
    }
  }
}

/// The average over 100 ms of a pair that must not be let go in between.
void Session::State::average_filled(const Request& request, std::size_t index,
                                    const wire::Result& none) {
  if (!wants_average(request, index)) {
    return;
  }
  Sensing on = sensing_of(request, averaging(head(books[index].range)), books[index].pair);
  on.head.difference = 0;
  books[index].averaged = true;
  for (int attempt = 0; attempt < 2; ++attempt) {
    std::vector<wire::Result> results;
    execute({&on, 1}, results);
    judge_filled(index, none, results.front(), on.head);
    if (!measured[index].clipped) {
      return;
    }
  }
}

/// The codes of the instrument alone in a range, nothing being connected to a bus.
wire::Result Session::State::neutral(wire::Pair pair, std::uint8_t range) {
  Sensing apart{head(range), {}, {}, {}, {pair}};
  apart.head.level = wire::Level::off;
  apart.head.difference = 0;
  apart.head.settle_limit_ticks = kSoonTicks;
  std::vector<wire::Result> results;
  execute({&apart, 1}, results);
  return results.front();
}

/// Of the instrument alone the sink leg is known; what it sensed was the board.
void Session::State::judge_filled(std::size_t index, wire::Result none, const wire::Result& on,
                                  const wire::StepHead& head) {
  Book& book = books[index];
  book.filled = on;
  none.sense = 0;
  none.flags &= 0xF;
  judge(index, {none, on}, head);
  book.electrical.volt_error = std::hypot(book.electrical.volt_error, kOffsetVolt);
  const Ohms ohms = ohms_of(book.electrical, conditions(book.averaged), book.force_ohm);
  measured[index].uncertainty_ohm = ohms.uncertainty;
  measured[index].settled = true;
}

}  // namespace padwalk::session
