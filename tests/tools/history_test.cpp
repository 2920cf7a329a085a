// SPDX-License-Identifier: MIT
//
// A folder of jobs as the history of a board type: what was found on earlier boards is likelier on
// this one.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

namespace {

using namespace padwalk;
using nlohmann::json;

const std::string kBackplane =
    "padwalk: board/1\nname: Tide gauge, backplane\nstate: bare\npoints:\n"
    "  A: {xy: [0, 0], side: top}\n  V1: {xy: [12, 0], via: [top, bottom]}\n"
    "  V2: {xy: [24, 0], via: [bottom, top]}\n  V3: {xy: [36, 0], via: [top, bottom]}\n"
    "  V4: {xy: [48, 0], via: [bottom, top]}\n  V5: {xy: [60, 0], via: [top, bottom]}\n"
    "  V6: {xy: [72, 0], via: [bottom, top]}\n  B: {xy: [84, 0], side: top}\n"
    "  C: {xy: [0, 9], side: top}\n  D: {xy: [84, 9], side: top}\n"
    "nets:\n  SLOT: {route: [[A, V1, V2, V3, V4, V5, V6, B]]}\n  WHEEL: [C, D]\n";

struct Shop {
  /// A sweep and a pinpoint of one board, kept; the sweep's result.
  json repair(const std::string& number, const std::vector<std::string>& more = {},
              bool pinpointed = true) const {
    const std::string found = folder.path("found" + number + ".json");
    std::vector<std::string> sweep = {"sweep",  board, "--simulate", weak,
                                      "--json", found, "--job",      job(number)};
    sweep.insert(sweep.end(), more.begin(), more.end());
    const test::Outcome swept = test::padwalk(sweep);
    INFO(swept.out << swept.err);
    CHECK(swept.status == 1);
    said = swept.out;
    if (!pinpointed) {
      return json::parse(test::read_text(found));
    }
    std::vector<std::string> pinpoint = {"pinpoint",   board, "--after", found,
                                         "--simulate", weak,  "--job",   job(number)};
    pinpoint.insert(pinpoint.end(), more.begin(), more.end());
    const test::Outcome pinned = test::padwalk(pinpoint);
    INFO(pinned.out << pinned.err);
    CHECK(pinned.status == 1);
    pinned_said = pinned.out;
    return json::parse(test::read_text(found));
  }
  std::string job(const std::string& number) const { return jobs + "/" + number + ".job"; }

  static double likelihood(const json& report) {
    for (const json& suspect : report["findings"][0]["suspects"]) {
      if (suspect.value("segment", json()) == json({"V5@top", "V5@bottom"})) {
        return suspect["likelihood"];
      }
    }
    return 0;
  }

  test::TemporaryFolder folder;
  std::string board = folder.write("backplane.yaml", kBackplane);
  std::string weak =
      folder.write("weak.yaml", "padwalk: defects/1\ndefects:\n  - open: [V5@top, V5@bottom]\n");
  std::string jobs = [this] {
    std::filesystem::create_directory(folder.path("jobs"));
    return folder.path("jobs");
  }();
  mutable std::string said;
  mutable std::string pinned_said;
};

}  // namespace

TEST_CASE("history: a folder of jobs makes likelier what broke before, and says so",
          "[tools][history]") {
  const Shop shop;
  const json first = shop.repair("1");
  CHECK_FALSE(first.contains("history"));
  CHECK(shop.said.find("sharpened") == std::string::npos);
  const double before = Shop::likelihood(first);
  REQUIRE(before > 0);

  // Its own job tells nothing of earlier boards.
  const std::string away = shop.folder.path("1.job");
  std::filesystem::rename(shop.job("1"), away);
  shop.repair("0");
  const json own = shop.repair("0", {"--history", shop.jobs}, false);
  CHECK(Shop::likelihood(own) == before);
  CHECK_FALSE(own.contains("history"));
  std::filesystem::remove(shop.job("0"));
  std::filesystem::rename(away, shop.job("1"));

  const json second = shop.repair("2", {"--history", shop.jobs});
  CHECK(shop.said.find("likelihoods of F1: sharpened by 1 earlier job of this board\n") !=
        std::string::npos);
  CHECK(shop.pinned_said.find("Likelihoods of F1: sharpened by 1 earlier job of this board.\n") !=
        std::string::npos);
  CHECK(second["history"] == json({{"jobs", 1}, {"findings", {"F1"}}}));
  CHECK(Shop::likelihood(second) > before);
  CHECK(Shop::likelihood(second) < 2 * before);  // one job is not believed alone

  const json third = shop.repair("3", {"--history", shop.jobs});
  CHECK(third["history"]["jobs"] == 2);
  CHECK(Shop::likelihood(third) > Shop::likelihood(second));

  // What was no fault after all, other boards, and what is no job do not count.
  CHECK(test::padwalk({"settle", shop.job("1"), "F1", "leave"}).status == 0);
  std::filesystem::copy(shop.board, shop.jobs + "/notes.txt");
  shop.folder.write("jobs/broken.job", "SQLite format 3 and no more");
  const std::string other =
      shop.folder.write("other.yaml", "padwalk: board/1\nname: Another board\n" +
                                          kBackplane.substr(kBackplane.find("state:")));
  CHECK(
      test::padwalk({"sweep", other, "--simulate", shop.weak, "--job", shop.job("other")}).status ==
      1);
  const json fourth = shop.repair("4", {"--history", shop.jobs}, false);
  CHECK(fourth["history"]["jobs"] == 2);  // 2 and 3

  const test::Outcome none = test::padwalk(
      {"sweep", shop.board, "--simulate", shop.weak, "--history", shop.folder.path("none")});
  CHECK(none.status == 2);
  CHECK(none.err == "padwalk: --history " + shop.folder.path("none") +
                        ": no such folder, or it cannot be read\n");
  const std::string nameless = shop.folder.write(
      "nameless.yaml", "padwalk: board/1\n" + kBackplane.substr(kBackplane.find("state:")));
  CHECK(test::padwalk({"sweep", nameless, "--simulate", "--history", shop.jobs}).status == 2);
}

TEST_CASE("history: what was mended counts, a wire of one board does not", "[tools][history]") {
  const Shop shop;
  const auto confirm = [&](const std::string& number, const std::string& board,
                           const std::string& how, const std::string& a, const std::string& b) {
    const test::Outcome outcome =
        test::padwalk({"confirm", board, how, a, b, "--simulate", "--job", shop.job(number)});
    INFO(outcome.out << outcome.err);
    CHECK(outcome.status == 0);
  };
  const std::string wired =
      shop.folder.write("wired.yaml", kBackplane + "wires:\n  W1: {between: [A, B], gauge: 30}\n");
  confirm("1", wired, "--repaired", "A", "B");  // the wire was soldered anew
  const json none = shop.repair("2", {"--history", shop.jobs}, false);
  CHECK_FALSE(none.contains("history"));
  confirm("3", shop.board, "--repaired", "V5@top", "V5@bottom");
  const json one = shop.repair("4", {"--history", shop.jobs}, false);
  CHECK(one["history"] == json({{"jobs", 1}, {"findings", {"F1"}}}));
}
