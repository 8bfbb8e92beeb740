// Goal: what a device promises offline under a lease stands, whatever another device of its keeper
// says meanwhile; and a lease ends when it should. Method: a cooperative in memory.

#include "fmt/core.h"
#include "gtest/gtest.h"

#include "tests/registry/society.h"

namespace broodpact::registry {
namespace {

// Of June 2026, in which the world's log begins on the first.
Day InJune(std::string_view day) {
  return On(fmt::format("2026-06-{}", day)).earliest;
}

class Leases : public testing::Test {
 protected:
  Leases() : field_(society_.Admit(world_.tomas, 'f')), rosa_(world_.Enter(world_.tomas, "rosa")) {}

  facts::LeaseTaking LeaseOf(const AnimalId& animal, Day until) {
    const Animal now = world_.animal(animal);
    return {.lease = world_.NewId<LeaseId>(),
            .animal = animal,
            .owner_token = now.owner_token,
            .holder_token = now.holder_token,
            .until = until};
  }
  facts::LeaseTaking LeaseOf(const LotId& lot, std::uint32_t slings, Day until) {
    return {.lease = world_.NewId<LeaseId>(), .lot = lot, .slings = slings, .until = until};
  }
  facts::Gift GiftOf(const AnimalId& animal) {
    const Animal now = world_.animal(animal);
    return {.animal = animal, .receiver = world_.bela.id, .owner_token = now.owner_token};
  }
  LotId LotOfTomas(std::uint32_t slings) {
    const ClutchId clutch = world_.Lay(world_.tomas, rosa_);
    world_.Count(world_.tomas, clutch, slings);
    return world_.ShareOut(world_.tomas, clutch);
  }
  facts::LotPassing PassingOf(const LotId& lot, std::uint32_t slings) {
    return {.lot = lot,
            .new_lot = world_.NewId<LotId>(),
            .receiver = world_.bela.id,
            .slings = slings,
            .day = On("2026-06-01")};
  }
  // As Society::Say, so many days later by the log's clock.
  std::string SayLater(const Member& member, std::vector<facts::Statement> statements, int days) {
    return world_.SayAs(member, std::move(statements), [&](facts::Arrived& arrived) {
      arrived.time_ms += std::int64_t{86'400'000} * days;
    });
  }

  // As SayLater, again after a loss: it had first arrived now.
  std::string SayAgain(const Member& member, std::vector<facts::Statement> statements, int days) {
    return world_.SayAs(member, std::move(statements), [&](facts::Arrived& arrived) {
      arrived.first_time_ms = arrived.time_ms;
      arrived.time_ms += std::int64_t{86'400'000} * days;
    });
  }

