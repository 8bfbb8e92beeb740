#pragma once

// Logs for the tests of chains and ranges: a founder and a newcomer, whose devices write in turn.

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "client/device/key.h"
#include "client/facts/range.h"

namespace broodpact::facts {

// The secret of device `number`: always the same.
device::SecretKey KeyOfDevice(std::uint8_t number);

// A moult of some animal: a statement to fill commits with.
Statement AnyMoult(std::uint32_t number);

// One who writes commits in a chain.
class Author {
 public:
  Author(std::uint8_t number, const Hash& cooperative)
      : key_(KeyOfDevice(number)), cooperative_(cooperative) {}

  // The bytes of the next commit of the chain.
  std::string Write(const std::vector<Statement>& statements);

  // The signature over the newest commit.
  Signature Sign() const { return SignCommit(key_, head_.hash); }

  const ChainHead& head() const { return head_; }
  ChainId chain() const { return {.device = DeviceOf(key_.public_key())}; }
  const PublicKey& public_key() const { return key_.public_key(); }

 private:
  device::SecretKey key_;
  Hash cooperative_;
  ChainHead head_;
};

// A log to spoil: what arrived, commit by commit. Arrival times are 1000, 1001 and so on.
struct TrialLog {
  Hash cooperative{};
  std::vector<std::string> commits;
  std::vector<std::optional<Signature>> signatures;

  // The records of arrivals `first` (from 1) to the end.
  std::string Records(std::size_t first = 1) const;
};

// A founding by device 1, a joining of device 2, and `rest` moults by 1 and 2 in turn. Every commit
// is signed.
TrialLog LogOfTwo(std::size_t rest);

}  // namespace broodpact::facts
