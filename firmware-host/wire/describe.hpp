// SPDX-License-Identifier: MIT
//
// The table of all messages as text, for PROTOCOL.md. Not for firmware: the names take memory.
#pragma once

#include <stddef.h>
#include <stdint.h>

#include "firmware-host/wire/messages.hpp"
#include "firmware-host/wire/program.hpp"

namespace padwalk {
namespace wire {
namespace detail {

/// Hands the rows of the message table, as text, to a `put(const char*)`.
template <class Put>
class Describer {
 public:
  explicit Describer(Put& put) : put_(put) {}
  template <class T>
  void number(const char* name, T&, uint32_t low, uint32_t high, const char* meaning) {
    static const char* const kTypes[] = {"", "u8", "u16", "", "u32"};
    row(name, kTypes[sizeof(T)], meaning, true, low, high);
  }
  template <class E>
  void choice(const char* name, E&, E last, const char* meaning) {
    row(name, "u8", meaning, true, 0, static_cast<uint32_t>(last));
  }
  void code(const char* name, int32_t&, const char* meaning) {
    row(name, "i24", meaning, false, 0, 0);
  }
  template <class B>
  void bytes(const char* name, B&, const char* meaning) {
    row(name, "u8 count, bytes", meaning, true, 0, B::capacity());
  }
  template <class T>
  void text(const char* name, T&, const char* meaning) {
    row(name, "u8 count, ASCII", meaning, true, 0, T::capacity());
  }
  template <class M>
  void record() {
    M value;
    name_ = M::name();
    rows_ = 0;
    M::fields(value, *this);
    if (rows_ == 0) {
      row("", "", "", false, 0, 0);
    }
    id_ = 0;
  }
  template <class M>
  void message() {
    id_ = static_cast<uint32_t>(M::id());
    record<M>();
  }

 private:
  void put_number(uint32_t value) {
    char digits[11] = {};
    size_t at = sizeof(digits) - 1;
    do {
      digits[--at] = static_cast<char>('0' + value % 10);
      value /= 10;
    } while (value != 0);
    put_(digits + at);
  }
  void row(const char* field, const char* type, const char* meaning, bool limits, uint32_t low,
           uint32_t high) {
    put_("| ");
    if (rows_ == 0 && id_ != 0) {
      put_number(id_);
    }
    put_(" | ");
    put_(rows_ == 0 ? name_ : "");
    put_(" | ");
    put_(field);
    put_(" | ");
    put_(type);
    put_(" | ");
    if (limits) {
      put_number(low);
      put_(" to ");
      put_number(high);
    }
    put_(" | ");
    put_(meaning);
    put_(" |\n");
    ++rows_;
  }

  Put& put_;
  const char* name_ = "";
  uint32_t id_ = 0;
  size_t rows_ = 0;
};

}  // namespace detail

/// Hands the table of PROTOCOL.md, piece by piece, to `put(const char*)`.
template <class Put>
void describe(Put& put) {
  put("| id | message | field | type | legal | meaning |\n| --- | --- | --- | --- | --- | --- |\n");
  detail::Describer<Put> describer(put);
  for_each_message(describer);
  describer.template record<Result>();
  describer.template record<StepHead>();
}

}  // namespace wire
}  // namespace padwalk
