#pragma once

// What people disagree about, and how it is settled. Part of subject.h.
//
// Order of members is the order of the encoding (encode.h).

#include <cstdint>
#include <string>
#include <vector>

#include "client/facts/statement.h"
#include "client/registry/member.h"

namespace broodpact::registry {

enum class ClashState : std::uint8_t { kOpen = 1, kSettled = 2, kWithdrawn = 3 };

// A settlement as it was proposed, with who has signed it.
struct SettlementRecord {
  Token token{};
  std::string words{};
  Token count_token{};  // the count that is to stand
  std::vector<facts::SplitShare> shares{};
  std::vector<facts::LotMove> moves{};
  std::vector<SignatureRecord> signatures{};
  Entry entry{};

  friend bool operator==(const SettlementRecord&, const SettlementRecord&) = default;
};

// Two statements that cannot both stand, or a promise that a fact broke.
struct Clash {
  static constexpr Kind kKind = Kind::kClash;
  ClashId id{};  // first half of SHA-256(hash of the commit that brought it, "clash", subject)
  Kind subject_kind = Kind::kAnimal;
  IdBytes subject{};
  std::string reason{};   // as in the verdict
  std::string message{};  // one sentence
  std::vector<KeeperId> parties{};
  Hash loser_commit{};               // zeros for a broken promise: only its arrival is known
  std::uint64_t loser_arrival = 0;   // 0: provisional
  std::uint64_t winner_arrival = 0;  // 0: provisional
  ClashState state = ClashState::kOpen;
  Token count_token{};  // the rival count, or the count that is objected to
  std::vector<SettlementRecord> settlements{};
  std::string outcome{};  // the words by which it ended
  Entry ended{};          // by whom it was settled or withdrawn
  Entry entry{};

  friend bool operator==(const Clash&, const Clash&) = default;
};

}  // namespace broodpact::registry
