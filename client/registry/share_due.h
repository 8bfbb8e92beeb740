#pragma once

// What each party is due of the slings of a clutch that are not shared out yet, after what it has
// had: the first split, and what late hatching, a recount or a share given up leave to share.
//
// The rule: the terms say what each gets of all slings, by the occasion on which the clutch is
// shared out first (OccasionOf). Who gave its share up keeps what it has had; what it would have
// been due is shared among the rest by their weights, by largest remainder, since the weights are
// the only measure that all have signed, and nobody who counts or keeps the slings gains by it.
// Each party is then due what the terms give it of all slings, less what it has had. Nobody gives
// slings back: where somebody has had more than is due, what is missing is taken from those named
// last.
//
// Owners of possible sires who are no parties have a seat behind the parties, from the first split
// that gives them slings; they have no weight of their own.
//
// Pure, and whole-number arithmetic throughout.

#include <cstdint>
#include <span>
#include <vector>

#include "client/facts/terms.h"
#include "client/registry/subject.h"
#include "client/shares/split.h"

namespace broodpact::registry {

// All slings that a clutch had or has to share: the undivided and what the parties have had.
std::uint64_t SlingsToShare(const Clutch& clutch);

// Who shares a clutch, and how many slings each is due.
struct SeatsDue {
  std::vector<PartyShare> seats{};
  std::vector<std::uint32_t> slings{};  // one a seat
};

// What is due by terms; `by_terms` is what they give of SlingsToShare, for the clutch's occasion.
// The seats are the clutch's parties in order, then keepers of `by_terms` who have none yet.
SeatsDue DueByTerms(const Clutch& clutch, const facts::Terms& terms, const shares::Split& by_terms);

// What is due where no agreement shares the clutch: all is the owner's, or whom it passed it on to.
SeatsDue DueWithoutTerms(const Clutch& clutch);

// The weights of the parties in the shares of the rest of a sac of that number, in the order of the
// terms' parties; 0 for a party without one.
std::vector<std::uint32_t> WeightsOf(const facts::Terms& terms, std::uint32_t sac_number);

// One number a party, in the order of `clutch.parties`; their sum is what is undivided, unless all
// have given up (then all are 0). `by_terms` is what the terms give each of SlingsToShare.
// `by_terms` and `weights` have as many elements as there are parties.
std::vector<std::uint32_t> SharesDue(const Clutch& clutch, std::span<const std::uint32_t> by_terms,
                                     std::span<const std::uint32_t> weights);

}  // namespace broodpact::registry
