#pragma once

// One hash for a whole state, so that two replicas can compare theirs.
//
// The subjects are written one after the other in key order: key (17 bytes), length of the value
// (varint), value. The bytes are cut into pieces, each ending with the subject that brings it to
// 65,536 bytes or more (the last piece may be shorter). D[0] is 32 zero bytes and
// D[i+1] = SHA-256(D[i], piece i+1); the digest is the last D. An empty state has D[0].
// Pieces, because a state can be larger than memory.
//
// Pure.

#include <cstdint>
#include <string>
#include <string_view>

#include "client/base/hash.h"

namespace broodpact::store {

class StateHasher {
 public:
  // Adds a subject: keys (registry::KeyText) in ascending order.
  void Add(std::string_view key, std::string_view value);

  std::uint64_t subjects() const { return subjects_; }

  // The digest of all that was added. Adding more after it is a mistake.
  Hash Finish();

 private:
  void HashPiece();

  Hash digest_{};
  std::string piece_;
  std::uint64_t subjects_ = 0;
};

}  // namespace broodpact::store
