// Goal: whatever bundles bring, a replica takes no more of it than it may carry, and keeps what it
// has. Method: commits of another keeper, as a bundle has them, and bounds that a few of them
// reach.

#include "client/replica/internal/mail.h"

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddGroup;
using testing::Demand;
using ::testing::SizeIs;
using testing::Society;

constexpr std::size_t kBound = 3;

class Mail : public ::testing::Test {
 protected:
  Mail() {
    society_.Found("mira");
    society_.Enter("tomas");
    for (std::size_t i = 0; i <= kBound; ++i) AddGroup(society_, "mira", std::to_string(i));
    for (const Replica::Undelivered& one : society_.At("mira").undelivered()) {
      mail_.push_back(one.signed_commit);
    }
    cooperative_ = society_.At("mira").cooperative();
    mira_ = society_.At("mira").device_key();
    AddGroup(society_, "tomas", "own");
    own_ = society_.At("tomas").undelivered().front().signed_commit;
    tomas_ = society_.At("tomas").device_key();
    society_.Close("tomas");
    const Home home = society_.HomeOf("tomas");
    store_ = Demand(store::Store::Open(home.database(), store::Access::kReadWrite));
    key_ = Demand(device::SecretKey::Load(home.key_file()));
    // As if a disk had lost what he stated.
    Demand(store_->ReplacePending(Demand(store_->Pending()), {}));
  }

  // As a bundle is read, which finds what the one before has left.
  absl::Status Take(const std::vector<facts::SignedCommit>& mail, BundleReport& report) {
    const auto key_of = [this](const DeviceId& device) {
      for (const PublicKey& key : {mira_, tomas_}) {
        if (device == DeviceOf(key)) return std::optional<PublicKey>(key);
      }
      return std::optional<PublicKey>();
    };
    MailIntake intake(*store_, cooperative_, *key_, key_of, bound_);
    BP_RETURN_IF_ERROR(intake.Load());
    return intake.Add(mail, report);
  }

  Society society_;
  std::vector<facts::SignedCommit> mail_;  // one more than may wait
  Hash cooperative_{};
  PublicKey mira_{};
  PublicKey tomas_{};
  facts::SignedCommit own_;  // that he has lost
  MailSize bound_{.commits = kBound, .bytes = kCarriedBytesMax};
  std::unique_ptr<store::Store> store_;
  std::optional<device::SecretKey> key_;
};

TEST_F(Mail, IsTakenUpToTheBound) {
  mail_.pop_back();
  BundleReport report;
  const absl::Status status = Take(mail_, report);
  EXPECT_TRUE(status.ok()) << status;
  EXPECT_EQ(report.mail_taken, kBound);
}

TEST_F(Mail, IsNotTakenBeyondTheBound) {
  BundleReport report;
  EXPECT_EQ(ReasonOf(Take(mail_, report)), "MAIL_FULL");
  EXPECT_EQ(report.mail_taken, kBound);
  EXPECT_THAT(Demand(store_->Pending()), SizeIs(kBound)) << "what there was room for is kept";
}

TEST_F(Mail, FindsNoRoomWhereAnEarlierBundleLeftNone) {
  BundleReport report;
  ASSERT_TRUE(Take({mail_.begin(), mail_.end() - 1}, report).ok());
  BundleReport again;
  EXPECT_EQ(ReasonOf(Take(mail_, again)), "MAIL_FULL");
  EXPECT_EQ(again.mail_known, kBound);
  EXPECT_EQ(again.mail_taken, 0U);
}

TEST_F(Mail, IsNotTakenBeyondTheBoundInBytes) {
  bound_ = {.commits = kCarriedMax, .bytes = mail_[0].bytes.size() + mail_[1].bytes.size()};
  BundleReport report;
  EXPECT_EQ(ReasonOf(Take(mail_, report)), "MAIL_FULL");
  EXPECT_EQ(report.mail_taken, 2U);
  EXPECT_THAT(Demand(store_->Pending()), SizeIs(2)) << "what there was room for is kept";
}

TEST_F(Mail, FindsNoRoomInBytesWhereAnEarlierBundleLeftNone) {
  bound_ = {.commits = kCarriedMax, .bytes = mail_[0].bytes.size()};
  BundleReport report;
  ASSERT_TRUE(Take({mail_.front()}, report).ok());
  BundleReport again;
  EXPECT_EQ(ReasonOf(Take(mail_, again)), "MAIL_FULL");
  EXPECT_EQ(again.mail_taken, 0U);
}

TEST_F(Mail, OfTheReaderHimselfIsTakenWhateverWaits) {
  bound_ = {};
  BundleReport report;
  EXPECT_EQ(ReasonOf(Take({mail_.front(), own_}, report)), "MAIL_FULL");
  EXPECT_THAT(Demand(store_->Pending()), SizeIs(1));
  BundleReport alone;
  EXPECT_TRUE(Take({own_}, alone).ok());
  EXPECT_EQ(alone.mail_known, 1U);
}

}  // namespace
}  // namespace broodpact::replica
