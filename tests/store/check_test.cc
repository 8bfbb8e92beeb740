// Goal: CheckDisk finds every disagreement between subjects and index, in both directions, and
// nothing where there is none.
// Method: a real state with its entries, then single wrong entries and subjects written below it.

#include "client/base/check.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/registry/index.h"
#include "client/store/internal/database.h"
#include "client/store/internal/keys.h"
#include "client/store/store.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

registry::Group AGroup(std::uint8_t number) {
  registry::Group group;
  group.id.bytes[0] = number;
  group.name = "group-" + std::to_string(number);
  group.taxon = "Brachypelma hamorii";
  return group;
}

template <typename Subject>
registry::Change ChangeOf(const Subject& subject) {
  return {.key = {.kind = Subject::kKind, .id = subject.id.bytes},
          .value = registry::Encode(subject),
          .index_removed = {},
          .index_added = registry::IndexEntriesOf(subject)};
}

class CheckDisk : public testing::Test {
 protected:
  void SetUp() override {
    const auto store = OpenForWriting(folder_.path());
    const facts::Range none;
    Batch batch{.range = none};
    for (std::uint8_t i = 1; i <= 20; ++i) batch.changes.push_back(ChangeOf(AGroup(i)));
    ASSERT_TRUE(store->Append(batch).ok());
  }

  // Writes below the store, as damage or a mistake would.
  void Write(Part part, std::string_view key, std::optional<std::string> value) {
    const auto database = Database::Open(folder_.path(), Access::kReadWrite);
    BP_CHECK(database.ok());
    rocksdb::DB& db = (*database)->db();
    rocksdb::ColumnFamilyHandle* handle = (*database)->part(part);
    const rocksdb::Status status =
        value.has_value() ? db.Put(rocksdb::WriteOptions(), handle, SliceOf(key), *value)
                          : db.Delete(rocksdb::WriteOptions(), handle, SliceOf(key));
    BP_CHECK(status.ok());
  }

  std::vector<std::string> Faults() {
    const auto store = Store::Open(folder_.path(), Access::kReadOnly);
    BP_CHECK(store.ok());
    const auto faults = (*store)->CheckDisk();
    BP_CHECK(faults.ok());
    return *faults;
  }

  TempFolder folder_;
  const registry::Group group_ = AGroup(7);
  const std::string entry_ = registry::IndexEntriesOf(group_).front();
  const std::string key_ =
      registry::KeyText({.kind = registry::Kind::kGroup, .id = group_.id.bytes});
};

TEST_F(CheckDisk, FindsNothingInASoundReplica) {
  EXPECT_THAT(Faults(), IsEmpty());
}

TEST_F(CheckDisk, FindsAMissingEntry) {
  Write(Part::kIndex, entry_, std::nullopt);
  EXPECT_THAT(Faults(), ElementsAre(AllOf(HasSubstr("does not have the subject"),
                                          HasSubstr(ToText(group_.id)))));
}

TEST_F(CheckDisk, FindsAnEntryThatItsSubjectDoesNotAnswerTo) {
  registry::Group renamed = group_;
  renamed.name = "another";
  Write(Part::kIndex, registry::IndexEntriesOf(renamed).front(), "");
  EXPECT_THAT(Faults(), ElementsAre(HasSubstr("does not answer to")));
}

TEST_F(CheckDisk, FindsOneMissingAndOneTooMany) {
  registry::Group renamed = group_;
  renamed.name = "another";
  Write(Part::kIndex, entry_, std::nullopt);
  Write(Part::kIndex, registry::IndexEntriesOf(renamed).front(), "");
  EXPECT_THAT(Faults(),
              ElementsAre(HasSubstr("does not have the subject"), HasSubstr("does not answer to")));
}

TEST_F(CheckDisk, FindsTheEntryOfASubjectThatIsGone) {
  Write(Part::kState, key_, std::nullopt);
  EXPECT_THAT(Faults(), ElementsAre(HasSubstr("does not answer to")));
}

TEST_F(CheckDisk, FindsAMalformedSubject) {
  Write(Part::kState, key_, "nonsense");
  EXPECT_THAT(Faults(),
              testing::Contains(AllOf(HasSubstr("malformed"), HasSubstr(ToText(group_.id)))));
}

TEST_F(CheckDisk, FindsASubjectOfAnUnknownKind) {
  Write(Part::kState, std::string(17, '\x60'), "value");
  EXPECT_THAT(Faults(), ElementsAre(HasSubstr("malformed")));
}

}  // namespace
}  // namespace broodpact::store
