// Goal: the server has snapshots of its state where they are due, gives them to members and to
// nobody else, and keeps one word a keeper for each. Method: a real server with a short interval,
// and its members' own calls.

#include "server/snapshot_service.h"

#include <filesystem>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/replica/snapshot_root.h"
#include "client/store/state_root.h"
#include "client/sync/snapshots.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

constexpr std::uint64_t kInterval = 20;

class SnapshotServiceTest : public Cooperative {
 protected:
  SnapshotServiceTest() {
    server_.Stop();
    server_.options.snapshot_arrivals = kInterval;
    server_.options.listen = mira_.credentials().address;
    server_.Start();
    Grow(1);
  }

  // So many snapshots more, one after the other.
  void Grow(int snapshots) {
    for (int i = 0; i < snapshots; ++i) {
      mira_.CommitGroups(kInterval);
      EXPECT_TRUE(mira_.Sync().ok());
      const std::uint64_t due = mira_.point().arrivals;
      EXPECT_TRUE(Eventually([&] {
        const auto offer = Of(mira_)->Offer(due);
        return offer.ok();
      })) << due;
    }
  }

  std::unique_ptr<sync::Snapshots> Of(Member& member) { return By(member.credentials()); }

  std::unique_ptr<sync::Snapshots> By(const sync::Credentials& credentials) {
    auto snapshots =
        sync::OpenSnapshots(credentials, mira_.cooperative(), device::SystemClock().NowMillis());
    EXPECT_TRUE(snapshots.ok()) << snapshots.status();
    return *std::move(snapshots);
  }

  absl::Status Attest(Member& member, const sync::SnapshotManifest& manifest) {
    const Hash root = replica::RootOf(manifest);
    return Of(member)->Attest(
        manifest.point.arrivals, root,
        member.key().Sign(sync::AttestationMessage(manifest.cooperative, manifest.point, root)));
  }

  std::size_t Folders() const {
    const std::filesystem::directory_iterator folders(server_.options.folder / "snapshots");
    return static_cast<std::size_t>(std::distance(begin(folders), end(folders)));
  }
};

TEST_F(SnapshotServiceTest, OffersTheStateThatTheLogGives) {
  const auto offer = Of(tomas_)->Offer(0);
  ASSERT_TRUE(offer.ok()) << offer.status();
  EXPECT_EQ(offer->head.point, offer->manifest.point);
  EXPECT_EQ(offer->head.tree_root, offer->manifest.tree.Root());
  EXPECT_EQ(offer->manifest.point, mira_.point());  // a whole replica, at the same place
  EXPECT_EQ(offer->manifest.state_digest, *mira_.store().StateDigest());
  EXPECT_EQ(replica::RootOf(offer->manifest),
            store::RootOf(*store::StateOf(*mira_.store().Pin(), mira_.cooperative())));
  for (std::uint32_t i = 0; i < offer->manifest.parts.size(); ++i) {
    const auto part = Of(tomas_)->Fetch(offer->manifest, i);
    EXPECT_TRUE(part.ok() && !part->empty()) << part.status();
  }
}

TEST_F(SnapshotServiceTest, KeepsTheNewestTwoOverARestart) {
  const std::uint64_t first = mira_.point().arrivals;
  Grow(2);
  EXPECT_EQ(Folders(), 2U);
  EXPECT_EQ(ReasonOf(Of(tomas_)->Offer(first).status()), "SNAPSHOT_GONE");
  server_.Stop();
  server_.Start();
  const auto offer = Of(tomas_)->Offer(0);
  ASSERT_TRUE(offer.ok()) << offer.status();
  EXPECT_EQ(offer->manifest.point, mira_.point());
}

TEST_F(SnapshotServiceTest, ForgetsASnapshotOfAnotherLog) {
  server_.Stop();
  const std::filesystem::path folder = server_.options.folder / "snapshots";
  const std::string name = std::to_string(mira_.point().arrivals);
  std::filesystem::rename(folder / name, folder / "new");  // as one that was cut off
  server_.Start();
  EXPECT_EQ(ReasonOf(Of(tomas_)->Offer(0).status()), "SNAPSHOT_NONE");
  EXPECT_EQ(Folders(), 0U);
}

