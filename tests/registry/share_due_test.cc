// Goal: what is undivided is always due to somebody, whoever gave up, passed on or has had too
// much. Method: examples on paper, and laws over clutches made at random.

#include "client/registry/share_due.h"

#include <numeric>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

Clutch ClutchOf(std::uint32_t undivided, std::vector<PartyShare> parties) {
  Clutch clutch;
  clutch.accounts.undivided = undivided;
  std::uint32_t number = 1;
  for (PartyShare& share : parties) {
    share.party = Numbered<KeeperId>(number++);
    share.receiver = share.party;
  }
  clutch.parties = std::move(parties);
  return clutch;
}

using Numbers = std::vector<std::uint32_t>;

TEST(SharesDue, OfAFirstSplitAreWhatTheTermsSay) {
  EXPECT_EQ(SharesDue(ClutchOf(81, {{}, {}}), Numbers{41, 40}, Numbers{1, 1}), (Numbers{41, 40}));
}

TEST(SharesDue, OfLaterSlingsAreWhatIsStillMissing) {
  // 81 were shared 41 and 40; 4 hatched late, and of 85 the terms give 43 and 42.
  const Clutch clutch = ClutchOf(4, {{.credited = 41}, {.credited = 40}});
  EXPECT_EQ(SlingsToShare(clutch), 85U);
  EXPECT_EQ(SharesDue(clutch, Numbers{43, 42}, Numbers{1, 1}), (Numbers{2, 2}));
}

TEST(SharesDue, OfWhoGaveUpGoToTheRestByTheirWeights) {
  // 80 by 2 : 1 : 1 are 40, 20, 20; the last gives up, and 20 are shared 2 : 1.
  const Clutch clutch = ClutchOf(80, {{}, {}, {.waived = true}});
  EXPECT_EQ(SharesDue(clutch, Numbers{40, 20, 20}, Numbers{2, 1, 1}), (Numbers{53, 27, 0}));
}

TEST(SharesDue, OfWhoGaveUpLaterAreWhatItHasNotHad) {
  // It had 20 and gave 5 back: it keeps 15, and the 5 go to the other.
  const Clutch clutch = ClutchOf(5, {{.credited = 20}, {.credited = 15, .waived = true}});
  EXPECT_EQ(SharesDue(clutch, Numbers{20, 20}, Numbers{1, 1}), (Numbers{5, 0}));
}

TEST(SharesDue, WithoutWeightsGoToTheFirstOfTheRest) {
  const Clutch clutch = ClutchOf(10, {{.waived = true}, {}, {}});
  EXPECT_EQ(SharesDue(clutch, Numbers{10, 0, 0}, Numbers{0, 0, 0}), (Numbers{0, 10, 0}));
}

TEST(SharesDue, TakeFromTheLastWhereSomebodyHadTooMuch) {
  const Clutch clutch = ClutchOf(4, {{.credited = 10}, {.credited = 2}, {.credited = 2}});
  // Of 18 the terms give 6 each; the first had 10, so 8 are due and 4 are there.
  EXPECT_EQ(SharesDue(clutch, Numbers{6, 6, 6}, Numbers{1, 1, 1}), (Numbers{0, 4, 0}));
}

RC_GTEST_PROP(SharesDue, AddUpToWhatIsUndivided, ()) {
  std::vector<PartyShare> parties(*rc::gen::inRange<std::size_t>(1, 6));
  Numbers by_terms(parties.size());
  Numbers weights(parties.size());
  std::uint32_t credited = 0;
  for (std::size_t i = 0; i < parties.size(); ++i) {
    parties[i].credited = *rc::gen::inRange<std::uint32_t>(0, 12);
    parties[i].waived = i > 0 && *rc::gen::arbitrary<bool>();
    weights[i] = *rc::gen::inRange<std::uint32_t>(0, 4);
    credited += parties[i].credited;
  }
  const auto undivided = *rc::gen::inRange<std::uint32_t>(0, 30);
  std::uint32_t left = credited + undivided;
  for (std::size_t i = 0; i + 1 < parties.size(); ++i) {
    by_terms[i] = *rc::gen::inRange<std::uint32_t>(0, left + 1);
    left -= by_terms[i];
  }
  by_terms.back() = left;
  const Clutch clutch = ClutchOf(undivided, parties);
  const Numbers due = SharesDue(clutch, by_terms, weights);
  RC_ASSERT(std::accumulate(due.begin(), due.end(), 0U) == undivided);
  for (std::size_t i = 0; i < due.size(); ++i) RC_ASSERT(!parties[i].waived || due[i] == 0);
}

}  // namespace
}  // namespace broodpact::registry
