// SPDX-License-Identifier: MIT
#include "graph/yaml_reader.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <istream>
#include <streambuf>
#include <unordered_map>

#include "graph/text_scan.hpp"

namespace padwalk::graph {

namespace {

/// How much of a file may go by without a value being understood. yaml-cpp keeps all of that in
/// memory, a hundred bytes for each of the file's.
constexpr std::size_t kMaxUnderstoodLate = std::size_t{4} << 20;

constexpr const char* kAlias =
    "an alias (*name) is not allowed; write the value out, or quote a name that begins with *";

Mark from_yaml(const YAML::Mark& mark) {
  return {mark.line + 1, mark.column + 1};
}

[[noreturn]] void refuse(const Diagnostics& diagnostics, Mark mark, std::string text) {
  throw BadFile(diagnostics.format({mark, std::move(text)}));
}

/// Hands a text to yaml-cpp without a copy, and notices when nothing is made of it.
class TextStream : public std::streambuf {
 public:
  TextStream(std::string_view text, const Diagnostics& diagnostics)
      : rest_(text), diagnostics_(diagnostics) {}

  void understood_something() { waiting_ = 0; }

 protected:
  std::streamsize xsgetn(char* to, std::streamsize count) override {
    const std::size_t bytes = std::min(rest_.size(), static_cast<std::size_t>(count));
    std::copy_n(rest_.data(), bytes, to);
    rest_.remove_prefix(bytes);
    waiting_ += bytes;
    if (waiting_ > kMaxUnderstoodLate) {
      refuse(
          diagnostics_, {},
          fmt::format("{} MB went by without one whole value; write one part, point or net a line",
                      kMaxUnderstoodLate >> 20));
    }
    return static_cast<std::streamsize>(bytes);
  }

 private:
  std::string_view rest_;
  const Diagnostics& diagnostics_;
  std::size_t waiting_ = 0;
};

/// Builds the tree from yaml-cpp's events.
class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(Diagnostics& diagnostics, TextStream& stream)
      : diagnostics_(diagnostics), stream_(stream) {}

  YamlNode take_root() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark& mark) override {
    if (++documents_ > 1) {
      refuse(diagnostics_, from_yaml(mark),
             "a second document begins here; a file holds one, without --- between");
    }
  }
  void OnDocumentEnd() override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    add(make(YamlNode::Kind::null, mark, "", anchor));
  }

  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    refuse(diagnostics_, from_yaml(mark), kAlias);
  }

  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    YamlNode node = make(YamlNode::Kind::scalar, mark, tag, anchor);
    node.quoted = tag == "!";
    node.scalar = value;
    add(std::move(node));
  }

  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    open(make(YamlNode::Kind::sequence, mark, tag, anchor));
  }
  void OnSequenceEnd() override { close(); }

  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    open(make(YamlNode::Kind::map, mark, tag, anchor));
  }
  void OnMapEnd() override {
    report_duplicates(open_.back().node);
    close();
  }

 private:
  struct Open {
    YamlNode node;
    YamlNode key;
    bool has_key = false;
  };

  YamlNode make(YamlNode::Kind kind, const YAML::Mark& mark, const std::string& tag,
                YAML::anchor_t anchor) {
    stream_.understood_something();
    YamlNode node;
    node.kind = kind;
    node.mark = from_yaml(mark);
    if (anchor != 0) {
      refuse(diagnostics_, node.mark,
             "an anchor (&name) is not allowed; quote a name that begins with &");
    }
    if (!tag.empty() && tag != "?" && tag != "!") {
      refuse(diagnostics_, node.mark,
             "a tag (!name) is not allowed; quote a name that begins with !");
    }
    if (++values_ > kMaxYamlValues) {
      refuse(diagnostics_, node.mark, fmt::format("more than {} values", kMaxYamlValues));
    }
    return node;
  }

  void open(YamlNode node) {
    if (open_.size() >= kMaxNesting) {
      refuse(diagnostics_, node.mark, too_deep(kMaxNesting));
    }
    if (!open_.empty() && open_.back().node.kind == YamlNode::Kind::map && !open_.back().has_key) {
      refuse(diagnostics_, node.mark, "a list or a map stands where a name was expected");
    }
    open_.push_back({std::move(node), {}, false});
  }

  void close() {
    YamlNode node = std::move(open_.back().node);
    open_.pop_back();
    add(std::move(node));
  }

  void add(YamlNode node) {
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    Open& parent = open_.back();
    if (parent.node.kind == YamlNode::Kind::sequence) {
      parent.node.items.push_back(std::move(node));
    } else if (!parent.has_key) {
      parent.key = std::move(node);
      parent.has_key = true;
    } else {
      if (node.kind == YamlNode::Kind::null && node.mark.line > parent.key.mark.line) {
        node.mark = parent.key.mark;  // yaml-cpp notices an absent value at the next word
      }
      parent.node.entries.push_back({std::move(parent.key), std::move(node)});
      parent.key = {};
      parent.has_key = false;
    }
  }

  void report_duplicates(const YamlNode& map) {
    std::unordered_map<std::string_view, int> first_line;
    for (const auto& [key, value] : map.entries) {
      const auto [seen, is_new] = first_line.emplace(key.scalar, key.mark.line);
      if (!is_new) {
        diagnostics_.error(key.mark, fmt::format("\"{}\" stands here and in line {}; expected once",
                                                 key.scalar, seen->second));
      }
    }
  }

  Diagnostics& diagnostics_;
  TextStream& stream_;
  YamlNode root_;
  std::vector<Open> open_;
  std::size_t values_ = 0;
  int documents_ = 0;
};

}  // namespace

