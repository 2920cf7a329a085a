// SPDX-License-Identifier: MIT
//
// Encode, decode and sign messages, all from the one description in messages.hpp. Not for frames
// (frame.hpp), the steps of a program (program.hpp) or the table for people (describe.hpp).
#pragma once

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "firmware-host/wire/frame.hpp"
#include "firmware-host/wire/messages.hpp"
#include "firmware-host/wire/program.hpp"

namespace padwalk {
namespace wire {
namespace detail {

/// Adds up the most bytes that a struct's fields can take.
struct Measure {
  size_t size = 0;
  template <class T>
  constexpr void number(const char*, T&, uint32_t, uint32_t, const char*) {
    size += sizeof(T);
  }
  template <class E>
  constexpr void choice(const char*, E&, E, const char*) {
    size += 1;
  }
  constexpr void code(const char*, int32_t&, const char*) { size += 3; }
  template <class B>
  constexpr void bytes(const char*, B&, const char*) {
    size += 1 + B::capacity();
  }
  template <class T>
  constexpr void text(const char*, T&, const char*) {
    size += 1 + T::capacity();
  }
};

template <class M>
constexpr size_t max_body_bytes() {
  M message;
  Measure measure;
  M::fields(message, measure);
  return measure.size;
}

class Writer {
 public:
  explicit Writer(uint8_t* out) : out_(out) {}
  template <class T>
  void number(const char*, const T& value, uint32_t, uint32_t, const char*) {
    put(value, sizeof(T));
  }
  template <class E>
  void choice(const char*, const E& value, E, const char*) {
    put(static_cast<uint8_t>(value), 1);
  }
  void code(const char*, const int32_t& value, const char*) {
    put(static_cast<uint32_t>(value), 3);
  }
  template <class B>
  void bytes(const char*, const B& value, const char*) {
    put_block(value.data, value.size < B::capacity() ? value.size : B::capacity());
  }
  template <class T>
  void text(const char*, const T& value, const char*) {
    put_block(value.data, value.size < T::capacity() ? value.size : T::capacity());
  }
  size_t size() const { return size_; }

 private:
  void put(uint32_t value, size_t width) {
    for (size_t i = 0; i < width; ++i) {
      out_[size_++] = static_cast<uint8_t>(value >> (8 * i));
    }
  }
  void put_block(const void* data, size_t count) {
    out_[size_++] = static_cast<uint8_t>(count);
    memcpy(out_ + size_, data, count);
    size_ += count;
  }

  uint8_t* out_;
  size_t size_ = 0;
};

class Reader {
 public:
  Reader(const uint8_t* bytes, size_t size) : bytes_(bytes), size_(size) {}
  template <class T>
  void number(const char*, T& value, uint32_t low, uint32_t high, const char*) {
    const uint32_t got = take(sizeof(T));
    ok_ = ok_ && got >= low && got <= high;
    value = static_cast<T>(got);
  }
  template <class E>
  void choice(const char*, E& value, E last, const char*) {
    const uint32_t got = take(1);
    ok_ = ok_ && got <= static_cast<uint32_t>(last);
    value = ok_ ? static_cast<E>(got) : E{};
  }
  void code(const char*, int32_t& value, const char*) {
    const uint32_t got = take(3);
    value = static_cast<int32_t>(got) - ((got & 0x800000) != 0 ? 0x1000000 : 0);
  }
  template <class B>
  void bytes(const char*, B& value, const char*) {
    value.size = take_block(value.data, B::capacity());
  }
  template <class T>
  void text(const char*, T& value, const char*) {
    value.size = take_block(value.data, T::capacity());
    for (uint8_t i = 0; i < value.size; ++i) {
      ok_ = ok_ && value.data[i] >= 0x20 && value.data[i] < 0x7F;
    }
  }
  bool ok() const { return ok_; }
  size_t taken() const { return at_; }

