// SPDX-License-Identifier: MIT
#include "graph/ipc356_names.hpp"

#include <fmt/format.h>

#include "graph/ipc356_records.hpp"

namespace padwalk::graph {

namespace {

constexpr std::size_t kBareAliasColumns = 5;  // some records keep columns 9 to 13 of an alias

}  // namespace

std::string ipc_text_of(std::string_view name, std::string_view what, Mark mark,
                        Diagnostics& diagnostics) {
  std::string text = printable(name);
  if (text != name) {
    diagnostics.warning(
        mark, fmt::format("{} {} holds bytes that are no text; each became ?", what, text));
  }
  return text;
}

std::string IpcNetNames::name(const IpcRecord& record) {
  const Mark mark{record.line, 4};
  const std::string own = ipc_text_of(record.net, "the name of net", mark, diagnostics_);
  if (const IpcAlias* alias = find(record.net)) {
    std::string name = ipc_text_of(alias->name, "the name of net", {alias->line, 1}, diagnostics_);
    if (used_.insert(name).second) {
      return name;
    }
    diagnostics_.warning(mark, fmt::format("another net bears \"{}\", the long name of {}; the "
                                           "short one is kept",
                                           name, own));
  } else if (record.net.rfind("NNAME", 0) == 0) {
    diagnostics_.warning(
        mark, fmt::format("the alias {} is never declared; it stays the name of its net", own));
  }
  return unlike_others(own, mark);
}

const IpcAlias* IpcNetNames::find(std::string_view net) const {
  const std::string bare = "NNAME" + std::string(net);
  for (const auto* table : {&netlist_.aliases, &netlist_.comment_aliases}) {
    auto found = table->find(net);
    if (found == table->end() && net.size() == kBareAliasColumns) {
      found = table->find(bare);
    }
    if (found != table->end()) {
      return &found->second;
    }
  }
  return nullptr;
}

std::string IpcNetNames::unlike_others(const std::string& own, Mark mark) {
  std::string name = own;
  int& count = copies_[own];
  while (!used_.insert(name).second) {
    name = fmt::format("{} ({})", own, ++count + 1);
  }
  if (name != own) {
    diagnostics_.warning(mark, fmt::format("another net is called {} too; this one is \"{}\" "
                                           "here",
                                           own, name));
  }
  return name;
}

}  // namespace padwalk::graph
