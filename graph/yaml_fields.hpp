// SPDX-License-Identifier: MIT
//
// Typed fields out of YAML nodes: words, numbers with units, positions, lists of names. Every
// mistake becomes one complaint that names the thing, what was found and what was expected, and
// reading goes on. What the fields mean together is for the callers.
#pragma once

#include <fmt/format.h>

#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "graph/board_description.hpp"
#include "graph/values.hpp"
#include "graph/yaml_reader.hpp"

namespace padwalk::graph {

/// Reads single nodes that belong to one thing of the file, `what` ("part U2"; empty: the file).
class YamlValues {
 public:
  YamlValues(std::string what, Diagnostics& diagnostics)
      : what_(std::move(what)), diagnostics_(&diagnostics) {}

  const std::string& what() const { return what_; }
  Diagnostics& diagnostics() const { return *diagnostics_; }

  /// Complains at `node`, with the thing's name in front.
  void error(const YamlNode& node, const std::string& text) const;

  /// A name or a text, numbers included. `key` says whose value it is, for the complaint.
  std::optional<std::string> text(const YamlNode& node, std::string_view key) const;
  std::optional<double> number(const YamlNode& node, std::string_view key, double low,
                               double high) const;
  std::optional<int> whole(const YamlNode& node, std::string_view key, int low, int high) const;
  /// `example` shows how to write one: "4k7 or 4700 ohm".
  std::optional<double> value(const YamlNode& node, std::string_view key, Unit unit,
                              std::string_view example) const;
  std::optional<bool> flag(const YamlNode& node, std::string_view key) const;
  std::optional<Side> side(const YamlNode& node, std::string_view key) const;
  std::optional<Xy> xy(const YamlNode& node, std::string_view key) const;
  std::optional<Reference> reference(const YamlNode& node, std::string_view key) const;
  /// `size` 0: any.
  std::vector<Reference> references(const YamlNode& node, std::string_view key,
                                    std::size_t size = 0) const;
  std::optional<std::size_t> word_of(const YamlNode& node, std::string_view key,
                                     std::span<const std::string_view> words) const;
  template <typename Enum>
  std::optional<Enum> word(const YamlNode& node, std::string_view key) const {
    const auto found = word_of(node, key, words_of<Enum>());
    return found ? std::optional(static_cast<Enum>(*found)) : std::nullopt;
  }
  /// False, with a complaint, unless the node is a list.
  bool is_list(const YamlNode& node, std::string_view key, std::string_view example) const;

 private:
  std::string what_;
  Diagnostics* diagnostics_;
};

/// The fields of one map.
class YamlFields : public YamlValues {
 public:
  /// Complains where `node` is no map (a null is an empty one), and about keys that are not
  /// `known`.
  YamlFields(const YamlNode& node, std::string what, std::initializer_list<std::string_view> known,
             Diagnostics& diagnostics);

  const YamlNode& node() const { return node_; }
  bool has(std::string_view key) const { return node_.find(key) != nullptr; }

  /// Reads the key's value with one of YamlValues' readers into `to`; leaves `to` alone where the
  /// key is absent or its value wrong.
  template <typename To, typename Reader>
  void read(std::string_view key, To& to, Reader&& reader) const {
    if (const YamlNode* node = node_.find(key)) {
      if (auto read = reader(*node)) {
        to = std::move(*read);
      }
    }
  }
  void read_text(std::string_view key, std::string& to) const;
  void read_side(std::string_view key, Side& to) const;
  void read_xy(std::string_view key, std::optional<Xy>& to) const;
  void read_flag(std::string_view key, bool& to) const;
  /// `drive: never`, the only word there is.
  void read_drive(bool& never) const;
  template <typename To, typename Enum = To>
  void read_word(std::string_view key, To& to) const {
    read(key, to, [&](const YamlNode& node) { return word<Enum>(node, key); });
  }

 private:
  const YamlNode& node_;
};

/// Words in a row, for messages: "clip, tip, none".
template <typename Words>
std::string list_words(const Words& words) {
  return fmt::format("{}", fmt::join(words.begin(), words.end(), ", "));
}

}  // namespace padwalk::graph
