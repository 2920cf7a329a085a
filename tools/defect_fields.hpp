// SPDX-License-Identifier: MIT
//
// Fields that several kinds of defects have in common. Used by the readers of defects/1 alone.
#pragma once

#include <initializer_list>
#include <optional>
#include <string_view>

#include "graph/yaml_fields.hpp"

namespace padwalk::tools {

inline constexpr std::string_view kNotSimulated = "is not simulated by this version; leave it out";

/// The value of a key that must be there. Errors: a complaint, and nullptr.
const graph::YamlNode* required(const graph::YamlFields& fields, std::string_view key,
                                std::string_view example);

/// The ohms under `key`, above zero; `usual` where the key is absent, which is a mistake where
/// there is no usual value. Errors: a complaint.
std::optional<double> ohm_above_0(const graph::YamlFields& fields, std::string_view key,
                                  std::optional<double> usual);

/// The seconds under `key`, which must be there, above zero. Errors: a complaint.
std::optional<double> duration(const graph::YamlFields& fields, std::string_view key,
                               std::string_view example);

/// `node` without those of `keys` that it has; each of these is complained about.
graph::YamlNode without_unsimulated(const graph::YamlNode& node, std::string_view what,
                                    std::initializer_list<std::string_view> keys,
                                    graph::Diagnostics& diagnostics);

}  // namespace padwalk::tools
