// SPDX-License-Identifier: MIT
#include "tools/options.hpp"

int main(int argc, char** argv) {
  return padwalk::tools::run(argc, argv);
}