TEST_F(SnapshotServiceTest, KeepsTheWordOfADeviceOnceAndOnlyItsOwn) {
  const auto offer = Of(tomas_)->Offer(0);
  ASSERT_TRUE(offer.ok());
  EXPECT_TRUE(Attest(tomas_, offer->manifest).ok());
  EXPECT_TRUE(Attest(tomas_, offer->manifest).ok());
  // Of another device, of another root, of no snapshot.
  const Hash root = replica::RootOf(offer->manifest);
  const std::string message =
      sync::AttestationMessage(mira_.cooperative(), offer->manifest.point, root);
  const std::uint64_t place = offer->manifest.point.arrivals;
  EXPECT_EQ(ReasonOf(Of(mira_)->Attest(place, root, tomas_.key().Sign(message))),
            "ATTESTATION_SIGNATURE_BAD");
  EXPECT_EQ(ReasonOf(Of(mira_)->Attest(place, Hash{1}, mira_.key().Sign(message))), "ROOT_OTHER");
  EXPECT_EQ(ReasonOf(Of(mira_)->Attest(place + 1, root, mira_.key().Sign(message))),
            "SNAPSHOT_GONE");
  server_.Stop();
  server_.Start();
  const auto again = Of(tomas_)->Offer(0);
  ASSERT_TRUE(again.ok());
  ASSERT_EQ(again->attestations.size(), 1U);
  EXPECT_EQ(again->attestations.front().device, tomas_.chain().device);
}

TEST_F(SnapshotServiceTest, KeepsOneWordAKeeperTheNewest) {
  const FurtherDevice field = EnterFurtherDevice(tomas_);
  const auto offer = Of(tomas_)->Offer(0);
  ASSERT_TRUE(offer.ok());
  EXPECT_TRUE(Attest(mira_, offer->manifest).ok());
  EXPECT_TRUE(Attest(tomas_, offer->manifest).ok());
  const Hash root = replica::RootOf(offer->manifest);
  EXPECT_TRUE(By(field.credentials)
                  ->Attest(offer->manifest.point.arrivals, root,
                           field.key.Sign(sync::AttestationMessage(mira_.cooperative(),
                                                                   offer->manifest.point, root)))
                  .ok());
  const auto attested = Of(tomas_)->Offer(0);
  ASSERT_TRUE(attested.ok());
  ASSERT_EQ(attested->attestations.size(), 2U);
  EXPECT_EQ(attested->attestations.front().device, mira_.chain().device);
  EXPECT_EQ(attested->attestations.back().device, DeviceOf(field.key.public_key()));
}

TEST_F(SnapshotServiceTest, PrefersOneThatEnoughKeepersAttest) {
  Member iva("iva");
  ASSERT_TRUE(iva.Join(Invite()).ok());
  Grow(1);
  const std::uint64_t attested = mira_.point().arrivals;
  const auto offer = Of(tomas_)->Offer(attested);
  ASSERT_TRUE(offer.ok());
  for (Member* member : {&mira_, &tomas_, &iva}) {
    EXPECT_TRUE(Attest(*member, offer->manifest).ok());
  }
  Grow(1);
  EXPECT_EQ(Of(tomas_)->Offer(0)->manifest.point.arrivals, attested);
}

TEST_F(SnapshotServiceTest, RefusesWhoIsNoMemberAndWhatIsNotThere) {
  const auto offer = Of(tomas_)->Offer(0);
  ASSERT_TRUE(offer.ok());
  sync::Credentials none = tomas_.credentials();
  none.certificate_pem.clear();
  none.key_pem.clear();
  const auto stranger =
      sync::OpenSnapshots(none, mira_.cooperative(), device::SystemClock().NowMillis());
  ASSERT_TRUE(stranger.ok());
  EXPECT_EQ(ReasonOf((*stranger)->Offer(0).status()), "NO_CERTIFICATE");
  EXPECT_EQ(ReasonOf((*stranger)->Fetch(offer->manifest, 0).status()), "NO_CERTIFICATE");
  sync::SnapshotManifest longer = offer->manifest;
  longer.parts.front().packed_bytes += 1;
  EXPECT_EQ(ReasonOf(Of(tomas_)->Fetch(longer, 0).status()), "SLICE_RANGE");
  longer.parts.resize(longer.parts.size() + 1, {.kind = sync::PartKind::kState, .packed_bytes = 1});
  EXPECT_EQ(
      ReasonOf(
          Of(tomas_)->Fetch(longer, static_cast<std::uint32_t>(longer.parts.size() - 1)).status()),
      "SLICE_RANGE");
}

}  // namespace
}  // namespace broodpact::server
