// SPDX-License-Identifier: MIT
#include "tools/switch_forms.hpp"

#include <fmt/format.h>

#include <optional>
#include <regex>
#include <sstream>
#include <vector>

#include "tools/options.hpp"

namespace padwalk::tools {

namespace {

using graph::PartDescription;

class FormReader {
 public:
  explicit FormReader(const std::string& form) : form_(form) {}

  PartDescription read(std::size_t terminals) {
    std::istringstream words(form_);
    std::string word;
    std::optional<bool> momentary;
    std::string body;
    while (words >> word) {
      if (word == "momentary" || word == "latching") {
        momentary = word == "momentary";
      } else {
        body += (body.empty() ? "" : " ") + word;
      }
    }
    static const std::regex rotary("rotary ([0-9]{1,2})x([0-9]{1,2})");
    static const std::regex bank("bank ([0-9]{1,2})");
    std::smatch match;
    if (std::regex_match(body, match, rotary)) {
      add_rotary(std::stoul(match[1]), std::stoul(match[2]));
    } else if (std::regex_match(body, match, bank)) {
      add_bank(std::stoul(match[1]));
    } else {
      add_poles(body);
    }
    if (used_ > terminals) {
      throw UsageError(fmt::format("--simulate-switch {} has {} terminals, and --terminals says {}",
                                   form_, used_, terminals));
    }
    part_.name = "S1";
    part_.kind = graph::PartKind::switch_;
    part_.package = fmt::format("row {}", terminals);
    part_.momentary = momentary.value_or(springs_);
    return std::move(part_);
  }

 private:
  [[noreturn]] void refuse() const {
    throw UsageError(
        fmt::format("--simulate-switch '{}' is not known; it may be {}", form_, kSwitchForms));
  }

  void name_positions(const std::vector<std::string>& names) {
    if (!part_.positions.empty() && part_.positions.size() != names.size()) {
      refuse();  // such as K beside A
    }
    for (std::size_t n = part_.positions.size(); n < names.size(); ++n) {
      part_.positions.push_back({names[n], {}});
    }
  }

  /// Terminals a and b of the pole that begins after those used, from 1, are joined there.
  void join(std::size_t position, std::size_t a, std::size_t b) {
    part_.positions[position].joined.push_back(
        {std::to_string(used_ + a), std::to_string(used_ + b)});
  }

  void add_rotary(std::size_t poles, std::size_t throws) {
    if (poles == 0 || throws < 2) {
      refuse();
    }
    std::vector<std::string> names;
    for (std::size_t n = 1; n <= throws; ++n) {
      names.push_back(std::to_string(n));
    }
    name_positions(names);
    for (; poles > 0; --poles) {
      for (std::size_t n = 0; n < throws; ++n) {
        join(n, 1, n + 2);
      }
      used_ += throws + 1;
    }
    springs_ = false;
  }

  void add_bank(std::size_t buttons) {
    if (buttons < 2) {
      refuse();
    }
    std::vector<std::string> names = {"none"};
    for (std::size_t n = 1; n <= buttons; ++n) {
      names.push_back(fmt::format("button {}", n));
    }
    name_positions(names);
    for (std::size_t n = 1; n <= buttons; ++n) {
      for (std::size_t position = 0; position <= buttons; ++position) {
        join(position, position == n ? 2 : 1, position == n ? 3 : 2);
      }
      used_ += 3;
    }
    springs_ = false;
  }

  void add_poles(const std::string& body) {
    static const std::regex pole("([0-9]{0,2})(A|B|C|D|K| ?reversing)");
    if (body.ends_with('+')) {
      refuse();
    }
    std::istringstream terms(body);
    std::string term;
    while (std::getline(terms, term, '+')) {
      std::smatch match;
      if (!std::regex_match(term, match, pole)) {
        refuse();
      }
      std::size_t poles = match[1].length() == 0 ? 1 : std::stoul(match[1]);
      if (poles == 0) {
        refuse();
      }
      for (const std::string kind = match[2]; poles > 0; --poles) {
        add_pole(kind.back());
      }
    }
    if (part_.positions.empty()) {
      refuse();
    }
  }

  void add_pole(char kind) {
    if (kind == 'K') {
      name_positions({"centre", "up", "down"});
      join(1, 1, 2);
      join(2, 2, 3);
      used_ += 3;
      springs_ = false;
      return;
    }
    name_positions({"out", "in"});
    switch (kind) {
      case 'A':
        join(1, 1, 2);
        used_ += 2;
        return;
      case 'B':
        join(0, 1, 2);
        used_ += 2;
        return;
      case 'g':  // reversing
        join(0, 1, 3);
        join(0, 2, 4);
        join(1, 1, 4);
        join(1, 2, 3);
        used_ += 4;
        springs_ = false;
        return;
      default:  // C, and D, which is the same at the ends of its travel
        join(0, 1, 2);
        join(1, 2, 3);
        used_ += 3;
    }
  }

  const std::string& form_;
  PartDescription part_;
  std::size_t used_ = 0;
  bool springs_ = true;
};

}  // namespace

PartDescription switch_of_form(const std::string& form, std::size_t terminals) {
  return FormReader(form).read(terminals);
}

}  // namespace padwalk::tools
