// SPDX-License-Identifier: MIT
#include "graph/typed_names.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <utility>

namespace padwalk::graph {

namespace {

using MaybeNames = std::optional<std::vector<std::string>>;

bool is_figure(char c) {
  return c >= '0' && c <= '9';
}

bool is_plain_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

char as_upper(char c) {
  return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

std::optional<int> whole_number(std::string_view text) {
  int number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  const bool read = !text.empty() && text.size() < 7 && is_figure(text.front()) &&
                    error == std::errc() && end == text.data() + text.size();
  return read ? std::optional(number) : std::nullopt;
}

MaybeNames too_many(std::string_view what, BadWord& bad) {
  bad.text = fmt::format("{} makes more than {} names", what, kMostTypedNames);
  return std::nullopt;
}

/// "33-26" between the separators. Nothing: no range.
std::optional<std::pair<int, int>> range_ends(std::string_view text,
                                              std::initializer_list<std::string_view> separators) {
  for (const std::string_view separator : separators) {
    const std::size_t at = text.find(separator);
    if (at == std::string_view::npos) {
      continue;
    }
    const auto first = whole_number(text.substr(0, at));
    const auto last = whole_number(text.substr(at + separator.size()));
    if (first && last) {
      return std::pair(*first, *last);
    }
  }
  return std::nullopt;
}

/// Appends them all. False: too many.
bool add_range(std::pair<int, int> ends, std::string_view before, std::string_view behind,
               std::vector<std::string>& to) {
  const auto [first, last] = ends;
  const int step = first <= last ? 1 : -1;
  if (to.size() + static_cast<std::size_t>((last - first) * step) + 1 > kMostTypedNames) {
    return false;
  }
  for (int i = first; i != last + step; i += step) {
    to.push_back(fmt::format("{}{}{}", before, i, behind));
  }
  return true;
}

/// What a name says apart from its letters: digits and marks, with "." where letters stand.
std::string without_letters(std::string_view name) {
  std::string rest;
  for (const char c : name) {
    if (!is_plain_letter(c)) {
      rest += c;
    } else if (rest.empty() || rest.back() != '.') {
      rest += '.';
    }
  }
  return rest;
}

std::string letters_of(std::string_view name) {
  std::string letters;
  for (const char c : name) {
    if (is_plain_letter(c)) {
      letters += as_upper(c);
    }
  }
  return letters;
}

/// One more, one less, one other, or two neighbours swapped.
bool one_change_apart(std::string_view a, std::string_view b) {
  if (a.size() > b.size()) {
    std::swap(a, b);
  }
  const auto at = static_cast<std::size_t>(
      std::mismatch(a.begin(), a.end(), b.begin(), b.end()).first - a.begin());
  const std::string_view rest_a = a.substr(at);
  const std::string_view rest_b = b.substr(at);
  if (a.size() != b.size()) {
    return rest_a == rest_b.substr(1);
  }
  const bool other = !rest_a.empty() && rest_a.substr(1) == rest_b.substr(1);
  const bool swapped = rest_a.size() > 1 && rest_a[0] == rest_b[1] && rest_a[1] == rest_b[0] &&
                       rest_a.substr(2) == rest_b.substr(2);
  return other || swapped;
}

}  // namespace

MaybeNames typed_words(std::string_view line, BadWord& bad) {
  std::vector<std::string> words;
  std::string word;
  std::string open;
  const auto end_word = [&] {
    if (!word.empty()) {
      words.push_back(std::exchange(word, {}));
    }
  };
  for (const char c : line) {
    const bool space = c == ' ' || c == '\t';
    if (open.empty() && (space || c == ',')) {
      end_word();
      continue;
    }
    if (space) {
      continue;
    }
    if (c == '{' || c == '[') {
      open += c;
    } else if (c == '}' || c == ']') {
      if (open.empty() || open.back() != (c == '}' ? '{' : '[')) {
        bad.text = fmt::format("a {} closes nothing", c);
        return std::nullopt;
      }
      open.pop_back();
    }
    word += c;
  }
  if (!open.empty()) {
    bad.text = fmt::format("a {} is not closed", open.back());
    return std::nullopt;
  }
  end_word();
  return words;
}

MaybeNames typed_list(std::string_view list, BadWord& bad) {
  std::vector<std::string> names;
  for (std::size_t begin = 0; begin <= list.size();) {
    const std::size_t end = std::min(list.find(',', begin), list.size());
    const std::string_view item = list.substr(begin, end - begin);
    begin = end + 1;
    if (item.empty()) {
      bad.text = fmt::format("{{{}}} holds an empty name", list);
      return std::nullopt;
    }
    const auto range = range_ends(item, {"-", "..", ":"});
    if (!range) {
      names.emplace_back(item);
    }
    if (names.size() > kMostTypedNames || (range && !add_range(*range, "", "", names))) {
      return too_many(fmt::format("{{{}}}", list), bad);
    }
  }
  return names;
}

MaybeNames typed_parts(std::string_view word, BadWord& bad) {
  if (const std::size_t open = word.find('{'); open != std::string_view::npos) {
    if (word.back() != '}' || word.find('{', open + 1) != std::string_view::npos) {
      bad.text = fmt::format("{} is no list of parts; U{{1,3,5-7}} is one", word);
      return std::nullopt;
    }
    MaybeNames names = typed_list(word.substr(open + 1, word.size() - open - 2), bad);
    if (names) {
      for (std::string& name : *names) {
        name.insert(0, word.substr(0, open));
      }
    }
    return names;
  }
  const std::size_t letters = std::min(word.find_first_of("0123456789"), word.size());
  const std::string_view prefix = word.substr(0, letters);
  const std::size_t dash = word.find('-', letters);
  if (!prefix.empty() && dash != std::string_view::npos) {
    std::string_view last = word.substr(dash + 1);
    if (last.starts_with(prefix)) {
      last.remove_prefix(prefix.size());
    }
    const auto from = whole_number(word.substr(letters, dash - letters));
    const auto to = whole_number(last);
    if (from && to) {
      std::vector<std::string> names;
      return add_range({*from, *to}, prefix, "", names) ? MaybeNames(names) : too_many(word, bad);
    }
  }
  return std::vector<std::string>{std::string(word)};
}

MaybeNames typed_bus(std::string_view word, BadWord& bad) {
  std::vector<std::string> nets;
  const std::size_t open = word.find('[');
  if (open == std::string_view::npos) {
    return nets;
  }
  const std::size_t close = word.find(']', open);
  const std::string_view inside =
      close == std::string_view::npos ? "" : word.substr(open + 1, close - open - 1);
  const auto ends = range_ends(inside, {":", "..", "-"});
  if (!ends || open == 0 || word.find('[', open + 1) != std::string_view::npos) {
    bad.text = fmt::format("{} is no bus; D[0:7] is one", word);
    return std::nullopt;
  }
  if (!add_range(*ends, word.substr(0, open), word.substr(close + 1), nets)) {
    return too_many(word, bad);
  }
  return nets;
}

bool one_letter_apart(std::string_view a, std::string_view b) {
  if (a == b) {
    return false;
  }
  const std::string letters_a = letters_of(a);
  const std::string letters_b = letters_of(b);
  return without_letters(a) == without_letters(b) &&
         (letters_a == letters_b || (std::min(letters_a.size(), letters_b.size()) >= 3 &&
                                     one_change_apart(letters_a, letters_b)));
}

NetRole role_by_name(std::string_view net) {
  std::string name(net);
  std::transform(name.begin(), name.end(), name.begin(), as_upper);
  static constexpr std::string_view kGrounds[] = {"GND",  "AGND",  "DGND",  "PGND", "SGND",
                                                  "GNDA", "GNDD",  "VSS",   "AVSS", "DVSS",
                                                  "0V",   "EARTH", "GROUND"};
  static constexpr std::string_view kSupplies[] = {"VCC",  "AVCC", "DVCC", "VDD", "AVDD",
                                                   "DVDD", "VEE",  "VBB",  "VPP", "V+",
                                                   "V-",   "VCCA", "VDDA"};
  const auto is_one_of = [&](const auto& names) {
    return std::find(std::begin(names), std::end(names), name) != std::end(names);
  };
  if (is_one_of(kGrounds)) {
    return NetRole::ground;
  }
  // +5V, -12V, +5, +3.3V, +3V3, 5V.
  const bool has_sign = name.starts_with('+') || name.starts_with('-');
  const std::string_view volts = std::string_view(name).substr(has_sign ? 1 : 0);
  const bool all_volts = !volts.empty() && is_figure(volts.front()) &&
                         volts.find_first_not_of("0123456789.V") == std::string_view::npos &&
                         std::count(volts.begin(), volts.end(), 'V') <= 1;
  const bool supply = is_one_of(kSupplies) ||
                      (all_volts && (has_sign || volts.find('V') != std::string_view::npos));
  return supply ? NetRole::supply : NetRole::signal;
}

}  // namespace padwalk::graph
