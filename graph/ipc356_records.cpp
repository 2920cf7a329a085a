// SPDX-License-Identifier: MIT
#include "graph/ipc356_records.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace padwalk::graph {

namespace {

constexpr std::size_t kAccess = 39;  // columns, from 1
constexpr std::size_t kX = 42;
constexpr std::size_t kCoordinateDigits = 6;

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

/// The character in a column; a blank beyond the end.
char at(std::string_view text, std::size_t column) {
  return column <= text.size() ? text[column - 1] : ' ';
}

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(' ');
  if (first == std::string_view::npos) {
    return {};
  }
  return text.substr(first, text.find_last_not_of(' ') - first + 1);
}

/// A column that begins "X+001234Y-005678", or 0. Looks in place first, then to the right.
std::size_t find_coordinates(std::string_view text) {
  const auto begins_here = [&](std::size_t column) {
    return at(text, column) == 'X' && at(text, column + 8) == 'Y';
  };
  if (begins_here(kX)) {
    return kX;
  }
  for (std::size_t column = kX + 1; column + 8 <= text.size(); ++column) {
    if (begins_here(column) && at(text, column - 3) == 'A' && is_digit(at(text, column - 2)) &&
        is_digit(at(text, column - 1))) {
      return column;
    }
  }
  return 0;
}

/// Sign and six digits behind a letter; blanks stand for zeros on the left.
std::optional<long> coordinate(std::string_view text, std::size_t column) {
  const char sign = at(text, column + 1);
  const std::string_view digits =
      trimmed(text.substr(std::min(text.size(), column + 1), kCoordinateDigits));
  long value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if ((sign != '+' && sign != '-' && sign != ' ') || digits.empty() || !is_digit(digits.front()) ||
      error != std::errc{} || end != digits.data() + digits.size()) {
    return std::nullopt;
  }
  return sign == '-' ? -value : value;
}

/// What stands behind the coordinates: sizes, turn, mask and layers, each where the last one ended,
/// since writers shift and leave out columns here.
class Tail {
 public:
  explicit Tail(std::string_view text) : text_(text) {}

  bool letter(char wanted) {
    skip_blanks();
    if (at_ >= text_.size() || text_[at_] != wanted) {
      return false;
    }
    ++at_;
    return true;
  }

  long number() {
    skip_blanks();
    long value = 0;
    const auto [end, error] =
        std::from_chars(text_.data() + at_, text_.data() + text_.size(), value);
    if (error != std::errc{} || value < 0) {
      return 0;
    }
    at_ = static_cast<std::size_t>(end - text_.data());
    return value;
  }

  std::string_view word() {
    const std::size_t begin = at_;
    while (at_ < text_.size() && text_[at_] != ' ' && text_[at_] != 'L') {
      ++at_;
    }
    return text_.substr(begin, at_ - begin);
  }

 private:
  void skip_blanks() {
    while (at_ < text_.size() && text_[at_] == ' ') {
      ++at_;
    }
  }

  std::string_view text_;
  std::size_t at_ = 0;
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
    if (mask.size() == 1 && mask[0] >= '0' && mask[0] <= '3') {
      record.mask = mask[0] - '0';
    } else {
      record.mask_rubbish = !mask.empty();
    }
  }
  if (tail.letter('L')) {
    record.from_layer = static_cast<int>(std::min(tail.number(), 99L));
    record.to_layer = tail.letter('L') ? static_cast<int>(std::min(tail.number(), 99L)) : 0;
  }
}

/// Part and pin. In their columns, unless a long name pushed everything to the right.
void read_part_and_pin(std::string_view text, std::size_t shift, IpcRecord& record) {
  if (shift == 0) {
    record.part = ipc_columns(text, 21, 26);
    record.pin = ipc_columns(text, 28, 31);
    return;
  }
  const std::string_view field = ipc_columns(text, 21, 31 + shift);
  const std::size_t dash = field.rfind('-');
  record.part = trimmed(field.substr(0, dash));
  const std::string_view rest =
      dash == std::string_view::npos ? std::string_view{} : trimmed(field.substr(dash + 1));
  record.pin = rest.substr(0, rest.find(' '));
}

}  // namespace

std::string_view ipc_columns(std::string_view text, std::size_t first, std::size_t last) {
  if (text.size() < first) {
    return {};
  }
  return trimmed(text.substr(first - 1, last - first + 1));
}

bool holds_ipc_record(std::string_view text) {
  for (std::size_t column = 4; column + 8 <= text.size(); ++column) {
    if (at(text, column) == 'X' && at(text, column + 8) == 'Y' && at(text, column - 3) == 'A' &&
        is_digit(at(text, column - 2)) && is_digit(at(text, column - 1)) &&
        coordinate(text, column)) {
      return true;
    }
  }
  return false;
}

std::optional<IpcRecord> read_ipc_record(std::string_view text, int line,
                                         Diagnostics& diagnostics) {
  IpcRecord record;
  record.line = line;
  std::from_chars(text.data(), text.data() + 3, record.code);
  const auto fail = [&](std::size_t column, const std::string& what) {
    diagnostics.error({line, static_cast<int>(column)}, what);
    return std::nullopt;
  };
  const std::size_t x = find_coordinates(text);
  if (x == 0) {
    const bool has_x = at(text, kX) == 'X';
    if (text.size() < kX + 15) {
      return fail(text.size() + 1,
                  has_x ? "truncated record, no Y coordinate; expected one in columns 50 to 57"
                        : "truncated record, no X coordinate; expected one in columns 42 to 49");
    }
    if (has_x && is_digit(at(text, kX + 8))) {
      return fail(kX, "a coordinate of seven digits or more; expected six");
    }
    const std::size_t column = has_x ? kX + 8 : kX;
    return fail(column, fmt::format("found \"{}\"; expected a coordinate that begins with {}",
                                    at(text, column), has_x ? "Y" : "X"));
  }
  const std::optional<long> x_value = coordinate(text, x);
  const std::optional<long> y_value = coordinate(text, x + 8);
  if (text.size() < x + 9) {
    return fail(text.size() + 1,
                "truncated record, no Y coordinate; expected one in columns 50 "
                "to 57");
  }
  if (!x_value || !y_value) {
    const std::size_t bad = x_value ? x + 8 : x;
    return fail(
        bad, fmt::format("found \"{}\"; expected a sign and six digits", text.substr(bad - 1, 8)));
  }
  if (is_digit(at(text, x + 16))) {
    return fail(x + 8, "a coordinate of seven digits or more; expected six");
  }
  record.x = *x_value;
  record.y = *y_value;
  record.net = ipc_columns(text, 4, 17);
  read_part_and_pin(text, x - kX, record);
  const std::size_t access = x - kX + kAccess;
  if (at(text, access) == 'A' && is_digit(at(text, access + 1)) && is_digit(at(text, access + 2))) {
    record.access = (at(text, access + 1) - '0') * 10 + (at(text, access + 2) - '0');
  }
  read_tail(text.substr(std::min(text.size(), x + 15)), record);
  return record;
}

}  // namespace padwalk::graph
