// SPDX-License-Identifier: MIT
#include "graph/chip_types.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <string>

namespace padwalk::graph {

namespace {

struct Row {
  std::string_view type;  ///< without letters of maker, family, package
  PinUses pins;
};

// 74…: The TTL Data Book (Texas Instruments); 40…: COS/MOS Integrated Circuits databook (RCA);
// memories: the JEDEC pinouts of 24 and 28 pins, as in Intel's and Hitachi's data books; linear:
// National Semiconductor's Linear Databook; Z80: Zilog's data sheet. All from memory.
constexpr std::array kRows = {
    Row{"7400", "IIOIIOGOIIOIIV"},
    Row{"7401", "CIICIIGIICIICV"},
    Row{"7402", "OIIOIIGIIOIIOV"},
    Row{"7403", "IICIICGCIICIIV"},
    Row{"7404", "IOIOIOGOIOIOIV"},
    Row{"7405", "ICICICGCICICIV"},
    Row{"7406", "ICICICGCICICIV"},
    Row{"7407", "ICICICGCICICIV"},
    Row{"7408", "IIOIIOGOIIOIIV"},
    Row{"7409", "IICIICGCIICIIV"},
    Row{"7410", "IIIIIOGOIIIOIV"},
    Row{"7411", "IIIIIOGOIIIOIV"},
    Row{"7414", "IOIOIOGOIOIOIV"},
    Row{"7420", "IIXIIOGOIIXIIV"},
    Row{"7421", "IIXIIOGOIIXIIV"},
    Row{"7427", "IIIIIOGOIIIOIV"},
    Row{"7430", "IIIIIIGOXXIIXV"},
    Row{"7432", "IIOIIOGOIIOIIV"},
    Row{"7437", "IIOIIOGOIIOIIV"},
    Row{"7438", "IICIICGCIICIIV"},
    Row{"7474", "IIIIOOGOOIIIIV"},
    Row{"7486", "IIOIIOGOIIOIIV"},
    Row{"74125", "IITIITGTIITIIV"},
    Row{"74126", "IITIITGTIITIIV"},
    Row{"74132", "IIOIIOGOIIOIIV"},
    Row{"74138", "IIIIIIOGOOOOOOOV"},
    Row{"74139", "IIIOOOOGOOOOIIIV"},
    Row{"74151", "IIIIOOIGIIIIIIIV"},
    Row{"74153", "IIIIIIOGOIIIIIIV"},
    Row{"74157", "IIIOIIOGOIIOIIIV"},
    Row{"74161", "IIIIIIIGIIOOOOOV"},
    Row{"74163", "IIIIIIIGIIOOOOOV"},
    Row{"74164", "IIOOOOGIIOOOOV"},
    Row{"74165", "IIIIIIOGOIIIIIIV"},
    Row{"74174", "IOIIOIOGIOIOIIOV"},
    Row{"74175", "IOOIIOOGIOOIIOOV"},
    Row{"74240", "IITITITITGITITITITIV"},
    Row{"74244", "IITITITITGITITITITIV"},
    Row{"74245", "ITTTTTTTTGTTTTTTTTIV"},
    Row{"74273", "IOIIOOIIOGIOIIOOIIOV"},
    Row{"74373", "ITIITTIITGITIITTIITV"},
    Row{"74374", "ITIITTIITGITIITTIITV"},
    Row{"74393", "IIOOOOGOOOOIIV"},
    Row{"74573", "IIIIIIIIIGITTTTTTTTV"},
    Row{"74574", "IIIIIIIIIGITTTTTTTTV"},
    Row{"74595", "TTTTTTTGOIIIIITV"},
    Row{"4001", "IIOOIIGIIOOIIV"},
    Row{"4011", "IIOOIIGIIOOIIV"},
    Row{"4013", "OOIIIIGIIIIOOV"},
    Row{"4017", "OOOOOOOGOOOOIIIV"},
    Row{"4040", "OOOOOOOGOIIOOOOV"},
    Row{"4051", "XXXXXIXGIIIXXXXV"},
    Row{"4060", "OOOOOOOGOOIIOOOV"},
    Row{"4066", "XXXXIIGXXXXIIV"},
    Row{"4070", "IIOOIIGIIOOIIV"},
    Row{"4071", "IIOOIIGIIOOIIV"},
    Row{"4081", "IIOOIIGIIOOIIV"},
    Row{"4093", "IIOOIIGIIOOIIV"},
    Row{"2716", "IIIIIIIITTTGTTTTTIIIXIIV"},
    Row{"2732", "IIIIIIIITTTGTTTTTIIIIIIV"},
    Row{"2764", "XIIIIIIIIITTTGTTTTTIIIIIIXIV"},
    Row{"27128", "XIIIIIIIIITTTGTTTTTIIIIIIIIV"},
    Row{"27256", "XIIIIIIIIITTTGTTTTTIIIIIIIIV"},
    Row{"6116", "IIIIIIIITTTGTTTTTIIIIIIV"},
    Row{"6264", "XIIIIIIIIITTTGTTTTTIIIIIIIIV"},
    Row{"62256", "IIIIIIIIIITTTGTTTTTIIIIIIIIV"},
    Row{"324", "OIIVIIOOIIGIIO"},
    Row{"339", "CCVIIIIIIIIGCC"},
    Row{"358", "OIIGIIOV"},
    Row{"393", "CIIGIICV"},
    Row{"555", "GIOIXICV"},
    Row{"8400", "TTTTTITTTTVTTTTIIOTTTTOIIIOOGTTTTTTTTTTT"},  // Z80
};

bool is_digit(char c) {
  return std::isdigit(static_cast<unsigned char>(c)) != 0;
}

/// The groups of digits: "SN74LS138N" has 74 and 138.
std::array<std::string, 2> first_numbers(std::string_view type) {
  std::array<std::string, 2> numbers;
  std::size_t at = 0;
  for (std::string& number : numbers) {
    while (at < type.size() && !is_digit(type[at])) {
      ++at;
    }
    while (at < type.size() && is_digit(type[at])) {
      number += type[at++];
    }
  }
  return numbers;
}

}  // namespace

std::optional<PinUses> pin_uses(std::string_view type) {
  if (type == "Z80") {
    type = "Z8400";
  }
  const auto [first, second] = first_numbers(type);
  // A family or "C" for CMOS stands between: 74HC138, 27C64, Z84C00.
  const bool split = first == "74" || first == "27" || first == "84";
  const std::string wanted = split ? first + second : first;
  const auto found =
      std::find_if(kRows.begin(), kRows.end(), [&](const Row& row) { return row.type == wanted; });
  return found == kRows.end() ? std::nullopt : std::optional<PinUses>(found->pins);
}

}  // namespace padwalk::graph