  Society society_;
  World& world_ = society_.world;
  Member field_;
  AnimalId rosa_;
};

TEST_F(Leases, KeepOtherDevicesFromSpendingAndTheVerdictNamesTheLease) {
  ASSERT_EQ(society_.Say(field_, {LeaseOf(rosa_, InJune("07"))}), "counted");
  const std::uint64_t lease = world_.arrival();
  EXPECT_EQ(society_.Say(world_.tomas, {GiftOf(rosa_)}),
            fmt::format("superseded LEASE_STANDS by {}", lease));
  EXPECT_NE(world_.verdict().message.find("lease"), std::string::npos);
  EXPECT_EQ(society_.Say(field_, {GiftOf(rosa_)}), "counted");
  const Animal given = world_.animal(rosa_);
  ASSERT_EQ(given.leases.size(), 1U) << "the ownership is spent";
  EXPECT_EQ(given.leases.front().kind, LeaseKind::kHolding);
}

TEST_F(Leases, HaveNotEndedForWhatHadArrivedWhileTheyStood) {
  ASSERT_EQ(SayAgain(field_, {LeaseOf(rosa_, InJune("07"))}, 20), "counted");
  const std::uint64_t lease = world_.arrival();
  EXPECT_EQ(SayAgain(world_.tomas, {GiftOf(rosa_)}, 20),
            fmt::format("superseded LEASE_STANDS by {}", lease));
  EXPECT_EQ(SayAgain(field_, {GiftOf(rosa_)}, 20), "counted");
}

TEST_F(Leases, AreOfWhoHasWhatIsLeasedAsItIsNow) {
  EXPECT_EQ(society_.Say(world_.bela, {LeaseOf(rosa_, InJune("07"))}), "void NOT_OWNER");
  facts::LeaseTaking stale = LeaseOf(rosa_, InJune("07"));
  stale.owner_token = Numbered<Token>(7);
  EXPECT_EQ(society_.Say(field_, {stale}).substr(0, 22), "superseded TOKEN_SPENT");
  facts::LeaseTaking holding = LeaseOf(rosa_, InJune("07"));
  holding.owner_token = {};
  EXPECT_EQ(society_.Say(world_.bela, {holding}), "void NOT_HOLDER");
}

TEST_F(Leases, AreGrantedToTheFirstToArriveAndTakenAnewByIt) {
  ASSERT_EQ(society_.Say(field_, {LeaseOf(rosa_, InJune("07"))}), "counted");
  const std::uint64_t first = world_.arrival();
  EXPECT_EQ(society_.Say(world_.tomas, {LeaseOf(rosa_, InJune("07"))}),
            fmt::format("superseded LEASE_STANDS by {}", first));
  EXPECT_EQ(society_.Say(field_, {LeaseOf(rosa_, InJune("20"))}), "counted");
  EXPECT_EQ(world_.animal(rosa_).leases.size(), 2U) << "of ownership and holding";
}

TEST_F(Leases, EndByTheLogsClock) {
  ASSERT_EQ(society_.Say(field_, {LeaseOf(rosa_, InJune("07"))}), "counted");
  EXPECT_EQ(SayLater(world_.tomas, {GiftOf(rosa_)}, 6).substr(0, 23), "superseded LEASE_STANDS");
  EXPECT_EQ(SayLater(world_.tomas, {GiftOf(rosa_)}, 7), "counted");
  EXPECT_EQ(SayLater(world_.bela, {LeaseOf(rosa_, InJune("07"))}, 8), "void NOT_HOLDER");
}

TEST_F(Leases, ThatEndedBeforeTheyArrivedOrStandTooLongAreNotGranted) {
  EXPECT_EQ(SayLater(field_, {LeaseOf(rosa_, InJune("07"))}, 7), "superseded LEASE_EXPIRED");
  EXPECT_EQ(society_.Say(field_, {LeaseOf(rosa_, On("2026-10-01").earliest)}),
            "refused LEASE_TOO_LONG");
}

TEST_F(Leases, EndWithTheirDeviceAndGoOverToAnotherKey) {
  ASSERT_EQ(society_.Say(field_, {LeaseOf(rosa_, InJune("07"))}), "counted");
  const device::SecretKey next = SeededKey('n');
  ASSERT_EQ(
      society_.Say(field_, {facts::KeyRotation{.device_key = next.public_key(),
                                               .key_signature = next.Sign(facts::RotationMessage(
                                                   world_.cooperative, field_.device))}}),
      "counted");
  const Member rotated = Society::DeviceOfKeeper(world_.tomas, 'n');
  EXPECT_EQ(society_.Say(world_.tomas, {GiftOf(rosa_)}).substr(0, 23), "superseded LEASE_STANDS");
  ASSERT_EQ(society_.Say(rotated, {society_.Group("a")}), "counted");
  ASSERT_EQ(society_.Say(world_.tomas, {society_.CutOf(rotated)}), "counted");
  EXPECT_EQ(society_.Say(world_.tomas, {GiftOf(rosa_)}), "counted");
}

TEST_F(Leases, AreReleasedByTheirDevice) {
  const facts::LeaseTaking lease = LeaseOf(rosa_, InJune("07"));
  ASSERT_EQ(society_.Say(field_, {lease}), "counted");
  const facts::LeaseRelease release{.lease = lease.lease, .animal = rosa_};
  EXPECT_EQ(society_.Say(world_.tomas, {release}), "void NOT_YOUR_LEASE");
  EXPECT_EQ(society_.Say(field_, {release}), "counted");
  EXPECT_EQ(society_.Say(field_, {release}), "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(society_.Say(world_.tomas, {GiftOf(rosa_)}), "counted");
}

TEST_F(Leases, KeepTheLenderFromPromisingByAnotherDevice) {
  const AnimalId bruno = world_.Enter(world_.tomas, "bruno", facts::Sex::kMale);
  const LoanId before =
      world_.Propose(world_.tomas, world_.AgreementOf(world_.tomas, world_.bela, bruno));
  ASSERT_EQ(society_.Say(field_, {LeaseOf(bruno, InJune("07"))}), "counted");
  EXPECT_EQ(society_
                .Say(world_.tomas,
                     {world_.ProposalOf(world_.AgreementOf(world_.tomas, world_.iva, bruno))})
                .substr(0, 23),
            "superseded LEASE_STANDS");
  EXPECT_EQ(world_.Sign(world_.bela, before).substr(0, 23), "superseded LEASE_STANDS")
      << "what was offered before the lease is not what the device promises";
  const facts::Agreement promised = world_.AgreementOf(world_.tomas, world_.iva, bruno);
  ASSERT_EQ(society_.Say(field_, {world_.ProposalOf(promised)}), "counted");
  EXPECT_EQ(world_.Sign(world_.iva, promised.loan), "counted");
  EXPECT_EQ(world_.animal(bruno).loan, promised.loan);
}

TEST_F(Leases, DoNotKeepAFactFromBeingRecorded) {
  ASSERT_EQ(society_.Say(field_, {LeaseOf(rosa_, InJune("07"))}), "counted");
  EXPECT_EQ(society_.Say(world_.tomas, {facts::Death{.animal = rosa_, .day = On("2026-05-30")}}),
            "counted");
}

TEST_F(Leases, OfSlingsLeaveTheRestToOtherDevices) {
  const LotId lot = LotOfTomas(20);
  ASSERT_EQ(society_.Say(field_, {LeaseOf(lot, 12, InJune("07"))}), "counted");
  const std::uint64_t lease = world_.arrival();
  EXPECT_EQ(society_.Say(world_.tomas, {PassingOf(lot, 9)}),
            fmt::format("superseded LEASE_STANDS by {}", lease));
  EXPECT_EQ(society_.Say(world_.tomas, {PassingOf(lot, 8)}), "counted");
  EXPECT_EQ(society_.Say(field_, {PassingOf(lot, 5)}), "counted");
  EXPECT_EQ(world_.lot(lot).leases.front().slings, 7U);
  EXPECT_EQ(society_.Say(world_.tomas, {PassingOf(lot, 1)}).substr(0, 23),
            "superseded LEASE_STANDS");
  EXPECT_EQ(society_.Say(field_, {PassingOf(lot, 7)}), "counted");
  EXPECT_TRUE(world_.lot(lot).leases.empty());
}

TEST_F(Leases, OfSlingsAreSoManyOfALotAndNoMore) {
  const LotId lot = LotOfTomas(40);
  for (std::size_t i = 0; i < kLeasesMax; ++i) {
    const Member device = society_.Admit(world_.tomas, static_cast<char>('(' + 2 * i));
    ASSERT_EQ(society_.Say(device, {LeaseOf(lot, 1, InJune("07"))}), "counted");
  }
  EXPECT_EQ(society_.Say(field_, {LeaseOf(lot, 1, InJune("07"))}), "refused TOO_MANY_RECORDS");
  EXPECT_EQ(world_.lot(lot).leases.size(), kLeasesMax);
}

TEST_F(Leases, OfSlingsAreOfTheOwnerAndWithinTheLot) {
  const LotId lot = LotOfTomas(20);
  EXPECT_EQ(society_.Say(world_.bela, {LeaseOf(lot, 1, InJune("07"))}), "void NOT_OWNER");
  EXPECT_EQ(society_.Say(field_, {LeaseOf(lot, 21, InJune("07"))}), "refused INSUFFICIENT");
  ASSERT_EQ(society_.Say(field_, {LeaseOf(lot, 15, InJune("07"))}), "counted");
  EXPECT_EQ(society_.Say(world_.tomas, {LeaseOf(lot, 6, InJune("07"))}).substr(0, 23),
            "superseded LEASE_STANDS");
  EXPECT_EQ(society_.Say(world_.tomas, {LeaseOf(lot, 5, InJune("07"))}), "counted");
}

}  // namespace
}  // namespace broodpact::registry
