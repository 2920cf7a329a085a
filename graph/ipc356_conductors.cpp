// SPDX-License-Identifier: MIT
#include "graph/ipc356_conductors.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "graph/ipc356_netlist.hpp"
#include "graph/ipc356_records.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kLayerColumn = 19;
constexpr std::size_t kContinuedColumn = 4;
constexpr std::size_t kMostCoordinateDigits = 6;
constexpr std::size_t kMostApertureDigits = 5;
constexpr std::size_t kQuoted = 10;

bool is_a_digit(char c) {
  return c >= '0' && c <= '9';
}

char in_column(std::string_view text, std::size_t column) {
  return column >= 1 && column <= text.size() ? text[column - 1] : ' ';
}

std::size_t behind_blanks(std::string_view text, std::size_t column) {
  while (column <= text.size() && in_column(text, column) == ' ') {
    ++column;
  }
  return column;
}

/// Digits from a column on, which moves behind them; nothing where there are none or too many.
std::optional<int> digits(std::string_view text, std::size_t& column, std::size_t most) {
  int value = 0;
  std::size_t count = 0;
  for (; is_a_digit(in_column(text, column)); ++column) {
    if (++count > most) {
      return std::nullopt;
    }
    value = value * 10 + (in_column(text, column) - '0');
  }
  return count > 0 ? std::optional(value) : std::nullopt;
}

/// The column of "L01": its own, or farther right behind a blank where the net is too long.
std::size_t find_layer(std::string_view text) {
  for (std::size_t column = kLayerColumn; column <= text.size(); ++column) {
    if (in_column(text, column) == 'L' && in_column(text, column - 1) == ' ' &&
        is_a_digit(in_column(text, column + 1))) {
      return column;
    }
  }
  return 0;
}

}  // namespace

void IpcConductorReader::begin(std::string_view text, int line) {
  lift();
  line_ = line;
  has_x_ = has_y_ = new_x_ = new_y_ = false;
  const std::size_t layer = find_layer(text);
  pen_ = {};
  pen_.line = line;
  pen_.net = ipc_columns(text, 4, layer == 0 ? kLayerColumn - 2 : layer - 1);
  skips_ = too_many_;
  std::size_t column = layer;
  if (!skips_ && read_layer_and_aperture(text, column)) {
    read_positions(text, column);
  }
}

void IpcConductorReader::go_on(std::string_view text, int line) {
  line_ = line;
  if (!skips_) {
    read_positions(text, kContinuedColumn);
  }
}

bool IpcConductorReader::read_layer_and_aperture(std::string_view text, std::size_t& column) {
  const auto quoted = [&](std::size_t from) {
    return fmt::format("found \"{}\"",
                       printable(text.substr(std::min(from - 1, text.size()), kQuoted)));
  };
  if (column == 0) {
    complain(kLayerColumn,
             quoted(kLayerColumn) + "; expected a layer such as L01 in columns 19 to 21");
    return false;
  }
  const std::size_t layer_at = column++;
  const auto layer = digits(text, column, 3);
  if (!layer || *layer < 1 || *layer > kIpcMostLayers) {
    complain(layer_at,
             fmt::format("{}; expected a layer from L01 to L{}", quoted(layer_at), kIpcMostLayers));
    return false;
  }
  column = behind_blanks(text, column);
  const std::size_t aperture_at = column;
  const auto size = [&](char letter) -> std::optional<int> {
    if (in_column(text, column) != letter) {
      return std::nullopt;
    }
    column = behind_blanks(text, column + 1);
    return digits(text, column, kMostApertureDigits);
  };
  const auto width = size('X');
  const auto height = in_column(text, column) == 'Y' ? size('Y') : std::optional(0);
  if (!width || !height) {
    complain(aperture_at, quoted(aperture_at) +
                              "; expected the size of an aperture, such as X0100Y0000, behind the "
                              "layer");
    return false;
  }
  pen_.layer = *layer;
  pen_.width = *width;
  pen_.height = *height;
  all_.last_layer = std::max(all_.last_layer, *layer);
  return true;
}

void IpcConductorReader::read_positions(std::string_view text, std::size_t column) {
  for (; column <= text.size(); ++column) {
    const char letter = in_column(text, column);
    if (letter == ' ' || letter == '*') {
      if (!flush(column)) {
        return;
      }
      if (letter == '*') {
        lift();
      }
      continue;
    }
    const std::size_t from = column;
    const auto value = [&]() -> std::optional<int> {
      column = behind_blanks(text, column + 1);
      const char sign = in_column(text, column);
      column += sign == '+' || sign == '-' ? 1 : 0;
      const auto number = digits(text, column, kMostCoordinateDigits);
      return number && sign == '-' ? std::optional(-*number) : number;
    };
    const bool is_x = letter == 'X';
    if ((is_x ? new_x_ || new_y_ : new_y_) && !flush(column)) {
      return;
    }
    const auto number = is_x || letter == 'Y' ? value() : std::nullopt;
    if (!number) {
      complain(from, fmt::format("found \"{}\"; expected positions such as X+038000Y+026800, or * "
                                 "between them",
                                 printable(text.substr(from - 1, kQuoted))));
      return;
    }
    (is_x ? at_.x : at_.y) = *number;
    (is_x ? has_x_ : has_y_) = true;
    (is_x ? new_x_ : new_y_) = true;
    --column;
  }
  flush(column);
}

/// The pen goes to the position that was read, if there is a new one.
bool IpcConductorReader::flush(std::size_t column) {
  if (!new_x_ && !new_y_) {
    return true;
  }
  if (!has_x_ || !has_y_) {
    complain(column, fmt::format("a conductor begins with {} alone; expected both X and Y, such as "
                                 "X+038000Y+026800",
                                 has_x_ ? 'X' : 'Y'));
    return false;
  }
  new_x_ = new_y_ = false;
  if (all_.points.size() >= kIpcMostStrokePoints) {
    too_many_ = true;
    complain(column, fmt::format("the file draws conductors between more than {} positions; such "
                                 "a file is read for its points alone",
                                 kIpcMostStrokePoints));
    return false;
  }
  if (pen_.points == 0) {
    pen_.first = all_.points.size();
  }
  all_.points.push_back(at_);
  ++pen_.points;
  return true;
}

void IpcConductorReader::lift() {
  if (pen_.points > 0) {
    all_.strokes.push_back(pen_);
    pen_.points = 0;
  }
}

void IpcConductorReader::complain(std::size_t column, const std::string& what) {
  if (complaints_++ == 0) {
    first_mark_ = {line_, static_cast<int>(column)};
    first_complaint_ = what;
  }
  all_.half_read.insert(pen_.net);
  pen_.points = 0;
  skips_ = true;
}

IpcConductors IpcConductorReader::finish(Diagnostics& diagnostics) {
  lift();
  if (complaints_ > 0) {
    diagnostics.warning(first_mark_,
                        fmt::format("{}; the way of such a net's copper stays unknown (records "
                                    "like this: {})",
                                    first_complaint_, complaints_));
  }
  if (too_many_) {
    return {};
  }
  return std::move(all_);
}

}  // namespace padwalk::graph
