// SPDX-License-Identifier: MIT
#include "graph/values.hpp"

#include <catch2/catch.hpp>
#include <string>
#include <tuple>
#include <vector>

using padwalk::graph::parse_value;
using padwalk::graph::Unit;

TEST_CASE("values are read as people at a bench write them", "[graph][values]") {
  using Row = std::tuple<const char*, Unit, double>;
  const std::vector<Row> rows = {
      // The letter in the place of the decimal point. Source: IEC 60062, its examples from memory:
      // R10 is 0.10 ohm, R332 0.332, 1R0 1, 33R2 33.2, 590R 590, 1K0 1 kohm, 3K32, 10K, 33K2, 1M0,
      // 33M2, 590M, 1G0, 10G; p10 is 0.10 pF, 1p0, 3p32, 10p, 1n0, 33n2, 590n, 1u0, 10u, 1m0.
      {"R10", Unit::ohm, 0.1},
      {"R332", Unit::ohm, 0.332},
      {"1R0", Unit::ohm, 1},
      {"33R2", Unit::ohm, 33.2},
      {"590R", Unit::ohm, 590},
      {"1K0", Unit::ohm, 1e3},
      {"3K32", Unit::ohm, 3320},
      {"10K", Unit::ohm, 10e3},
      {"33K2", Unit::ohm, 33.2e3},
      {"1M0", Unit::ohm, 1e6},
      {"33M2", Unit::ohm, 33.2e6},
      {"590M", Unit::ohm, 590e6},
      {"1G0", Unit::ohm, 1e9},
      {"10G", Unit::ohm, 10e9},
      {"p10", Unit::farad, 0.1e-12},
      {"1p0", Unit::farad, 1e-12},
      {"3p32", Unit::farad, 3.32e-12},
      {"10p", Unit::farad, 10e-12},
      {"1n0", Unit::farad, 1e-9},
      {"33n2", Unit::farad, 33.2e-9},
      {"590n", Unit::farad, 590e-9},
      {"1u0", Unit::farad, 1e-6},
      {"10u", Unit::farad, 10e-6},
      {"1m0", Unit::farad, 1e-3},
      // Common practice, no source.
      {"4k7", Unit::ohm, 4700},
      {"0R47", Unit::ohm, 0.47},
      {"120k", Unit::ohm, 120e3},
      {"4700 ohm", Unit::ohm, 4700},
      {"4700ohm", Unit::ohm, 4700},
      {"10 kohm", Unit::ohm, 10e3},
      {"10 kOhm", Unit::ohm, 10e3},
      {"2 Mohm", Unit::ohm, 2e6},
      {"0.4 ohm", Unit::ohm, 0.4},
      {"25 mohm", Unit::ohm, 0.025},
      {"4k7 ohm", Unit::ohm, 4700},
      {"1e3 ohm", Unit::ohm, 1000},
      {"4.7 k\u03a9", Unit::ohm, 4700},  // Greek omega
      {"47 \u2126", Unit::ohm, 47},      // ohm sign
      {"0 ohm", Unit::ohm, 0},
      {"4n7", Unit::farad, 4.7e-9},
      {"4n7F", Unit::farad, 4.7e-9},
      {"100n", Unit::farad, 100e-9},
      {"2u2", Unit::farad, 2.2e-6},
      {"2\u00b52", Unit::farad, 2.2e-6},
      {"4.7 uF", Unit::farad, 4.7e-6},
      {"10u", Unit::henry, 10e-6},
      {"2.2 mH", Unit::henry, 2.2e-3},
      {"0.4 mm", Unit::metre, 0.4e-3},
      {"0.4 mm", Unit::millimetre, 0.4},
      {"31 mm", Unit::millimetre, 31},
      {"1.2 cm", Unit::millimetre, 12},
      {"35 um", Unit::millimetre, 0.035},
      {"1 m", Unit::millimetre, 1000},
      {"0.3 inch", Unit::millimetre, 7.62},  // 1 inch is 25.4 mm by definition
      {"0.3 in", Unit::millimetre, 7.62},
      {"100 mil", Unit::millimetre, 2.54},
      {"2.1 V", Unit::volt, 2.1},
      {"-5 V", Unit::volt, -5},
      {"3V3", Unit::volt, 3.3},
      {"200 uV", Unit::volt, 200e-6},
      {"1 nA", Unit::ampere, 1e-9},
      {"0.5 mA", Unit::ampere, 0.5e-3},
      {"8 us", Unit::second, 8e-6},
      {"250 ms", Unit::second, 0.25},
      {"8 s", Unit::second, 8},
      {"90", Unit::degree, 90},
      {"-45", Unit::degree, -45},
      {"22.5 deg", Unit::degree, 22.5},
      {"90\u00b0", Unit::degree, 90},
      {"5%", Unit::fraction, 0.05},
      {"0.1 %", Unit::fraction, 0.001},
  };
  for (const auto& [text, unit, expected] : rows) {
    INFO(text);
    const auto value = parse_value(text, unit);
    REQUIRE(value);
    CHECK(*value == Approx(expected).epsilon(1e-15));
  }
}

