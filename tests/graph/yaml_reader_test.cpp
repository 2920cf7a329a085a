// SPDX-License-Identifier: MIT
#include "graph/yaml_reader.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

using namespace padwalk::graph;

namespace {

std::string refusal(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  try {
    parse_yaml(text, diagnostics);
    diagnostics.throw_if_errors();
  } catch (const BadFile& bad) {
    return bad.what();
  }
  return "nothing";
}

std::vector<std::string> warnings(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  parse_yaml(text, diagnostics);
  std::vector<std::string> all;
  for (const Diagnostic& warning : diagnostics.warnings()) {
    all.push_back(diagnostics.format(warning));
  }
  return all;
}

YamlNode parse(const std::string& text) {
  Diagnostics diagnostics("b.yaml");
  YamlNode root = parse_yaml(text, diagnostics);
  diagnostics.throw_if_errors();
  return root;
}

std::string times(int count, const std::string& text) {
  if (text.size() == 1) {
    return std::string(static_cast<std::size_t>(count), text[0]);
  }
  std::string all;
  all.reserve(text.size() * static_cast<std::size_t>(count));
  for (int i = 0; i < count; ++i) {
    all += text;
  }
  return all;
}

const std::string kDeep = "brackets or lists nest deeper than 32; no padwalk file needs that";
const std::string kLook = "; look at the brackets, quotes and indentation before this place";

/// A folder of its own for files, gone at the end.
struct Folder {
  std::filesystem::path path =
      std::filesystem::temp_directory_path() / ("yaml_reader_test." + std::to_string(getpid()));
  Folder() { std::filesystem::create_directories(path); }
  ~Folder() { std::filesystem::remove_all(path); }
  std::string write(const std::string& name, const std::string& text) const {
    const std::string file = (path / name).string();
    std::ofstream(file, std::ios::binary) << text;
    return file;
  }
};

std::string file_refusal(const std::string& path) {
  try {
    read_file(path);
  } catch (const BadFile& bad) {
    return bad.what();
  }
  return "nothing";
}

}  // namespace

TEST_CASE("a tree knows where each value stands", "[graph][yaml]") {
  const YamlNode root = parse("a: 1\nb:\n  - x\n  - {c: \"2\", d: ~}\n");
  REQUIRE(root.kind == YamlNode::Kind::map);
  REQUIRE(root.entries.size() == 2);
  const YamlNode* a = root.find("a");
  REQUIRE(a != nullptr);
  CHECK(a->scalar == "1");
  CHECK_FALSE(a->quoted);
  CHECK(a->mark == Mark{1, 4});
  const YamlNode* b = root.find("b");
  REQUIRE(b != nullptr);
  REQUIRE(b->items.size() == 2);
  CHECK(b->items[0].mark == Mark{3, 5});
  const YamlNode* c = b->items[1].find("c");
  REQUIRE(c != nullptr);
  CHECK(c->quoted);
  CHECK(c->mark == Mark{4, 9});
  REQUIRE(b->items[1].find("d") != nullptr);
  CHECK(b->items[1].find("d")->kind == YamlNode::Kind::null);
  CHECK(root.find("z") == nullptr);
}

