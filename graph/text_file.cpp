// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <sys/stat.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>

#include "graph/yaml_reader.hpp"

namespace padwalk::graph {

namespace {

std::string cannot_open(const std::string& path, int error) {
  switch (error) {
    case ENOENT:
    case ENOTDIR:
      return fmt::format("{}: there is no such file; check the name and the folder", path);
    case EACCES:
      return fmt::format("{}: no permission to read it; ask its owner, or try chmod +r", path);
    default:
      return fmt::format("{}: it cannot be opened ({}); check the file and its disk", path,
                         std::strerror(error));
  }
}

}  // namespace

std::string read_file(const std::string& path) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"),
                                                             &std::fclose);
  if (!file) {
    throw BadFile(cannot_open(path, errno));
  }
  struct stat about {};
  if (fstat(fileno(file.get()), &about) == 0 && S_ISDIR(about.st_mode)) {
    throw BadFile(fmt::format("{}: this is a folder; name a file in it", path));
  }
  std::string text;
  std::string block(std::size_t{1} << 16, '\0');
  while (const std::size_t got = std::fread(block.data(), 1, block.size(), file.get())) {
    text.append(block, 0, got);
    if (text.size() > kMaxFileBytes) {
      throw BadFile(
          fmt::format("{}: the file has more than {} MB, which no board needs; is it the "
                      "right file?",
                      path, kMaxFileBytes >> 20));
    }
  }
  if (std::ferror(file.get()) != 0) {
    throw BadFile(fmt::format("{}: it cannot be read to its end ({}); check the file and its disk",
                              path, std::strerror(errno)));
  }
  if (text.empty()) {
    throw BadFile(fmt::format("{}: the file is empty; is it the right file?", path));
  }
  return text;
}

}  // namespace padwalk::graph
