// SPDX-License-Identifier: MIT
#include <fcntl.h>
#include <grp.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <memory>
#include <string>

#include "firmware-host/transport/byte_stream.hpp"
#include "firmware-host/transport/serial_port.hpp"
#include "tests/support/port_checks.hpp"
#include "tests/support/pty_pair.hpp"

namespace transport = padwalk::transport;
using padwalk::tests::PtyPair;

namespace {

std::string refusal(const std::string& name) {
  try {
    transport::open_port(name);
  } catch (const transport::PortError& error) {
    return error.what();
  }
  return "opened";
}

/// A name of its own in the folder for temporary files, removed in the end.
struct TemporaryName {
  std::string path;
  explicit TemporaryName(const std::string& what)
      : path("/tmp/padwalk-open-port-" + std::to_string(getpid()) + "-" + what) {}
  ~TemporaryName() { std::remove(path.c_str()); }
};

/// Root may do everything, so what others may not is tried as somebody else.
struct NotRoot {
  const uid_t before = geteuid();
  NotRoot() {
    if (before == 0) {
      REQUIRE(seteuid(65534) == 0);
    }
  }
  ~NotRoot() {
    if (before == 0 && seteuid(0) != 0) {
      std::abort();
    }
  }
};

}  // namespace

TEST_CASE("each thing that is no port is named in one sentence", "[transport]") {
  const std::string list = "`padwalk ports` lists what is there";
  const TemporaryName file("file");
  std::ofstream(file.path) << "padwalk: board/1\n";
  CHECK(refusal("/dev/no-such-port") == "/dev/no-such-port: no such port; " + list);
  CHECK(refusal("/dev/pts/99999") == "/dev/pts/99999: no such port; " + list);
  CHECK(refusal("") == "(no name): no such port; " + list);
  CHECK(refusal(file.path + "/below") == file.path + "/below: no such port; " + list);
  CHECK(refusal(std::string(5000, 'x')) == std::string(5000, 'x') + ": no such port; " + list);
  CHECK(refusal("/dev") == "/dev: not a serial port but a directory; " + list);
  CHECK(refusal(file.path) == file.path + ": not a serial port but a file; " + list);
  CHECK(refusal("/dev/null") == "/dev/null: not a serial port but another device; " + list);
}

TEST_CASE("a port has one host at a time, under whatever name", "[transport]") {
  const PtyPair pty;
  const TemporaryName link("link");
  REQUIRE(symlink(pty.name().c_str(), link.path.c_str()) == 0);
  const std::string busy = ": another program holds this port; close that program and try again";
  {
    const auto first = transport::open_port(link.path);
    CHECK(first->name() == link.path);
    padwalk::tests::check_bytes(*first, pty);
    CHECK(refusal(pty.name()) == pty.name() + busy);
    CHECK(refusal(link.path) == link.path + busy);
  }
  CHECK(refusal(pty.name()) == "opened");
}

TEST_CASE("a port that another program marked as its own is busy", "[transport]") {
  const PtyPair pty;
  REQUIRE(chmod(pty.name().c_str(), 0666) == 0);
  const int other = open(pty.name().c_str(), O_RDWR | O_NOCTTY);
  REQUIRE(other >= 0);
  REQUIRE(ioctl(other, TIOCEXCL) == 0);
  {
    const NotRoot not_root;
    CHECK(refusal(pty.name()) ==
          pty.name() + ": another program holds this port; close that program and try again");
  }
  close(other);
}

TEST_CASE("a port without permission names the group to join, if one would help", "[transport]") {
  const PtyPair pty;
  struct stat status = {};
  const group* dialout = getgrnam("dialout");
  if (geteuid() == 0) {  // others have the system's group for terminals on it
    REQUIRE(dialout != nullptr);
    REQUIRE(chown(pty.name().c_str(), 0, dialout->gr_gid) == 0);
  }
  REQUIRE(chmod(pty.name().c_str(), 0060) == 0);
  REQUIRE(stat(pty.name().c_str(), &status) == 0);
  const group* owner = getgrgid(status.st_gid);
  REQUIRE(owner != nullptr);
  const std::string name = owner->gr_name;
  const NotRoot not_root;
  CHECK(refusal(pty.name()) == pty.name() +
                                   ": no permission to use this port; add yourself to the group " +
                                   name + ": sudo adduser $USER " + name + ", then log in again");
}

TEST_CASE("the list of ports names each device once, in order", "[transport]") {
  std::string before;
  for (const transport::PortInfo& port : transport::list_ports()) {
    CHECK(port.name > before);
    CHECK(port.name.rfind("/dev/", 0) == 0);
    CHECK((port.usb_ids.empty() || port.usb_ids.size() == 9));
    before = port.name;
  }
}