TEST_CASE("text that is no usable YAML is refused in one sentence", "[graph][yaml]") {
  const std::vector<std::pair<std::string, std::string>> rows = {
      {"a: [1, 2\n", "b.yaml:2:1: this is not YAML: end of sequence flow not found" + kLook},
      {"a: b: c\n", "b.yaml:1:5: this is not YAML: illegal map value" + kLook},
      {"a: &x 1\nb: *x\n",
       "b.yaml:1:4: an anchor (&name) is not allowed; quote a name that begins with &"},
      {"a: !x 1\n", "b.yaml:1:4: a tag (!name) is not allowed; quote a name that begins with !"},
      {"a: 1\n---\nb: 2\n",
       "b.yaml:2:1: a second document begins here; a file holds one, without --- between"},
      {"? [a]\n: 1\n", "b.yaml:1:3: a list or a map stands where a name was expected"},
      {std::string("a: \0", 4),
       "b.yaml:1:4: found the byte 0x00, which no text holds; this looks like a binary file, "
       "expected YAML text"},
      {"\x7f"
       "ELF\x02\x01",
       "b.yaml:1:1: found the byte 0x7f, which no text holds; this looks like a binary file, "
       "expected YAML text"},
      {"a: 1\n# \x04\n",
       "b.yaml:2:3: found the byte 0x04, which no text holds; this looks like a binary file, "
       "expected YAML text"},
      {"a: \"\\\x01\"\n",
       "b.yaml:1:6: found the byte 0x01, which no text holds; this looks like a binary file, "
       "expected YAML text"},
      {"\xff\xfe"
       "a\0:\0",
       "b.yaml: the file is UTF-16 text; save it as UTF-8"},
      {"\xfe\xff", "b.yaml: the file is UTF-16 text; save it as UTF-8"},
      {"name: M\xfcller\n",
       "b.yaml:1:8: found a character that is not UTF-8; save the file as UTF-8 text"},
      {"a: \xc0\x80\n",
       "b.yaml:1:4: found a character that is not UTF-8; save the file as UTF-8 text"},
      {"a: \xed\xa0\x80\n",
       "b.yaml:1:4: found a character that is not UTF-8; save the file as UTF-8 text"},
      {"a: \xe2\x84",
       "b.yaml:1:4: found a character that is not UTF-8; save the file as UTF-8 text"},
      {"a: 1\nb: 2\na: 3\n", "b.yaml:3:1: \"a\" stands here and in line 1; expected once"},
      {"a: {b: 1, \"b\": 2}\n", "b.yaml:1:11: \"b\" stands here and in line 1; expected once"}};
  for (const auto& [text, expected] : rows) {
    INFO(text);
    CHECK(refusal(text) == expected);
  }
}

TEST_CASE("an alias without its anchor is refused too", "[graph][yaml]") {
  CHECK(refusal("a: *RESET\n") ==
        "b.yaml:1:4: an alias (*name) is not allowed; write the value out, or quote a name that "
        "begins with *");
}

TEST_CASE("what YAML allows is read", "[graph][yaml]") {
  CHECK(refusal("\xef\xbb\xbf"
                "a: 1\r\nb: [1,\r\n  2]\r\n") == "nothing");
  CHECK(refusal("a: it's [fine\nb: \"[[\"\nc: '[[''[['\nd: \"\\\"[[\"\n# [[[ '\n") == "nothing");
  CHECK(refusal("a: 47 k\u03a9, 25\u00b0\n") == "nothing");
  CHECK(refusal("---\na: 1\n...\n") == "nothing");
  CHECK(parse("# nothing but this\n").kind == YamlNode::Kind::null);
  CHECK(parse("a: [it's, o'clock, {b: 'x, y'}]\n").find("a")->items.size() == 3);
}

TEST_CASE("nesting up to 32 is read, deeper nesting is refused", "[graph][yaml]") {
  const auto nested = [](int depth) { return times(depth, "[") + "x" + times(depth, "]"); };
  CHECK(refusal(nested(kMaxNesting)) == "nothing");
  CHECK(refusal(nested(kMaxNesting + 1)) == "b.yaml:1:33: " + kDeep);
  CHECK(refusal(times(33, "{a: ") + times(33, "}")) == "b.yaml:1:129: " + kDeep);
  CHECK(refusal(times(33, "- ") + "x") == "b.yaml:1:65: " + kDeep);
  CHECK(refusal(times(100000, "- ")) == "b.yaml:1:65: " + kDeep);
  CHECK(refusal(times(100000, ": ")) == "b.yaml:1:65: " + kDeep);
  CHECK(refusal(times(100000, "? ")) ==
        "b.yaml:1:3: a list or a map stands where a name was expected");
  std::string steps;
  for (int i = 0; i < 1000; ++i) {
    steps += std::string(static_cast<std::size_t>(i), ' ') + "a:\n";
  }
  CHECK(refusal(steps) == "b.yaml:33:33: " + kDeep);
}

