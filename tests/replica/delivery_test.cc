// Goal: what waits of several devices is delivered in the order in which it is folded, as whole
// runs. Method: commits of made-up devices, signed or not, and what the parts hold.

#include "client/replica/internal/delivery.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>

#include "client/facts/arrival.h"
#include "client/facts/commit.h"

namespace broodpact::replica {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

enum class Signing { kSigned, kByTheNext };

// A commit that waits. Its bytes are its name: nothing here reads them.
Replica::Undelivered Waiting(std::uint8_t device, std::uint64_t seq, Signing signing) {
  Replica::Undelivered one;
  one.commit.header.device = DeviceId{{device}};
  one.commit.header.seq = seq;
  one.signed_commit.bytes = std::to_string(device) + "/" + std::to_string(seq);
  if (signing == Signing::kSigned) one.signed_commit.signature[0] = 1;
  return one;
}

// The commits of all parts, those that end a run with a mark.
std::vector<std::string> NamesIn(const std::vector<sync::LogPart>& parts) {
  std::vector<std::string> names;
  for (const sync::LogPart& part : parts) {
    facts::ArrivalReader reader(part.records);
    while (!reader.at_end()) {
      const auto view = reader.Next();
      if (!view.ok()) return {"malformed"};
      names.push_back(std::string(view->commit) + (view->signature ? "." : ""));
    }
  }
  return names;
}

TEST(PartsOf, KeepTheOrderAmongDevices) {
  EXPECT_THAT(NamesIn(PartsOf({Waiting(1, 1, Signing::kSigned), Waiting(2, 1, Signing::kSigned),
                               Waiting(1, 2, Signing::kSigned), Waiting(2, 2, Signing::kSigned)})),
              ElementsAre("1/1.", "2/1.", "1/2.", "2/2."));
}

TEST(PartsOf, KeepARunTogetherThatItsEndVouchesFor) {
  EXPECT_THAT(NamesIn(PartsOf({Waiting(1, 1, Signing::kByTheNext), Waiting(2, 1, Signing::kSigned),
                               Waiting(1, 2, Signing::kSigned)})),
              ElementsAre("1/1", "1/2.", "2/1."));
}

TEST(PartsOf, LeaveOutWhatNothingVouchesFor) {
  EXPECT_THAT(NamesIn(PartsOf({Waiting(1, 1, Signing::kSigned), Waiting(2, 1, Signing::kByTheNext),
                               Waiting(1, 2, Signing::kSigned)})),
              ElementsAre("1/1.", "1/2."));
  EXPECT_THAT(PartsOf({Waiting(2, 1, Signing::kByTheNext)}), IsEmpty());
}

TEST(PartsOf, AreAsLargeAsAChunkAndEndWithARun) {
  std::vector<Replica::Undelivered> waiting;
  for (std::uint64_t seq = 1; seq <= 20; ++seq) {
    waiting.push_back(Waiting(1, seq, seq % 2 == 0 ? Signing::kSigned : Signing::kByTheNext));
    waiting.back().signed_commit.bytes.resize(50'000, ' ');
  }
  const std::vector<sync::LogPart> parts = PartsOf(waiting);
  ASSERT_EQ(parts.size(), 4U);
  for (const sync::LogPart& part : parts) {
    EXPECT_EQ(NamesIn({part}).back().back(), '.');
    EXPECT_LT(part.records.size(), 400'000U);
  }
}

}  // namespace
}  // namespace broodpact::replica
