// Goal: what a server says of its losses is believed only as it signed it, and means what it says.
// Method: epochs signed by a key of the test, whole and spoiled.

#include "client/sync/epoch.h"

#include <gtest/gtest.h>

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/status.h"
#include "client/device/key.h"

namespace broodpact::sync {
namespace {

const Hash kCooperative = Sha256("the cellar cooperative");

const device::SecretKey& LogKey() {
  static const device::SecretKey key = device::SecretKey::OfSeed(std::string(32, 's'));
  return key;
}

Epoch EpochNumber(std::uint32_t number, std::uint64_t common, std::uint64_t lost) {
  return SignEpoch(LogKey(), kCooperative,
                   {.epoch = number,
                    .common = {.arrivals = common, .log_hash = Sha256("log")},
                    .lost_arrivals = lost,
                    .time_ms = 1'795'597'200'000});
}

facts::HeadClaim HeadAt(std::uint32_t epoch, std::uint64_t arrivals) {
  return {.epoch = epoch, .point = {.arrivals = arrivals}};
}

v1::Welcome Told(const Epochs& epochs) {
  v1::Welcome message;
  Write(epochs, *message.mutable_epochs());
  return message;
}

TEST(Epoch, IsSignedOverBytesThatTheContractNames) {
  // Written out from EpochStart in sync_service.proto, field by field.
  std::string expected = "broodpact epoch v1";
  expected.push_back('\0');
  expected.append(ViewOf(kCooperative));
  expected.append(std::string("\0\0\0\2", 4));
  expected.append(std::string("\0\0\0\0\0\0\1\4", 8));
  expected.append(ViewOf(Sha256("log")));
  expected.append(std::string("\0\0\0\0\0\0\1\5", 8));
  expected.append(std::string("\0\0\0\0\0\0\0\7", 8));
  EXPECT_EQ(
      facts::EpochMessage(kCooperative, {.epoch = 2,
                                         .common = {.arrivals = 260, .log_hash = Sha256("log")},
                                         .lost_arrivals = 261,
                                         .time_ms = 7}),
      expected);
}

TEST(Epoch, IsReadAsItWasWritten) {
  const Epochs epochs = {EpochNumber(2, 10, 20), EpochNumber(3, 15, 40)};
  const auto read = ReadEpochs(Told(epochs).epochs(), kCooperative);
  ASSERT_TRUE(read.ok()) << read.status();
  EXPECT_EQ(*read, epochs);
  EXPECT_EQ(DecodeEpochs(EncodeEpochs(epochs)), epochs);
}

TEST(Epoch, IsNotBelievedWhereAnyFieldIsAnother) {
  const v1::Welcome told = Told({EpochNumber(2, 10, 20)});
  const auto spoiled = [&](auto&& spoil) {
    v1::Welcome other = told;
    spoil(*other.mutable_epochs(0));
    return ReasonOf(ReadEpochs(other.epochs(), kCooperative).status());
  };
  const std::string kBad = "EPOCH_SIGNATURE_BAD";
  EXPECT_EQ(spoiled([](v1::EpochStart& one) { one.set_epoch(3); }), kBad);
  EXPECT_EQ(spoiled([](v1::EpochStart& one) { one.set_common_arrivals(9); }), kBad);
  EXPECT_EQ(spoiled([](v1::EpochStart& one) { one.set_common_log_hash(std::string(32, 'x')); }),
            kBad);
  EXPECT_EQ(spoiled([](v1::EpochStart& one) { one.set_lost_arrivals(21); }), kBad);
  EXPECT_EQ(spoiled([](v1::EpochStart& one) { one.set_time_ms(0); }), kBad);
  EXPECT_EQ(spoiled([](v1::EpochStart& one) { one.set_signature("short"); }), kBad);
  EXPECT_EQ(ReasonOf(ReadEpochs(told.epochs(), Sha256("another")).status()), kBad);
}

TEST(Epoch, IsNotBelievedOutOfOrderNorInNumbers) {
  EXPECT_FALSE(
      ReadEpochs(Told({EpochNumber(3, 1, 2), EpochNumber(2, 1, 2)}).epochs(), kCooperative).ok());
  EXPECT_FALSE(ReadEpochs(Told({EpochNumber(1, 1, 2)}).epochs(), kCooperative).ok());
  const Epochs many(kEpochsMax + 1, EpochNumber(2, 1, 2));
  EXPECT_FALSE(ReadEpochs(Told(many).epochs(), kCooperative).ok());
}

TEST(Epoch, VoidsEarlierHeadsBeyondTheCommonPlaceAlone) {
  const Epochs epochs = {EpochNumber(2, 10, 20)};
  EXPECT_FALSE(IsVoid(epochs, HeadAt(1, 10)));
  EXPECT_TRUE(IsVoid(epochs, HeadAt(1, 11)));
  EXPECT_TRUE(IsVoid(epochs, HeadAt(1, 30)));
  EXPECT_FALSE(IsVoid(epochs, HeadAt(2, 30)));
  // Told lost is no more than the server has said.
  EXPECT_TRUE(IsToldLost(epochs, HeadAt(1, 20)));
  EXPECT_FALSE(IsToldLost(epochs, HeadAt(1, 21)));
  EXPECT_FALSE(MayBeLost(epochs, 10));
  EXPECT_TRUE(MayBeLost(epochs, 11));
  EXPECT_FALSE(MayBeLost(epochs, 21));
}

TEST(Epochs, AreJoinedEachOnceAndInOrder) {
  const Epochs first = {EpochNumber(2, 10, 20), EpochNumber(4, 30, 40)};
  const Epochs second = {EpochNumber(2, 10, 20), EpochNumber(2, 11, 21), EpochNumber(3, 25, 26)};
  const Epochs all = Joined(first, second);
  ASSERT_EQ(all.size(), 4U);
  EXPECT_EQ(all, Joined(second, first).size() == 4 ? all : Epochs());
  for (std::size_t i = 1; i < all.size(); ++i) EXPECT_LE(all[i - 1].epoch, all[i].epoch);
}

TEST(Epochs, OfDamagedBytesAreNone) {
  const std::string bytes = EncodeEpochs({EpochNumber(2, 10, 20)});
  for (std::size_t size = 1; size < bytes.size(); ++size) {
    EXPECT_FALSE(DecodeEpochs(bytes.substr(0, size)).has_value()) << size;
  }
  EXPECT_TRUE(DecodeEpochs("")->empty());
}

}  // namespace
}  // namespace broodpact::sync