 private:
  uint32_t take(size_t width) {
    if (size_ - at_ < width) {
      ok_ = false;
      return 0;
    }
    uint32_t value = 0;
    for (size_t i = 0; i < width; ++i) {
      value |= static_cast<uint32_t>(bytes_[at_++]) << (8 * i);
    }
    return value;
  }
  uint8_t take_block(void* data, size_t capacity) {
    const size_t count = take(1);
    if (!ok_ || count > capacity || count > size_ - at_) {
      ok_ = false;
      return 0;
    }
    memcpy(data, bytes_ + at_, count);
    at_ += count;
    return static_cast<uint8_t>(count);
  }

  const uint8_t* bytes_;
  size_t size_;
  size_t at_ = 0;
  bool ok_ = true;
};

/// FNV-1a over all that makes two tables differ; meanings may be reworded.
struct Signer {
  uint32_t hash = 2166136261u;
  constexpr void add(uint32_t value) {
    for (int i = 0; i < 4; ++i) {
      hash = (hash ^ ((value >> (8 * i)) & 0xFF)) * 16777619u;
    }
  }
  constexpr void add(const char* text) {
    for (; *text != '\0'; ++text) {
      hash = (hash ^ static_cast<uint8_t>(*text)) * 16777619u;
    }
    hash *= 16777619u;
  }
  template <class T>
  constexpr void number(const char* name, T&, uint32_t low, uint32_t high, const char*) {
    add(name);
    add(static_cast<uint32_t>(sizeof(T)));
    add(low);
    add(high);
  }
  template <class E>
  constexpr void choice(const char* name, E&, E last, const char*) {
    add(name);
    add(static_cast<uint32_t>(last));
  }
  constexpr void code(const char* name, int32_t&, const char*) { add(name); }
  template <class B>
  constexpr void bytes(const char* name, B&, const char*) {
    add(name);
    add(static_cast<uint32_t>(B::capacity()));
  }
  template <class T>
  constexpr void text(const char* name, T&, const char*) {
    add(name);
    add(static_cast<uint32_t>(T::capacity()));
  }
  template <class M>
  constexpr void record() {
    M value;
    add(M::name());
    M::fields(value, *this);
  }
  template <class M>
  constexpr void message() {
    static_assert(1 + max_body_bytes<M>() <= kMessageBytes, "a message fits into a frame");
    add(static_cast<uint32_t>(M::id()));
    record<M>();
  }
};

constexpr uint32_t sign() {
  Signer signer;
  signer.add(kVersion);
  for_each_message(signer);
  signer.record<Result>();
  signer.record<StepHead>();
  for (size_t i = 0; i < kRangeCount; ++i) {
    signer.add(kRanges[i].reference_ohm);
  }
  return signer.hash;
}

}  // namespace detail

/// Differs between any two tables of messages, ranges included. Compared at hello.
constexpr uint32_t kSignature = detail::sign();

/// Writes id and body. Shape: `out` holds kMessageBytes. Returns the length.
template <class M>
size_t encode(const M& message, uint8_t* out) {
  static_assert(1 + detail::max_body_bytes<M>() <= kMessageBytes, "a message fits into a frame");
  out[0] = static_cast<uint8_t>(M::id());
  detail::Writer writer(out + 1);
  M::fields(message, writer);
  return 1 + writer.size();
}

/// Reads a message of kind M. Errors: false if the id is another, a value is not legal, or the
/// length is not exactly right; `message` is then not to be used.
template <class M>
bool decode(const uint8_t* bytes, size_t size, M* message) {
  if (size < 1 || bytes[0] != static_cast<uint8_t>(M::id())) {
    return false;
  }
  detail::Reader reader(bytes + 1, size - 1);
  M::fields(*message, reader);
  return reader.ok() && reader.taken() == size - 1;
}

/// Writes the 9 bytes of a result.
inline void pack_result(const Result& result, uint8_t* out) {
  detail::Writer writer(out);
  Result::fields(result, writer);
}

/// Reads a result from its 9 bytes; every bit pattern is one.
inline Result unpack_result(const uint8_t* bytes) {
  Result result;
  detail::Reader reader(bytes, kResultBytes);
  Result::fields(result, reader);
  return result;
}
static_assert(detail::max_body_bytes<Result>() == kResultBytes, "kResultBytes is right");
static_assert(detail::max_body_bytes<StepHead>() == kStepHeadBytes, "kStepHeadBytes is right");

}  // namespace wire
}  // namespace padwalk