TEST_CASE("hostile text is refused before it costs memory", "[graph][yaml][slow]") {
  CHECK(refusal(times(100'000'000, "[")) ==
        "b.yaml: the file has more than 64 MB, which no board needs; is it the right file?");
  CHECK(refusal(times(60'000'000, "[")) == "b.yaml:1:33: " + kDeep);
  std::string bomb = "a: &a [x, x]\n";
  for (char name = 'b'; name < 'z'; ++name) {
    const std::string before = std::string("*") + static_cast<char>(name - 1);
    bomb += std::string(1, name) + ": &" + name + " [" + times(9, before + ", ") + before + "]\n";
  }
  CHECK(refusal(bomb) ==
        "b.yaml:1:4: an anchor (&name) is not allowed; quote a name that begins with &");
  // Brackets that the look at the bytes takes for quoted text.
  CHECK(refusal("a: b\n  \"\nc: " + times(5'000'000, "[")) ==
        "b.yaml: 4 MB went by without one whole value; write one part, point or net a line");
  CHECK(refusal("a: \"" + times(5'000'000, "x") + "\"") ==
        "b.yaml: 4 MB went by without one whole value; write one part, point or net a line");
}

TEST_CASE("a comment that looks like a net is a warning", "[graph][yaml]") {
  CHECK(warnings("nets:\n  #RESET: [U1.3]\n  A: [U1.1]\n") ==
        std::vector<std::string>{
            "b.yaml:2:3: #RESET: … is a comment, because it begins with #; if it is a net, write "
            "\"#RESET\": … in quotes"});
  CHECK(warnings("#WR: {role: ground}\n").size() == 1);
  for (const char* comment :
       {"# RESET: [U1.3]\n", "#RESET\n", "#RESET: gone\n", "a: 1 #RESET: [U1.3]\n", "#: [a]\n",
        "#a b: [c]\n", "\"#RESET\": [U1.3]\n", "a: '\n\n  #RESET: [U1.3]'\n"}) {
    INFO(comment);
    CHECK(warnings(comment).empty());
  }
}

TEST_CASE("the first line says what a file is", "[graph][yaml]") {
  const auto complaint = [](const std::string& text) -> std::string {
    Diagnostics diagnostics("b.yaml");
    try {
      expect_format(parse_yaml(text, diagnostics), "board/1", diagnostics);
    } catch (const BadFile& bad) {
      return bad.what();
    }
    return "nothing";
  };
  const std::string none =
      "b.yaml:1:1: this is not a padwalk file; expected \"padwalk: board/1\" as its first line";
  CHECK(complaint("padwalk: board/1\n") == "nothing");
  CHECK(complaint("# a board\npadwalk: \"board/1\"\nname: x\n") == "nothing");
  CHECK(complaint("padwalk: board/2\n") ==
        "b.yaml:1:10: this file is board/2, which this program does not know; expected board/1");
  CHECK(complaint("padwalk: defects/1\n") ==
        "b.yaml:1:10: this file is defects/1; expected board/1");
  for (const char* text : {"name: x\npadwalk: board/1\n", "- a\n", "hello\n", "padwalk: [1]\n",
                           "# nothing\n", "padwalk:\n"}) {
    INFO(text);
    CHECK(complaint(text) == none);
  }
}

TEST_CASE("files that cannot be read are refused in one sentence", "[graph][yaml]") {
  const Folder folder;
  const std::string missing = (folder.path / "missing.yaml").string();
  CHECK(file_refusal(missing) ==
        missing + ": there is no such file; check the name and the folder");
  CHECK(file_refusal(folder.path.string()) ==
        folder.path.string() + ": this is a folder; name a file in it");
  const std::string empty = folder.write("empty.yaml", "");
  CHECK(file_refusal(empty) == empty + ": the file is empty; is it the right file?");
  CHECK(read_file(folder.write("good.yaml", "a: 1\n")) == "a: 1\n");
  const std::string huge = folder.write("huge.yaml", "");
  std::filesystem::resize_file(huge, kMaxFileBytes + 1);
  CHECK(file_refusal(huge) ==
        huge + ": the file has more than 64 MB, which no board needs; is it the right file?");
}

TEST_CASE("a file without permission is refused in one sentence", "[graph][yaml]") {
  const Folder folder;
  const std::string secret = folder.write("secret.yaml", "a: 1\n");
  REQUIRE(chmod(secret.c_str(), 0) == 0);
  const bool root = geteuid() == 0;
  if (root) {
    REQUIRE(seteuid(65534) == 0);  // root may read anything
  }
  const std::string found = file_refusal(secret);
  if (root) {
    REQUIRE(seteuid(0) == 0);
  }
  CHECK(found == secret + ": no permission to read it; ask its owner, or try chmod +r");
}
