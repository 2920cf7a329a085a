// SPDX-License-Identifier: MIT
//
// defects/1 files: what is wrong with a simulated board. Names are resolved against the board, so
// that the bench needs no names. The format is in boards/FORMAT.md.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string_view>
#include <vector>

#include "graph/board.hpp"
#include "graph/diagnostics.hpp"

namespace padwalk::tools {

/// New contacts have 15 to 100 mohm; a small slide switch 70 mohm (maker's page, SSSS8 series).
inline constexpr double kClosedSwitchOhm = 70e-3;

/// A simulated hand moves a switch so long after the tester began to listen. Unit: second.
inline constexpr double kMovesS = 0.05;

/// What a diode is made of.
enum class Junction : std::uint8_t { none, silicon, germanium, schottky };

/// What is wrong with a board, and how good its bench is. Units: ohm, volt, second, hertz.
struct Defects {
  /// `open`: no copper any more. `high resistance`: that many ohms instead.
  struct Cut {
    graph::SegmentId segment{};
    double ohm = std::numeric_limits<double>::infinity();
  };
  /// `intermittent`: whole, but open for the first `open_s` of every `every_s`.
  struct Intermittent {
    graph::SegmentId segment{};
    double open_s = 0;
    double every_s = 0;
  };
  /// `split`: these points of a net of unknown way are cut off from the rest, together.
  struct Split {
    graph::NetId net = graph::kNoNet;
    std::vector<graph::PointId> off;
  };
  /// `short`, `leakage` and `wire`. It comes and goes as an Intermittent where `every_s` is above
  /// 0.
  struct Bridge {
    graph::PlaceId a = graph::kNoPlace;
    graph::PlaceId b = graph::kNoPlace;
    double ohm = 0.1;
    double open_s = 0;
    double every_s = 0;
  };
  /// `voltage`, from b up to a.
  struct Source {
    graph::PlaceId a = graph::kNoPlace;
    graph::PlaceId b = graph::kNoPlace;
    double volt = 0;  ///< rms of a sine where `hertz` is above 0
    double ohm = 1;
    double hertz = 0;
    Junction through = Junction::none;  ///< a diode at a that lets the source drive, never sink
  };
  /// `earthed`: this place is tied to the instrument's 0 V, as by a computer that is earthed.
  struct Earth {
    graph::PlaceId place = graph::kNoPlace;
    double ohm = 0.1;
  };
  /// `part`: ohms instead of those in the file, of each resistor of a network; across a capacitor
  /// or a diode. Infinite: the part is open, or one of its legs lifted.
  struct PartValue {
    graph::PartId part = graph::kNoPart;
    double ohm = 0;
  };
  /// `switch` with `stuck`: it stays in that one of its positions.
  struct StuckSwitch {
    graph::PartId part = graph::kNoPart;
    std::size_t position = 0;
  };
  /// `switch` with `contact`: ohms between two of its pins wherever they are joined; infinite: it
  /// never closes.
  struct WornContact {
    graph::PartId part = graph::kNoPart;
    std::size_t a = 0;  ///< index into the part's pins
    std::size_t b = 0;
    double ohm = 0;
    double spread_ohm = 0;        ///< 1 sigma, added, drawn anew each time the switch is moved
    std::size_t fails_every = 0;  ///< of so many times in a position it does not close the last
  };
  /// `switch` with `bounce`: its contacts chatter for so long whenever they close or open.
  struct BouncingSwitch {
    graph::PartId part = graph::kNoPart;
    double seconds = 0;
  };
  /// `switch` with `exchanged`: two of its pins have changed places.
  struct ExchangedPins {
    graph::PartId part = graph::kNoPart;
    std::size_t a = 0;
    std::size_t b = 0;
  };
  /// Where the person beside the bench has put a switch, for the `times`th time. No file says it.
  struct HeldSwitch {
    graph::PartId part = graph::kNoPart;
    std::size_t position = 0;
    std::size_t times = 0;
    /// It is only on its way there from that position, as of `kMovesS` after the next setting.
    std::optional<std::size_t> from;
    bool makes_first = false;  ///< what closes on the way does so before what opens
  };
  struct NoContact {
    graph::PointId point = graph::kNoPoint;
    bool stays = false;  ///< a re-seat does not cure it
    /// Where `every_s` is above 0 the first lead on the point touches, but for the first `open_s`
    /// of every `every_s`.
    double open_s = 0;
    double every_s = 0;
  };

  std::vector<Cut> cuts;
  std::vector<Split> splits;
  std::vector<Bridge> bridges;
  std::vector<Source> sources;
  std::vector<PartValue> part_values;
  std::vector<NoContact> no_contacts;
  std::vector<Intermittent> intermittents;
  std::vector<Earth> earths;
  std::vector<StuckSwitch> stuck_switches;
  std::vector<WornContact> worn_contacts;
  std::vector<BouncingSwitch> bouncing_switches;
  std::vector<ExchangedPins> exchanged_pins;
  std::vector<HeldSwitch> held_switches;

  // The bench: how far the tester is from ideal.
  double contact_ohm = 0.025;     ///< every lead
  double contact_spread_ohm = 0;  ///< 1 sigma, drawn anew each time leads are put on
  double noise_volt = 0;          ///< 1 sigma
  double offset_volt = 0;
  double gain_error = 0;         ///< relative; each gain is drawn within it
  double reference_error = 0;    ///< relative; each range's reference is drawn within it
  double switch_spread_ohm = 0;  ///< 1 sigma
  double leak_ampere = 0;        ///< at most, of each open switch
  double hum_volt = 0;           ///< rms, on a floating net with the 1 Mohm load
  double hum_hertz = 50;
  double lead_farad = 0;     ///< of each lead, to 0 V
  std::uint32_t random = 1;  ///< seed
};

/// When of a repair: what is wrong changes as the simulated person works.
enum class BoardThen : std::uint8_t {
  found,   ///< `defects`
  mended,  ///< `then: {mended: …}`, else as found
  flexed   ///< bent and tapped: `then: {flexed: …}`, else as mended
};

/// Reads a defects/1 text. Errors: every mistake goes to `diagnostics` with its place: a name that
/// the board lacks, a segment that is none, what is not simulated by this version.
Defects read_defects(std::string_view text, const graph::Board& board,
                     graph::Diagnostics& diagnostics, BoardThen then = BoardThen::found);

}  // namespace padwalk::tools
