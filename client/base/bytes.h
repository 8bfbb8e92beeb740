#pragma once

// The byte encoding of the folded state: one value, one form, so that equal states are equal bytes
// on every replica. Not for what is signed, which is kept as it came.
//
// Grammar: unsigned numbers are LEB128 varints in their shortest form; signed numbers are zigzag
// first; texts and lists are their length as a varint, then their elements; ids, hashes and keys
// are their bytes. (The varint and zigzag of the Protocol Buffers encoding guide.)

#include <cstdint>
#include <string>
#include <string_view>

#include "client/base/hash.h"
#include "client/base/id.h"

namespace broodpact {

// Appends values to a string.
class ByteWriter {
 public:
  // `out` outlives the writer.
  explicit ByteWriter(std::string& out) : out_(out) {}

  void Unsigned(std::uint64_t value);
  void Signed(std::int64_t value);
  void Text(std::string_view text);
  void Raw(std::string_view bytes) { out_.append(bytes); }
  template <typename Kind>
  void Name(const Id<Kind>& id) {
    Raw(ViewOf(id.bytes));
  }

 private:
  std::string& out_;
};

// Reads values back. After a value that is cut short or malformed, ok() is false for good, and all
// further values are zero or empty: check once at the end.
class ByteReader {
 public:
  // `bytes` outlives the reader and what it returns.
  explicit ByteReader(std::string_view bytes) : rest_(bytes) {}

  std::uint64_t Unsigned();
  std::int64_t Signed();
  std::string_view Text();
  std::string_view Raw(std::size_t size);
  template <typename AnyId>
  AnyId Name() {
    AnyId id;
    const std::string_view raw = Raw(id.bytes.size());
    for (std::size_t i = 0; i < raw.size(); ++i) id.bytes[i] = static_cast<std::uint8_t>(raw[i]);
    return id;
  }

  // A count of elements of at least `element_size_min` bytes each: never more than fit into what is
  // left, so that a hostile count cannot make the caller reserve memory.
  std::size_t Count(std::size_t element_size_min);

  bool ok() const { return ok_; }
  bool at_end() const { return rest_.empty(); }

  // What has not been read yet.
  std::string_view rest() const { return rest_; }

 private:
  void Fail();

  std::string_view rest_;
  bool ok_ = true;
};

}  // namespace broodpact
