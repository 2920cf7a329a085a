// SPDX-License-Identifier: MIT
//
// The layer rule: who may include whom, read from the sources themselves.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <string>

namespace fs = std::filesystem;

namespace {

/// What each folder may include besides itself. A folder that is not listed may include anything.
const std::map<std::string, std::set<std::string>> kMayInclude = {
    {"graph", {}},
    {"firmware-host/wire", {}},
    {"firmware-host/core", {"firmware-host/wire"}},
    {"firmware-host/transport", {}},
    {"firmware-host/session", {"firmware-host/wire", "firmware-host/transport"}},
    {"firmware-host/simulated",
     {"firmware-host/wire", "firmware-host/core", "firmware-host/transport"}},
    {"tools",
     {"graph", "firmware-host/session", "firmware-host/transport", "firmware-host/simulated"}},
};

/// Third-party headers that only the named files may include.
const std::map<std::string, std::set<std::string>> kOnlyIn = {
    {"libserialport.h", {"firmware-host/transport/serial_port.cpp"}},
    {"yaml-cpp/", {"graph/yaml_reader.cpp"}},
    {"sqlite3.h", {"tools/job.cpp"}},
};

struct Include {
  std::string file;
  std::string what;
  bool quoted = false;
};

std::vector<Include> includes_under(const std::string& folder) {
  static const std::regex pattern(R"re(^\s*#\s*include\s*(["<])([^">]+)[">])re");
  std::vector<Include> all;
  for (const auto& entry : fs::directory_iterator(fs::path(PADWALK_SOURCE_DIR) / folder)) {
    const std::string extension = entry.path().extension();
    if (extension != ".cpp" && extension != ".hpp") {
      continue;
    }
    std::ifstream in(entry.path());
    std::string line;
    std::smatch match;
    while (std::getline(in, line)) {
      if (std::regex_search(line, match, pattern)) {
        all.push_back(
            {folder + "/" + entry.path().filename().string(), match[2], match[1] == "\""});
      }
    }
  }
  return all;
}

std::string folder_of(const std::string& path) {
  return fs::path(path).parent_path().string();
}

}  // namespace

TEST_CASE("every layer includes only the layers below it", "[layers]") {
  for (const auto& [folder, allowed] : kMayInclude) {
    const std::vector<Include> includes = includes_under(folder);
    CHECK(includes.size() > 2);  // the folder is really being read
    for (const Include& include : includes) {
      if (!include.quoted) {
        continue;
      }
      INFO(include.file << " includes " << include.what);
      CHECK(fs::exists(fs::path(PADWALK_SOURCE_DIR) / include.what));
      const std::string target = folder_of(include.what);
      CHECK((target == folder || allowed.count(target) == 1));
    }
  }
}

TEST_CASE("the portable folders include nothing that a microcontroller lacks", "[layers]") {
  for (const char* folder : {"firmware-host/wire", "firmware-host/core"}) {
    for (const Include& include : includes_under(folder)) {
      INFO(include.file << " includes " << include.what);
      CHECK((include.quoted || include.what == "stdint.h" || include.what == "stddef.h" ||
             include.what == "string.h"));
    }
  }
}

TEST_CASE("one file wraps each third-party library that is awkward", "[layers]") {
  for (const auto& [folder, allowed] : kMayInclude) {
    for (const Include& include : includes_under(folder)) {
      for (const auto& [header, files] : kOnlyIn) {
        if (include.what.rfind(header, 0) == 0) {
          INFO(include.file << " includes " << include.what);
          CHECK(files.count(include.file) == 1);
        }
      }
    }
  }
}