const YamlNode* YamlNode::find(std::string_view key) const {
  const auto found = std::find_if(entries.begin(), entries.end(), [&](const auto& entry) {
    return entry.key.kind == Kind::scalar && entry.key.scalar == key;
  });
  return found == entries.end() ? nullptr : &found->value;
}

YamlNode parse_yaml(std::string_view text, Diagnostics& diagnostics) {
  scan_text(text, kMaxFileBytes, kMaxNesting, diagnostics);
  TextStream stream(text, diagnostics);
  std::istream in(&stream);
  TreeBuilder builder(diagnostics, stream);
  try {
    YAML::Parser parser(in);
    while (parser.HandleNextDocument(builder)) {
    }
  } catch (const YAML::Exception& problem) {
    const Mark mark = problem.mark.is_null() ? Mark{} : from_yaml(problem.mark);
    const std::string_view why = problem.msg;
    if (why.substr(0, std::string_view(YAML::ErrorMsg::UNKNOWN_ANCHOR).size()) ==
        YAML::ErrorMsg::UNKNOWN_ANCHOR) {  // a name such as *RESET, without quotes
      refuse(diagnostics, mark, kAlias);
    }
    refuse(diagnostics, mark,
           fmt::format("this is not YAML: {}; look at the brackets, quotes and indentation before "
                       "this place",
                       why));
  }
  return builder.take_root();
}

void expect_format(const YamlNode& root, std::string_view kind, const Diagnostics& diagnostics) {
  const bool has_line = root.kind == YamlNode::Kind::map && !root.entries.empty() &&
                        root.entries.front().key.scalar == "padwalk" &&
                        root.entries.front().value.kind == YamlNode::Kind::scalar;
  if (!has_line) {
    refuse(diagnostics, {1, 1},
           fmt::format("this is not a padwalk file; expected \"padwalk: {}\" as its first line",
                       kind));
  }
  const YamlNode& found = root.entries.front().value;
  if (found.scalar == kind) {
    return;
  }
  const std::string_view name = kind.substr(0, kind.find('/') + 1);
  if (std::string_view(found.scalar).substr(0, name.size()) == name) {
    refuse(diagnostics, found.mark,
           fmt::format("this file is {}, which this program does not know; expected {}",
                       found.scalar, kind));
  }
  refuse(diagnostics, found.mark, fmt::format("this file is {}; expected {}", found.scalar, kind));
}

}  // namespace padwalk::graph
