// SPDX-License-Identifier: MIT
//
// Any padwalk YAML file as a tree that knows where each value stands and keeps duplicate keys, so
// that they can be complained about. Safe on hostile input: bytes are scanned for size, nesting
// and binary content first, then yaml-cpp's events are taken one by one; aliases are refused.
// With board_yaml the only files that know YAML.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "graph/diagnostics.hpp"

namespace padwalk::graph {

struct YamlEntry;

/// A YAML value. Shape: a tree; maps keep file order and duplicate keys.
struct YamlNode {
  enum class Kind : std::uint8_t { null, scalar, sequence, map };
  Kind kind = Kind::null;
  bool quoted = false;
  Mark mark;
  std::string scalar;
  std::vector<YamlNode> items;     ///< of a sequence
  std::vector<YamlEntry> entries;  ///< of a map

  // Defined behind YamlEntry: a vector is only made and destroyed where its element is known.
  YamlNode();
  YamlNode(const YamlNode&);
  YamlNode(YamlNode&&) noexcept;
  YamlNode& operator=(const YamlNode&);
  YamlNode& operator=(YamlNode&&) noexcept;
  ~YamlNode();

  /// The value of the first entry with that key, or nullptr.
  const YamlNode* find(std::string_view key) const;
};

struct YamlEntry {
  YamlNode key;
  YamlNode value;
};

inline YamlNode::YamlNode() = default;
inline YamlNode::YamlNode(const YamlNode&) = default;
inline YamlNode::YamlNode(YamlNode&&) noexcept = default;
inline YamlNode& YamlNode::operator=(const YamlNode&) = default;
inline YamlNode& YamlNode::operator=(YamlNode&&) noexcept = default;
inline YamlNode::~YamlNode() = default;

inline constexpr int kMaxNesting = 32;
inline constexpr std::size_t kMaxFileBytes = std::size_t{64} << 20;
inline constexpr std::size_t kMaxYamlValues = 16'000'000;

/// Reads a whole file into memory. Errors: BadFile with one sentence for a missing file, a
/// directory, an empty file, no permission, more than kMaxFileBytes.
std::string read_file(const std::string& path);

/// Parses one document. Errors: BadFile for syntax, aliases, anchors, tags, nesting, binary
/// content, several documents, more than kMaxYamlValues values; a duplicate key goes to
/// `diagnostics` with both lines, a comment that looks like a net (`#RESET: [U1.3]`) as a warning.
YamlNode parse_yaml(std::string_view text, Diagnostics& diagnostics);

/// Checks the first key of a file, `padwalk: board/1`. `kind` is "board/1". Errors: BadFile with
/// what the file is, and what was expected.
void expect_format(const YamlNode& root, std::string_view kind, const Diagnostics& diagnostics);

}  // namespace padwalk::graph
