// SPDX-License-Identifier: MIT
#include "graph/ipc356_records.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "graph/text_scan.hpp"

namespace padwalk::graph {

namespace {

// Columns of the fields that come before the position and move to the right with it.
constexpr std::size_t kPart = 21;
constexpr std::size_t kDash = 27;
constexpr std::size_t kPinEnd = 31;
constexpr std::size_t kX = 42;
constexpr std::size_t kCoordinate = 8;  // letter, sign, six digits
constexpr int kMostDigits = 9;          // of any other number

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

/// The character in a column; a blank beyond the end.
char at(std::string_view text, std::size_t column) {
  return column >= 1 && column <= text.size() ? text[column - 1] : ' ';
}

/// Whether "Ann" stands before a column.
bool follows_access(std::string_view text, std::size_t column) {
  return column > 3 && at(text, column - 3) == 'A' && is_digit(at(text, column - 2)) &&
         is_digit(at(text, column - 1));
}

/// The column of "X+001234Y-005678"; 0: there is none. In its place first, then to the right.
std::size_t find_position(std::string_view text) {
  if (at(text, kX) == 'X' && at(text, kX + kCoordinate) == 'Y') {
    return kX;
  }
  for (std::size_t column = kX + 1; column + kCoordinate <= text.size(); ++column) {
    if (at(text, column) == 'X' && at(text, column + kCoordinate) == 'Y' &&
        follows_access(text, column)) {
      return column;
    }
  }
  return 0;
}

/// Sign and six digits behind a letter; blanks stand for plus and for zeros on the left.
std::optional<long> coordinate(std::string_view text, std::size_t column) {
  std::string_view digits = ipc_columns(text, column + 1, column + kCoordinate - 1);
  const bool negative = !digits.empty() && digits.front() == '-';
  if (negative || (!digits.empty() && digits.front() == '+')) {
    digits.remove_prefix(1);
  }
  if (digits.empty() || digits.size() > 6 || !std::all_of(digits.begin(), digits.end(), is_digit)) {
    return std::nullopt;
  }
  long value = 0;
  std::from_chars(digits.data(), digits.data() + digits.size(), value);
  return negative ? -value : value;
}

/// Says why there is no position at `x` (0: nowhere), and where.
void complain(std::string_view text, std::size_t x, Mark mark, Diagnostics& diagnostics) {
  const std::size_t size = text.find_last_not_of(' ') + 1;
  const auto say = [&](std::size_t column, const std::string& found, char letter,
                       std::size_t from) {
    mark.column = static_cast<int>(column);
    diagnostics.error(mark, fmt::format("{}; expected {}, a sign and six digits in columns {} to "
                                        "{}",
                                        found, letter, from, from + kCoordinate - 1));
  };
  const auto quoted = [&](std::size_t column, std::size_t length) {
    return fmt::format("found \"{}\"",
                       printable(text.substr(std::min(column - 1, text.size()), length)));
  };
  const bool has_x = x != 0 || at(text, kX) == 'X';
  const std::size_t begin = x == 0 ? kX : x;
  const std::size_t y = begin + kCoordinate;
  if (size < begin) {
    say(size + 1, "truncated record, no X coordinate", 'X', begin);
  } else if (!has_x) {
    say(begin, quoted(begin, kCoordinate), 'X', begin);
  } else if (size < y) {
    say(size + 1, "truncated record, no Y coordinate", 'Y', y);
  } else if (!coordinate(text, begin) || is_digit(at(text, y))) {
    say(begin, quoted(begin, kCoordinate + 1), 'X', begin);
  } else if (at(text, y) != 'Y') {
    say(y, quoted(y, kCoordinate), 'Y', y);
  } else if (size < y + kCoordinate - 1) {
    say(size + 1, "truncated record, half a Y coordinate", 'Y', y);
  } else {
    say(y, quoted(y, kCoordinate + 1), 'Y', y);
  }
}

/// What stands behind the position: sizes, turn, mask and layers, each where the last one ended,
/// since writers shift and leave out columns here.
class Tail {
 public:
  explicit Tail(std::string_view text) : text_(text) {}

  bool letter(char wanted) {
    skip_blanks();
    const bool found = !text_.empty() && text_.front() == wanted;
    text_.remove_prefix(found ? 1 : 0);
    return found;
  }

  /// 0 where there is none.
  long number() {
    skip_blanks();
    long value = 0;
    for (int i = 0; i < kMostDigits && !text_.empty() && is_digit(text_.front()); ++i) {
      value = value * 10 + (text_.front() - '0');
      text_.remove_prefix(1);
    }
    return value;
  }

  /// Up to a blank or the letter of the layers.
  std::string_view word() {
    const std::string_view found = text_.substr(0, text_.find_first_of(" L"));
    text_.remove_prefix(found.size());
    return found;
  }

 private:
  void skip_blanks() { text_.remove_prefix(std::min(text_.find_first_not_of(' '), text_.size())); }

