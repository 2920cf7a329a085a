// SPDX-License-Identifier: MIT
#include "firmware-host/wire/codec.hpp"

#include <catch2/catch.hpp>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "firmware-host/wire/describe.hpp"

namespace wire = padwalk::wire;

namespace {

/// Gives every field a random legal value, its ends often.
struct Filler {
  std::mt19937& random;

  std::uint32_t pick(std::uint32_t low, std::uint32_t high) {
    switch (random() % 4) {
      case 0:
        return low;
      case 1:
        return high;
      default:
        return std::uniform_int_distribution<std::uint32_t>(low, high)(random);
    }
  }
  template <class T>
  void number(const char*, T& value, std::uint32_t low, std::uint32_t high, const char*) {
    value = static_cast<T>(pick(low, high));
  }
  template <class E>
  void choice(const char*, E& value, E last, const char*) {
    value = static_cast<E>(pick(0, static_cast<std::uint32_t>(last)));
  }
  void code(const char*, std::int32_t& value, const char*) {
    value = static_cast<std::int32_t>(pick(0, 0xFFFFFF)) - 0x800000;
  }
  template <class B>
  void bytes(const char*, B& value, const char*) {
    value.size = static_cast<std::uint8_t>(pick(0, B::capacity()));
    for (std::uint8_t i = 0; i < value.size; ++i) {
      value.data[i] = static_cast<std::uint8_t>(random());
    }
  }
  template <class T>
  void text(const char*, T& value, const char*) {
    value.size = static_cast<std::uint8_t>(pick(0, T::capacity()));
    for (std::uint8_t i = 0; i < value.size; ++i) {
      value.data[i] = static_cast<char>(pick(0x20, 0x7E));
    }
  }
};

/// All values of a message as text, to compare two.
struct Printer {
  std::ostringstream out;
  template <class T>
  void number(const char* name, T& value, std::uint32_t, std::uint32_t, const char*) {
    out << name << ' ' << static_cast<std::uint64_t>(value) << '\n';
  }
  template <class E>
  void choice(const char* name, E& value, E, const char*) {
    out << name << ' ' << static_cast<unsigned>(value) << '\n';
  }
  void code(const char* name, std::int32_t& value, const char*) {
    out << name << ' ' << value << '\n';
  }
  template <class B>
  void bytes(const char* name, B& value, const char*) {
    out << name;
    for (std::uint8_t i = 0; i < value.size; ++i) {
      out << ' ' << static_cast<unsigned>(value.data[i]);
    }
    out << '\n';
  }
  template <class T>
  void text(const char* name, T& value, const char*) {
    out << name << ' ' << std::string(value.data, value.size) << '\n';
  }
};

template <class M>
std::string printed(M& message) {
  Printer printer;
  M::fields(message, printer);
  return printer.out.str();
}

struct RoundTrip {
  std::mt19937 random{3};
  std::size_t messages = 0;

