// Goal: every question about the state is answered as a scan over a plain map would answer it.
// Method: random changes in random batches; prefixes, pages and sets of keys that collide.

#include "client/store/internal/reading.h"

#include <map>
#include <set>

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "client/store/store.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

using registry::Kind;
using registry::SubjectKey;

// A store with a state, and the same in plain containers.
struct Trial {
  TempFolder folder;
  std::unique_ptr<Store> store = OpenForWriting(folder.path());
  std::map<SubjectKey, std::string> subjects;
  std::set<std::string> entries;
};

SubjectKey AnyKey() {
  SubjectKey key;
  key.kind = *rc::gen::element(Kind::kKeeper, Kind::kAnimal, Kind::kLoan);
  key.id[0] = *rc::gen::element<std::uint8_t>(0, 1, 0xFF);
  key.id[15] = *rc::gen::inRange<std::uint8_t>(0, 6);
  return key;
}

std::string AnyEntry() {
  return *rc::gen::container<std::string>(*rc::gen::inRange<std::size_t>(1, 4),
                                          rc::gen::element('a', 'b', '\0', '\xFF'));
}

// A change of the subject, and of one entry, in the store's terms and in the twin's.
registry::Change AnyChange(Trial& trial, const SubjectKey& key) {
  registry::Change change{.key = key, .value = AnyEntry(), .index_removed = {}, .index_added = {}};
  trial.subjects[key] = change.value;
  const std::string entry = AnyEntry();
  if (trial.entries.erase(entry) > 0) {
    change.index_removed.push_back(entry);
  } else {
    trial.entries.insert(entry);
    change.index_added.push_back(entry);
  }
  return change;
}

std::unique_ptr<Trial> AnyTrial() {
  auto trial = std::make_unique<Trial>();
  const auto batches = *rc::gen::inRange(1, 5);
  for (int i = 0; i < batches; ++i) {
    std::set<SubjectKey> keys;
    const auto count = *rc::gen::inRange(0, 15);
    for (int j = 0; j < count; ++j) keys.insert(AnyKey());
    const facts::Range none;
    Batch batch{.range = none};
    for (const SubjectKey& key : keys) batch.changes.push_back(AnyChange(*trial, key));
    RC_ASSERT(trial->store->Append(batch).ok());
    if (i == 0) RC_ASSERT(trial->store->Flush().ok());
  }
  return trial;
}

RC_GTEST_PROP(Subjects, AreThoseOfAMap, ()) {
  const auto trial = AnyTrial();
  const auto count = *rc::gen::inRange<std::size_t>(0, 60);
  std::vector<SubjectKey> keys;
  for (std::size_t i = 0; i < count; ++i) keys.push_back(AnyKey());
  const auto found = trial->store->Subjects(keys);
  RC_ASSERT(found.ok());
  RC_ASSERT(found->size() == keys.size());
  for (std::size_t i = 0; i < keys.size(); ++i) {
    const auto twin = trial->subjects.find(keys[i]);
    const std::optional<std::string> expected =
        twin == trial->subjects.end() ? std::nullopt : std::optional(twin->second);
    RC_ASSERT((*found)[i] == expected);
    RC_ASSERT(*trial->store->Subject(keys[i]) == expected);
  }
}

RC_GTEST_PROP(SubjectsOfKind, ComePageByPageAsANaiveScanHasThem, ()) {
  const auto trial = AnyTrial();
  const Kind kind = *rc::gen::element(Kind::kKeeper, Kind::kAnimal, Kind::kLoan, Kind::kLot);
  const auto page = *rc::gen::inRange<std::size_t>(1, 7);
  std::vector<registry::StoredSubject> scan;
  for (const auto& [key, value] : trial->subjects) {
    if (key.kind == kind) scan.push_back({.id = key.id, .value = value});
  }
  std::size_t seen = 0;
  std::optional<IdBytes> after;
  while (true) {
    const auto subjects = trial->store->SubjectsOfKind(kind, after, page);
    RC_ASSERT(subjects.ok());
    RC_ASSERT(subjects->size() == std::min(page, scan.size() - seen));
    if (subjects->empty()) break;
    for (const registry::StoredSubject& subject : *subjects) {
      RC_ASSERT(subject.id == scan[seen].id);
      RC_ASSERT(subject.value == scan[seen].value);
      ++seen;
    }
    after = subjects->back().id;
  }
}

RC_GTEST_PROP(IndexEntries, AreThoseThatBeginSo, ()) {
  const auto trial = AnyTrial();
  const std::string prefix = *rc::gen::element<std::string>("", "a", "b", "\xFF", "\xFF\xFF", "ab");
  const auto count_max = *rc::gen::inRange<std::size_t>(0, 30);
  std::vector<std::string> scan;
  for (const std::string& entry : trial->entries) {
    if (entry.starts_with(prefix) && scan.size() < count_max) scan.push_back(entry);
  }
  const auto found = trial->store->IndexEntries(prefix, count_max);
  RC_ASSERT(found.ok());
  RC_ASSERT(*found == scan);
}

}  // namespace
}  // namespace broodpact::store