  std::string_view text_;
};

void read_tail(std::string_view text, IpcRecord& record) {
  Tail tail(text);
  if (tail.letter('X')) {
    record.width = tail.number();
  }
  if (tail.letter('Y')) {
    record.height = tail.number();
  }
  if (tail.letter('R')) {
    record.rotation = tail.number();
  }
  if (tail.letter('S')) {
    const std::string_view mask = tail.word();
    const bool known = mask.size() == 1 && mask[0] >= '0' && mask[0] <= '3';
    record.masked = known ? mask[0] - '0' : 0;
    record.odd_mask = !known && !mask.empty();
  }
  if (tail.letter('L')) {
    record.from_layer = static_cast<int>(tail.number());
  }
  if (record.from_layer != 0 && tail.letter('L')) {
    record.to_layer = static_cast<int>(tail.number());
  }
}

/// The four columns in "D0118PA00X", blanks for zeros; `x` is the column of the X.
long drill_before(std::string_view text, std::size_t x) {
  constexpr std::size_t kBefore = 9;
  if (x <= kBefore || at(text, x - kBefore) != 'D') {
    return 0;
  }
  return Tail(text.substr(x - kBefore, 4)).number();
}

/// Net, part and pin. A name that is too long pushes all that follows `shift` columns right.
void read_names(std::string_view text, std::size_t shift, IpcRecord& record) {
  const bool long_net = shift != 0 && at(text, 18) != ' ';
  record.net = ipc_columns(text, 4, 20 + (long_net ? shift : 0));
  const std::size_t part = kPart + (long_net ? shift : 0);
  std::size_t dash = kDash + shift;
  if (shift != 0 && at(text, dash) != '-') {  // a pin may be too long as well
    const std::size_t found = text.substr(0, kPinEnd + shift).rfind('-');
    dash = found == std::string_view::npos || found + 1 <= part ? dash : found + 1;
  }
  record.part = ipc_columns(text, part, dash - 1);
  record.pin = ipc_columns(text, dash + 1, kPinEnd + shift);
}

}  // namespace

std::string_view without_blanks(std::string_view text) {
  const std::size_t first = text.find_first_not_of(' ');
  return first == std::string_view::npos
             ? std::string_view{}
             : text.substr(first, text.find_last_not_of(' ') - first + 1);
}

std::string_view ipc_columns(std::string_view text, std::size_t first, std::size_t last) {
  return text.size() < first ? std::string_view{}
                             : without_blanks(text.substr(first - 1, last - first + 1));
}

std::string printable(std::string_view text) {
  std::string shown;
  while (!text.empty()) {
    const auto byte = static_cast<unsigned char>(text.front());
    const std::size_t length = utf8_length(text);
    // U+0080 to U+009F are controls too, and YAML takes some characters from U+2000 on for line
    // ends or for a byte order mark.
    const bool shows = length == 1 ? byte >= 0x20 && byte != 0x7f
                       : length == 2
                           ? byte != 0xc2 || static_cast<unsigned char>(text[1]) >= 0xa0
                           : length > 2 && text.substr(0, 3) != "\xe2\x80\xa8" &&
                                 text.substr(0, 3) != "\xe2\x80\xa9" &&
                                 text.substr(0, 2) != "\xef\xbb" && text.substr(0, 2) != "\xef\xbf";
    if (shows) {
      shown += text.substr(0, length);
    } else {
      shown += '?';
    }
    text.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return shown;
}

std::size_t find_ipc_record(std::string_view text) {
  for (std::size_t column = 4; column + kCoordinate <= text.size(); ++column) {
    if (at(text, column) == 'X' && at(text, column + kCoordinate) == 'Y' &&
        follows_access(text, column) && coordinate(text, column) &&
        coordinate(text, column + kCoordinate)) {
      return column >= kX ? column - kX + 1 : 1;
    }
  }
  return 0;
}

std::optional<IpcRecord> read_ipc_record(std::string_view text, int line,
                                         Diagnostics& diagnostics) {
  const std::size_t x = find_position(text);
  const std::size_t y = x + kCoordinate;
  const std::optional<long> x_value = x == 0 ? std::nullopt : coordinate(text, x);
  const std::optional<long> y_value = x == 0 ? std::nullopt : coordinate(text, y);
  if (!x_value || !y_value || text.size() < y + kCoordinate - 1 ||
      is_digit(at(text, y + kCoordinate))) {
    complain(text, x, {line, 0}, diagnostics);
    return std::nullopt;
  }
  IpcRecord record;
  record.line = line;
  std::from_chars(text.data(), text.data() + 3, record.code);
  record.x = *x_value;
  record.y = *y_value;
  if (follows_access(text, x)) {
    record.access = (at(text, x - 2) - '0') * 10 + (at(text, x - 1) - '0');
  }
  const bool on_surface = record.code == 327 || record.code == 27;
  const int access = record.access.value_or(on_surface ? 1 : 0);
  record.drill = drill_before(text, x);
  record.sides = access == 0 ? kIpcBothSides : access == 1 ? kIpcPrimary : kIpcSecondary;
  read_names(text, x - kX, record);
  read_tail(text.substr(y + kCoordinate - 1), record);
  return record;
}

}  // namespace padwalk::graph
