// Goal: a sealed text opens for those it was sealed to, at its place, unchanged, and not otherwise.
// Method: envelopes of a second implementation, laws, every flipped byte, and hostile bytes.

#include "client/device/seal.h"

#include <algorithm>
#include <deque>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/bytes.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/internal/envelope.h"
#include "tests/base/published.h"

namespace broodpact::device {
namespace {

// The same bytes each time that it is made: SHA-256 of the number of the draw.
class FixedRandom final : public Randomness {
 public:
  explicit FixedRandom(std::string name = "draw") : name_(std::move(name)) {}
  std::string Bytes(std::size_t size) override {
    return std::string(ViewOf(Sha256(fmt::format("{} {}", name_, draws_++)))).substr(0, size);
  }

 private:
  std::string name_;
  int draws_ = 0;
};

// The bytes that a published case names, one draw after the other.
class Given final : public Randomness {
 public:
  explicit Given(const nlohmann::json& draws) {
    for (const auto& each : draws) draws_.push_back(HexToBytes(each.get<std::string>()).value());
  }
  std::string Bytes(std::size_t size) override {
    BP_CHECK(!draws_.empty() && draws_.front().size() == size);
    std::string bytes = draws_.front();
    draws_.pop_front();
    return bytes;
  }

 private:
  std::deque<std::string> draws_;
};

SealingKey KeyOf(int number) {
  return SealingKey(
      SecretBytes::OfBytes(ViewOf(Sha256(fmt::format("recipient {}", number)))).value());
}

std::vector<SealingPublicKey> KeysOf(int first, int count) {
  std::vector<SealingPublicKey> keys;
  for (int i = first; i < first + count; ++i) keys.push_back(KeyOf(i).public_key());
  return keys;
}

SealedPlace Place() {
  return {.cooperative = Sha256("cooperative"),
          .subject = FirstHalf<AnimalId>(Sha256("subject")).bytes,
          .field = "locality"};
}

constexpr const char* kText = "Sierra de Manantlan, behind the third gate";

// kText, sealed to recipients 0 .. count - 1.
std::string SealedTo(int count) {
  FixedRandom randomness;
  return Seal(kText, Place(), KeysOf(0, count), randomness).value();
}

std::string ReasonOfOpening(std::string_view sealed, const SealingKey& key,
                            const SealedPlace& place = Place()) {
  return ReasonOf(OpenSealed(sealed, place, key).status());
}

// Source: a second implementation, in another language and by another library; see the file.
TEST(Seal, IsThatOfTheSecondImplementation) {
  for (const auto& each : PublishedCases("crypto/seal_v1.json")) {
    const SealedPlace place{.cooperative = HashOfBytes(BytesAt(each, "cooperative")).value(),
                            .subject = IdOfBytes(BytesAt(each, "subject")).value(),
                            .field = TextAt(each, "field")};
    std::vector<SealingPublicKey> recipients;
    for (const auto& secret : each.at("secrets")) {
      const std::string bytes = HexToBytes(secret.get<std::string>()).value();
      const SealingKey key(SecretBytes::OfBytes(bytes).value());
      EXPECT_EQ(OpenSealed(BytesAt(each, "sealed"), place, key).value(), BytesAt(each, "text"));
      recipients.push_back(key.public_key());
    }
    Given draws(each.at("draws"));
    const auto sealed = Seal(BytesAt(each, "text"), place, recipients, draws);
    ASSERT_TRUE(sealed.ok()) << sealed.status();
    EXPECT_EQ(BytesToHex(*sealed), TextAt(each, "sealed")) << TextAt(each, "name");
  }
}

RC_GTEST_PROP(Seal, OpensForEachRecipientAndNobodyElse, ()) {
  const auto count = *rc::gen::inRange(1, 6);
  const auto text = *rc::gen::container<std::string>(rc::gen::inRange<char>(' ', '~'));
  RC_PRE(text.size() <= kSealedTextBytesMax);
  FixedRandom randomness(*rc::gen::arbitrary<std::string>());
  const std::string sealed = Seal(text, Place(), KeysOf(0, count), randomness).value();
  for (int i = 0; i < count; ++i) RC_ASSERT(OpenSealed(sealed, Place(), KeyOf(i)).value() == text);
  RC_ASSERT(ReasonOfOpening(sealed, KeyOf(count)) == "NOT_RECIPIENT");
}

// A stranger who puts his own id in the place of a recipient's gets no further.
TEST(Seal, DoesNotOpenForAStrangerWhoTakesAPlace) {
  const SealingKey stranger = KeyOf(9);
  Envelope envelope = ParseEnvelope(SealedTo(1)).value();
  envelope.wraps.front().recipient = stranger.id();
  EXPECT_EQ(ReasonOfOpening(EncodeEnvelope(envelope), stranger), "SEAL_BROKEN");
}

TEST(Seal, IsAnotherEachTime) {
  const auto one = Seal(kText, Place(), KeysOf(0, 1), SystemRandomness()).value();
  const auto other = Seal(kText, Place(), KeysOf(0, 1), SystemRandomness()).value();
  const Envelope a = ParseEnvelope(one).value();
  const Envelope b = ParseEnvelope(other).value();
  EXPECT_NE(a.text, b.text);
  EXPECT_NE(a.wraps.front().ephemeral, b.wraps.front().ephemeral);
  EXPECT_NE(a.wraps.front().content, b.wraps.front().content);
}

TEST(Seal, FailsToOpenWithAnyFlippedBit) {
  const std::string sealed = SealedTo(3);
  const SealingKey key = KeyOf(1);
  ASSERT_EQ(ReasonOfOpening(sealed, key), "");
  for (std::size_t bit = 0; bit < sealed.size() * 8; ++bit) {
    std::string flipped = sealed;
    flipped[bit / 8] = static_cast<char>(flipped[bit / 8] ^ (1 << (bit % 8)));
    const absl::Status status = OpenSealed(flipped, Place(), key).status();
    const std::string reason = ReasonOf(status);
    ASSERT_TRUE(reason == "SEAL_BROKEN" || reason == "SEAL_FORM" || reason == "SEAL_NEWER" ||
                reason == "NOT_RECIPIENT")
        << bit << ": " << status;
    if (bit % 8 != 0) continue;
    ASSERT_FALSE(SealFurther(flipped, Place(), key, KeysOf(3, 1), SystemRandomness()).ok()) << bit;
  }
}

TEST(Seal, FailsToOpenCutShortOrWithMoreBehind) {
  const std::string sealed = SealedTo(2);
  for (std::size_t size = 0; size < sealed.size(); ++size) {
    ASSERT_EQ(ReasonOfOpening(sealed.substr(0, size), KeyOf(0)), "SEAL_FORM") << size;
  }
  EXPECT_EQ(ReasonOfOpening(sealed + '\0', KeyOf(0)), "SEAL_FORM");
}

TEST(Seal, OpensAtItsPlaceOnly) {
  const std::string sealed = SealedTo(1);
  SealedPlace place = Place();
  place.cooperative[31] ^= 1;
  EXPECT_EQ(ReasonOfOpening(sealed, KeyOf(0), place), "SEAL_BROKEN");
  place = Place();
  place.subject[0] ^= 1;
  EXPECT_EQ(ReasonOfOpening(sealed, KeyOf(0), place), "SEAL_BROKEN");
  place = Place();
  place.field = "price";
  EXPECT_EQ(ReasonOfOpening(sealed, KeyOf(0), place), "SEAL_BROKEN");
}

TEST(Seal, IsPassedOnByOneWhoCanOpenIt) {
  const std::string sealed = SealedTo(2);
  FixedRandom randomness("further");
  const auto wider = SealFurther(sealed, Place(), KeyOf(1), KeysOf(1, 3), randomness);
  ASSERT_TRUE(wider.ok()) << wider.status();
  for (int i = 0; i < 4; ++i) EXPECT_EQ(OpenSealed(*wider, Place(), KeyOf(i)).value(), kText);
  EXPECT_EQ(ReasonOfOpening(*wider, KeyOf(4)), "NOT_RECIPIENT");
  EXPECT_EQ(RecipientsOf(*wider).value().size(), 4U);

  // The text and what the others have stay as they were; once more changes nothing.
  EXPECT_EQ(ParseEnvelope(*wider).value().text, ParseEnvelope(sealed).value().text);
  EXPECT_EQ(SealFurther(*wider, Place(), KeyOf(3), KeysOf(0, 4), randomness).value(), *wider);
}

TEST(Seal, IsPassedOnByNobodyElse) {
  const std::string sealed = SealedTo(2);
  const auto reason = [&sealed](int own, const SealedPlace& place) {
    return ReasonOf(
        SealFurther(sealed, place, KeyOf(own), KeysOf(3, 1), SystemRandomness()).status());
  };
  EXPECT_EQ(reason(3, Place()), "NOT_RECIPIENT");
  SealedPlace elsewhere = Place();
  elsewhere.field = "price";
  EXPECT_EQ(reason(0, elsewhere), "SEAL_BROKEN");

  // One who may not read takes a reader off the list: the others notice.
  Envelope envelope = ParseEnvelope(SealedTo(3)).value();
  const auto other = std::ranges::find(envelope.wraps, KeyOf(2).id(), &Wrap::recipient);
  envelope.wraps.erase(other);
  EXPECT_EQ(ReasonOfOpening(EncodeEnvelope(envelope), KeyOf(0)), "SEAL_BROKEN");
}

TEST(Seal, TellsLittleOfTheLengthOfItsText) {
  std::vector<std::size_t> sizes;
  for (std::size_t size = 0; size <= kSealedTextBytesMax; ++size) {
    const std::string padded = Pad(std::string(size, 'x'));
    ASSERT_EQ(Unpad(padded), std::string(size, 'x'));
    if (sizes.empty() || sizes.back() != padded.size()) sizes.push_back(padded.size());
  }
  EXPECT_EQ(sizes, (std::vector<std::size_t>{128, 256, 512, 1'024}));
  EXPECT_EQ(Unpad(Pad("x") + std::string(128, '\0')), std::nullopt);
  EXPECT_EQ(Unpad(Pad("x").substr(0, 64)), std::nullopt);
  std::string marked = Pad("x");
  marked.back() = '1';
  EXPECT_EQ(Unpad(marked), std::nullopt);
}

TEST(Seal, IsMadeWithinItsBounds) {
  const auto reason = [](std::string_view text, const std::vector<SealingPublicKey>& recipients) {
    return ReasonOf(Seal(text, Place(), recipients, SystemRandomness()).status());
  };
  EXPECT_EQ(reason(std::string(kSealedTextBytesMax + 1, 'x'), {}), "NAME_TOO_LONG");
  EXPECT_EQ(reason("a\033[2Jb", {}), "TEXT_MALFORMED");
  EXPECT_EQ(reason("x", {}), "NO_RECIPIENTS");
  EXPECT_EQ(reason("x", std::vector<SealingPublicKey>(65)), "RECIPIENT_KEY");  // 65 times zeros
  EXPECT_EQ(reason("x", KeysOf(0, 65)), "TOO_MANY_RECIPIENTS");
  std::vector<SealingPublicKey> most = KeysOf(0, 64);
  most.push_back(most.front());
  FixedRandom randomness;
  const auto sealed = Seal(std::string(1'000, 'x'), Place(), most, randomness);
  ASSERT_TRUE(sealed.ok()) << sealed.status();
  EXPECT_EQ(sealed->size(), kSealedBytesMax);
  EXPECT_EQ(RecipientsOf(*sealed).value().size(), kSealRecipientsMax);
  EXPECT_EQ(OpenSealed(*sealed, Place(), KeyOf(63)).value(), std::string(1'000, 'x'));
  EXPECT_EQ(ReasonOf(SealFurther(*sealed, Place(), KeyOf(0), KeysOf(64, 1), randomness).status()),
            "TOO_MANY_RECIPIENTS");
  EXPECT_EQ(ReasonOfOpening(*sealed + "x", KeyOf(0)), "SEAL_FORM");
}

TEST(Seal, OfALaterVersionIsKnownAsSuch) {
  std::string sealed = SealedTo(1);
  sealed[0] = 2;
  EXPECT_EQ(ReasonOfOpening(sealed, KeyOf(0)), "SEAL_NEWER");
  EXPECT_EQ(OpenSealed(sealed, Place(), KeyOf(0)).status().code(),
            absl::StatusCode::kFailedPrecondition);
  sealed[0] = 0;
  EXPECT_EQ(ReasonOfOpening(sealed, KeyOf(0)), "SEAL_FORM");
}

TEST(Seal, HasOneOrderOfItsRecipients) {
  std::vector<SealingPublicKey> keys = KeysOf(0, 5);
  const std::vector<SealingKeyId> ids = RecipientsOf(SealedTo(5)).value();
  EXPECT_TRUE(std::ranges::is_sorted(ids));
  std::ranges::reverse(keys);
  FixedRandom randomness;
  EXPECT_EQ(Seal(kText, Place(), keys, randomness).value(), SealedTo(5));
  Envelope envelope = ParseEnvelope(SealedTo(2)).value();
  std::ranges::reverse(envelope.wraps);
  EXPECT_EQ(ReasonOfOpening(EncodeEnvelope(envelope), KeyOf(0)), "SEAL_FORM");
  envelope.wraps.front() = envelope.wraps.back();
  EXPECT_EQ(ReasonOfOpening(EncodeEnvelope(envelope), KeyOf(0)), "SEAL_FORM");
  envelope.wraps.clear();
  EXPECT_EQ(ReasonOfOpening(EncodeEnvelope(envelope), KeyOf(0)), "SEAL_FORM");
}

RC_GTEST_PROP(Seal, SurvivesAnyBytes, (const std::string& bytes)) {
  RC_ASSERT(!OpenSealed(bytes, Place(), KeyOf(0)).ok());
  const auto envelope = ParseEnvelope(bytes);
  if (envelope.ok()) {
    RC_ASSERT(EncodeEnvelope(*envelope) == bytes);
  }
}

// Bytes that look right for a while: a good envelope with pieces replaced, doubled or taken out.
RC_GTEST_PROP(Seal, SurvivesBytesThatWereCutAndPasted, ()) {
  static const std::string good = SealedTo(3);
  std::string bytes = good;
  const auto edits = *rc::gen::inRange(1, 4);
  for (int i = 0; i < edits; ++i) {
    const auto at = *rc::gen::inRange<std::size_t>(0, bytes.size() + 1);
    const auto size = *rc::gen::inRange<std::size_t>(0, 200);
    const auto from = *rc::gen::inRange<std::size_t>(0, good.size());
    const auto noise = *rc::gen::arbitrary<std::string>();
    bytes.replace(at, size, *rc::gen::arbitrary<bool>() ? good.substr(from, size) : noise);
  }
  const auto envelope = ParseEnvelope(bytes);
  if (envelope.ok()) {
    RC_ASSERT(EncodeEnvelope(*envelope) == bytes);
  }
  RC_ASSERT(OpenSealed(bytes, Place(), KeyOf(0)).ok() == (bytes == good));
}

}  // namespace
}  // namespace broodpact::device
