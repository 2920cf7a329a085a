// SPDX-License-Identifier: MIT
#include "tools/zero_file.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "tools/output_file.hpp"

namespace padwalk::tools {

namespace {

using Json = nlohmann::ordered_json;

constexpr double kMostSpreadOhm = 0.3;
constexpr double kMostLeadOhm = 2;
constexpr double kMostOffsetVolt = 5e-3;
constexpr double kMostNoiseVolt = 0.5e-3;
/// Of any tester: what a file may say at most.
constexpr double kMostLeakAmpere = 1e-6;
/// A date in the future tells nothing of the age: then it is as old as can be.
constexpr double kUnknownHours = 1e3;
constexpr std::uintmax_t kMostBytes = 100'000;

std::string state_folder() {
  // A relative path is to be ignored. Source: XDG Base Directory Specification (P).
  const char* state = std::getenv("XDG_STATE_HOME");
  if (state != nullptr && state[0] == '/') {
    return state;
  }
  const char* home = std::getenv("HOME");
  if (home == nullptr || home[0] != '/') {
    throw std::runtime_error(
        "there is no folder to keep the zero in: HOME is not set; set XDG_STATE_HOME");
  }
  return std::string(home) + "/.local/state";
}

std::string file_name(const std::string& unit) {
  std::string name;
  for (const char c : unit) {
    const auto byte = static_cast<unsigned char>(c);
    const bool plain =
        std::isalnum(byte) != 0 || c == '-' || c == '_' || (c == '.' && !name.empty());
    name += plain ? std::string(1, c) : fmt::format("%{:02X}", byte);
  }
  return (name.empty() ? "%" : name) + ".json";
}

double age_hours(const std::string& date) {
  std::tm parts{};
  char rest = 0;
  if (std::sscanf(date.c_str(), "%4d-%2d-%2dT%2d:%2d:%2dZ%c", &parts.tm_year, &parts.tm_mon,
                  &parts.tm_mday, &parts.tm_hour, &parts.tm_min, &parts.tm_sec, &rest) != 6) {
    throw std::runtime_error(fmt::format("\"date\" is \"{}\"", date));
  }
  parts.tm_year -= 1900;
  parts.tm_mon -= 1;
  const auto then = std::chrono::system_clock::from_time_t(timegm(&parts));
  const std::chrono::duration<double, std::ratio<3600>> age =
      std::chrono::system_clock::now() - then;
  return age.count() < 0 ? kUnknownHours : age.count();
}

/// Errors: std::exception of the JSON library or our own, saying what is wrong.
session::Zero read_zero(const std::string& path, const std::string& unit) {
  if (!std::filesystem::is_regular_file(path)) {
    throw std::runtime_error("it is no file");
  }
  if (std::filesystem::file_size(path) > kMostBytes) {
    throw std::runtime_error("it is far too large");
  }
  std::ifstream in(path, std::ios::binary);
  if (!in) {
    throw std::runtime_error("no permission to read it");
  }
  const std::string text{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  const Json json = Json::parse(text, nullptr, false);
  if (json.is_discarded() || !json.is_object()) {
    throw std::runtime_error("it is not JSON");
  }
  if (json.value("padwalk", Json()) != "zero/1") {
    throw std::runtime_error("it is not zero/1");
  }
  const auto number = [&](const char* key) {
    const Json value = json.value(key, Json());
    if (!value.is_number()) {
      throw std::runtime_error(fmt::format("\"{}\" is no number", key));
    }
    return value.get<double>();
  };
  const auto words = [&](const char* key) {
    const Json value = json.value(key, Json());
    return value.is_string() ? value.get<std::string>() : std::string();
  };
  session::Zero zero;
  zero.unit = words("unit");
  zero.date = words("date");
  zero.lead_ohm = number("lead_ohm");
  zero.contact_ohm = number("contact_ohm");
  zero.leak_ampere = number("leak_ampere");
  zero.noise_volt = number("noise_volt");
  zero.offset_volt = number("offset_volt");
  if (zero.unit != unit) {
    throw std::runtime_error(fmt::format("it is of the tester \"{}\"", zero.unit));
  }
  zero.age_hours = age_hours(zero.date);
  const std::string why = implausible(zero, kMostLeakAmpere);
  if (!why.empty()) {
    throw std::runtime_error(why);
  }
  return zero;
}

}  // namespace

std::string zero_path(const std::string& unit) {
  return (std::filesystem::path(state_folder()) / "padwalk" / "zero" / file_name(unit)).string();
}

std::optional<session::Zero> load_zero(const std::string& unit) {
  std::string path;
  try {
    path = zero_path(unit);
    std::error_code ignored;
    const auto status = std::filesystem::symlink_status(path, ignored);
    if (status.type() == std::filesystem::file_type::not_found) {
      return std::nullopt;
    }
    return read_zero(path, unit);
  } catch (const std::exception& error) {
    if (!path.empty()) {
      fmt::print(
          stderr,
          "padwalk: {}: cannot use this zero: {}; going on without one, 'padwalk zero' makes "
          "it anew\n",
          path, error.what());
    }
    return std::nullopt;
  }
}

std::string store_zero(const session::Zero& zero) {
  const std::string path = zero_path(zero.unit);
  const std::filesystem::path folder = std::filesystem::path(path).parent_path();
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error) {
    throw std::runtime_error(fmt::format("cannot make the folder {}: {}; set XDG_STATE_HOME",
                                         folder.string(), error.message()));
  }
  const Json json = {{"padwalk", "zero/1"},
                     {"unit", zero.unit},
                     {"date", zero.date},
                     {"lead_ohm", zero.lead_ohm},
                     {"contact_ohm", zero.contact_ohm},
                     {"leak_ampere", zero.leak_ampere},
                     {"noise_volt", zero.noise_volt},
                     {"offset_volt", zero.offset_volt}};
  OutputFile file(path);
  file.commit(json.dump(2) + "\n");
  return path;
}

std::string implausible(const session::Zero& zero, double tester_leak_ampere) {
  for (const double value :
       {zero.lead_ohm, zero.contact_ohm, zero.leak_ampere, zero.noise_volt, zero.offset_volt}) {
    if (!std::isfinite(value)) {
      return "a value is no number";
    }
  }
  if (zero.contact_ohm <= 0 || zero.contact_ohm > kMostSpreadOhm) {
    return fmt::format("the contacts scatter by {:.2f} ohm from clip to clip, {:.1f} are the most",
                       zero.contact_ohm, kMostSpreadOhm);
  }
  if (zero.lead_ohm < -kMostSpreadOhm || zero.lead_ohm > kMostLeadOhm) {
    return fmt::format("a pair of leads has {:.2f} ohm, {:.0f} are the most", zero.lead_ohm,
                       kMostLeadOhm);
  }
  if (std::abs(zero.offset_volt) > kMostOffsetVolt) {
    return fmt::format("{:.1f} mV stand across a bare wire, {:.0f} are the most",
                       zero.offset_volt * 1e3, kMostOffsetVolt * 1e3);
  }
  if (zero.noise_volt < 0 || zero.noise_volt > kMostNoiseVolt) {
    return fmt::format("the noise is {:.2f} mV, {:.1f} are the most", zero.noise_volt * 1e3,
                       kMostNoiseVolt * 1e3);
  }
  if (zero.leak_ampere < 0 || zero.leak_ampere > tester_leak_ampere) {
    return fmt::format("{:.0f} nA leak through open switches, {:.0f} are the most",
                       zero.leak_ampere * 1e9, tester_leak_ampere * 1e9);
  }
  return "";
}

std::string utc_date(std::chrono::system_clock::time_point time) {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}",
                     fmt::gmtime(std::chrono::system_clock::to_time_t(time)));
}

}  // namespace padwalk::tools