TEST_CASE("m is a thousandth and M a million", "[graph][values]") {
  CHECK(parse_value("1m", Unit::ohm).value() == 1e-3);
  CHECK(parse_value("1M", Unit::ohm).value() == 1e6);
  CHECK(parse_value("1 m", Unit::metre).value() == 1);
  CHECK_FALSE(parse_value("1 M", Unit::metre));
  CHECK_FALSE(parse_value("1 MM", Unit::millimetre));
}

TEST_CASE("what is no value gives nothing", "[graph][values]") {
  const std::vector<std::tuple<const char*, Unit>> rows = {
      {"", Unit::ohm},           {" ", Unit::ohm},         {"4700", Unit::ohm},
      {"4k7k", Unit::ohm},       {"4k7k7", Unit::ohm},     {"4 k7", Unit::ohm},
      {"4k 7", Unit::ohm},       {"k", Unit::ohm},         {"k7k", Unit::ohm},
      {".", Unit::ohm},          {"4.7k7", Unit::ohm},     {"4..7 ohm", Unit::ohm},
      {"-4k7", Unit::ohm},       {"-1 ohm", Unit::ohm},    {"inf ohm", Unit::ohm},
      {"nan ohm", Unit::ohm},    {"1e999 ohm", Unit::ohm}, {"1e99999 ohm", Unit::ohm},
      {"0x10 ohm", Unit::ohm},   {"ohm", Unit::ohm},       {"47 volt", Unit::ohm},
      {"47 V", Unit::ohm},       {"100n", Unit::ohm},      {"4k7", Unit::farad},
      {"-1n", Unit::farad},      {"100", Unit::farad},     {"0.4", Unit::metre},
      {"0.4", Unit::millimetre}, {"-1 mm", Unit::metre},   {"2.1", Unit::volt},
      {"--5 V", Unit::volt},     {"+-5 V", Unit::volt},    {"90 ohm", Unit::degree},
      {"inf", Unit::degree},     {"nan", Unit::degree},    {"", Unit::degree},
      {"5", Unit::fraction},     {"0.05", Unit::fraction}, {"-5%", Unit::fraction},
      {"5 ms ", Unit::second}};
  for (const auto& [text, unit] : rows) {
    INFO("'" << text << "'");
    CHECK_FALSE(parse_value(text, unit));
  }
}

TEST_CASE("a value is the number that its decimals say", "[graph][values]") {
  for (int tenth_um = 1; tenth_um < 20000; tenth_um += 7) {
    const std::string text =
        std::to_string(tenth_um / 10000) + "." + std::to_string(10000 + tenth_um % 10000).substr(1);
    CHECK(parse_value(text + " mm", Unit::millimetre).value() == std::stod(text));
  }
}

TEST_CASE("any bytes are taken or refused without harm", "[graph][values]") {
  std::string text;
  for (unsigned seed = 1; seed < 20000; ++seed) {
    text.clear();
    for (unsigned bits = seed * 2654435761u; bits != 0; bits /= 19) {
      text += "0123456789kMR. -e\xce\xa9"[bits % 19];
    }
    for (const Unit unit : {Unit::ohm, Unit::volt, Unit::millimetre, Unit::degree}) {
      const auto value = parse_value(text, unit);
      INFO(text);
      CHECK((!value || *value == *value));
    }
  }
}