  template <class M>
  void message() {
    ++messages;
    for (int round = 0; round < 200; ++round) {
      M sent;
      Filler filler{random};
      M::fields(sent, filler);
      std::vector<std::uint8_t> bytes(wire::kMessageBytes);
      bytes.resize(wire::encode(sent, bytes.data()));
      INFO(M::name() << ", round " << round);
      M got;
      REQUIRE(wire::decode(bytes.data(), bytes.size(), &got));
      REQUIRE(printed(got) == printed(sent));
      for (std::size_t cut = 0; cut < bytes.size(); ++cut) {
        // A copy of the right size, so that a sanitizer sees a read beyond it.
        const std::vector<std::uint8_t> head(bytes.begin(),
                                             bytes.begin() + static_cast<std::ptrdiff_t>(cut));
        M none;
        REQUIRE_FALSE(wire::decode(head.data(), head.size(), &none));
      }
      bytes.push_back(0);
      REQUIRE_FALSE(wire::decode(bytes.data(), bytes.size(), &got));
      bytes.pop_back();
      bytes[0] ^= 0x80;
      REQUIRE_FALSE(wire::decode(bytes.data(), bytes.size(), &got));
    }
  }
};

struct Fuzz {
  std::mt19937 random{17};
  template <class M>
  void message() {
    for (int round = 0; round < 5000; ++round) {
      std::vector<std::uint8_t> bytes(1 + random() % wire::kMessageBytes);
      for (std::uint8_t& byte : bytes) {
        byte = static_cast<std::uint8_t>(random());
      }
      bytes[0] = static_cast<std::uint8_t>(M::id());
      M message;
      if (wire::decode(bytes.data(), bytes.size(), &message)) {
        std::vector<std::uint8_t> again(wire::kMessageBytes);
        again.resize(wire::encode(message, again.data()));
        REQUIRE(again == bytes);
      }
    }
  }
};

/// A message, and what may and may not differ from it under one signature.
struct One {
  static constexpr const char* name() { return "m"; }
  std::uint16_t a = 0;
  template <class S, class V>
  static constexpr void fields(S& self, V& visit) {
    visit.number("a", self.a, 0, 9, "meaning");
  }
};

struct Reworded : One {
  template <class S, class V>
  static constexpr void fields(S& self, V& visit) {
    visit.number("a", self.a, 0, 9, "other words");
  }
};

struct Renamed : One {
  template <class S, class V>
  static constexpr void fields(S& self, V& visit) {
    visit.number("b", self.a, 0, 9, "meaning");
  }
};

struct Ranged : One {
  template <class S, class V>
  static constexpr void fields(S& self, V& visit) {
    visit.number("a", self.a, 0, 8, "meaning");
  }
};

struct Wider : One {
  std::uint32_t wide = 0;
  template <class S, class V>
  static constexpr void fields(S& self, V& visit) {
    visit.number("a", self.wide, 0, 9, "meaning");
  }
};

template <class M>
bool decodes(std::vector<std::uint8_t> bytes) {
  M message;
  return wire::decode(bytes.data(), bytes.size(), &message);
}

std::string read_file(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  REQUIRE(in.good());
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

TEST_CASE("every message comes back as it was sent and no part of one is taken", "[wire][codec]") {
  RoundTrip round_trip;
  wire::for_each_message(round_trip);
  CHECK(round_trip.messages == 15);
}

TEST_CASE("values outside their legal range are refused", "[wire][codec]") {
  CHECK(decodes<wire::Error>({71, 0, 200}));
  CHECK(decodes<wire::Error>({71, static_cast<std::uint8_t>(wire::kLastStatus), 200}));
  CHECK_FALSE(decodes<wire::Error>({71, static_cast<std::uint8_t>(wire::kLastStatus) + 1, 200}));
  CHECK(decodes<wire::Run>({5, 1, 0, 9, 0, 1, 2, 3, 4, 0, 1}));
  CHECK_FALSE(decodes<wire::Run>({5, 1, 0, 9, 0, 1, 2, 3, 4, 0, 2}));
  CHECK(decodes<wire::Part>({4, 1, 0, 0, 0, 2, 8, 9}));
  CHECK_FALSE(decodes<wire::Part>({4, 1, 0, 0, 0, 3, 8, 9}));
  CHECK_FALSE(decodes<wire::Part>({4, 1, 0, 0, 0, 255, 8, 9}));
  CHECK(decodes<wire::Identity>({67, 1, 'a', 1, 'b'}));
  CHECK_FALSE(decodes<wire::Identity>({67, 1, '\n', 1, 'b'}));
  CHECK_FALSE(decodes<wire::Identity>({67, 1, 'a', 1, 0xE4}));
}

TEST_CASE("random bytes never decode beyond their end", "[wire][codec]") {
  Fuzz fuzz;
  wire::for_each_message(fuzz);
}

TEST_CASE("a result keeps its sign and its bits in nine bytes", "[wire][codec]") {
  for (const std::int32_t code : {0, 1, -1, 511, -512, 0x7FFFFF, -0x800000}) {
    wire::Result sent;
    sent.flags = wire::kSenseOver | wire::kNotSettled | 3 | (2 << 2);
    sent.sense = code;
    sent.current = -(code + 1);
    sent.settle_ticks = 65535;
    std::uint8_t bytes[wire::kResultBytes];
    wire::pack_result(sent, bytes);
    wire::Result got = wire::unpack_result(bytes);
    CHECK(printed(got) == printed(sent));
    CHECK((wire::sense_gain(got) == wire::Gain::x50));
    CHECK((wire::current_gain(got) == wire::Gain::x5));
  }
}

TEST_CASE("the signature changes with any name, width or range", "[wire][codec]") {
  const auto signature = [](auto message) {
    wire::detail::Signer signer;
    signer.record<decltype(message)>();
    return signer.hash;
  };
  CHECK(signature(One{}) == signature(Reworded{}));
  CHECK(signature(One{}) != signature(Renamed{}));
  CHECK(signature(One{}) != signature(Ranged{}));
  CHECK(signature(One{}) != signature(Wider{}));
}

TEST_CASE("the table in PROTOCOL.md is what the code speaks", "[wire][codec]") {
  // UPDATE_GOLDEN=1 rewrites it.
  const std::string path = PADWALK_SOURCE_DIR "/firmware-host/PROTOCOL.md";
  const std::string begin = "<!-- messages: begin -->\n";
  const std::string end = "<!-- messages: end -->\n";
  std::string table;
  const auto put = [&table](const char* text) { table += text; };
  wire::describe(put);
  std::string page = read_file(path);
  const std::size_t from = page.find(begin);
  const std::size_t to = page.find(end);
  REQUIRE(from != std::string::npos);
  REQUIRE(to != std::string::npos);
  const std::size_t start = from + begin.size();
  const char* update = std::getenv("UPDATE_GOLDEN");
  if (update != nullptr && std::strcmp(update, "1") == 0) {
    page.replace(start, to - start, table);
    std::ofstream(path, std::ios::binary) << page;
    return;
  }
  CHECK(page.substr(start, to - start) == table);
}
