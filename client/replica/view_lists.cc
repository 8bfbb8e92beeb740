// Lists of subjects.

#include <algorithm>
#include <set>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

using registry::Kind;

// Lists without pages end here: nobody reads on, and no one question takes all memory.
constexpr std::size_t kListMax = 100'000;
// Entries of one index that a page is taken from: all animals of the largest cooperative.
constexpr std::size_t kEntriesMax = 1'000'000;

// All subjects of a kind, in order of id.
template <typename Subject>
absl::StatusOr<std::vector<Subject>> All(const registry::Source& source) {
  std::vector<Subject> subjects;
  std::optional<IdBytes> after;
  while (subjects.size() < kListMax) {
    BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> page,
                        source.SubjectsOfKind(Subject::kKind, after, kPageSubjects));
    for (const registry::StoredSubject& stored : page) {
      BP_RETURN_IF_ERROR(DecodeOnto(subjects, stored.value));
    }
    if (page.size() < kPageSubjects) break;
    after = page.back().id;
  }
  return subjects;
}

// The subjects behind all index entries of a prefix.
template <typename Subject>
absl::StatusOr<std::vector<Subject>> Behind(const registry::Source& source,
                                            const std::string& prefix) {
  using AnyId = decltype(Subject::id);
  BP_ASSIGN_OR_RETURN(const std::vector<AnyId> ids, IdsBehind<AnyId>(source, prefix, kListMax));
  return ReadMany<Subject>(source, ids);
}

// By name where there is one, else by id.
template <typename Subject>
void SortByName(std::vector<Subject>& subjects) {
  std::ranges::sort(subjects, [](const Subject& a, const Subject& b) {
    if (a.name.empty() != b.name.empty()) return b.name.empty();
    return a.name != b.name ? a.name < b.name : a.id < b.id;
  });
}

// The ids of entries of `prefix` that come after `after`, in order, at most `count_max`. Entries
// are in an order of their own, so all of them are read.
absl::StatusOr<std::vector<AnimalId>> PageOfEntries(const registry::Source& source,
                                                    const std::string& prefix,
                                                    const std::optional<AnimalId>& after,
                                                    std::size_t count_max) {
  BP_ASSIGN_OR_RETURN(std::vector<AnimalId> ids, IdsBehind<AnimalId>(source, prefix, kEntriesMax));
  if (after) std::erase_if(ids, [&](const AnimalId& id) { return id <= *after; });
  std::ranges::sort(ids);
  if (ids.size() > count_max) ids.resize(count_max);
  return ids;
}

// Animals that a keeper owns or holds, in order of id.
absl::StatusOr<std::vector<AnimalId>> PageOfKeeper(const registry::Source& source,
                                                   const AnimalFilter& filter,
                                                   std::size_t count_max) {
  std::set<AnimalId> ids;
  for (const std::string& prefix :
       {registry::AnimalsOfOwner(*filter.keeper), registry::AnimalsOfHolder(*filter.keeper)}) {
    BP_ASSIGN_OR_RETURN(const std::vector<AnimalId> page,
                        PageOfEntries(source, prefix, filter.after, count_max));
    ids.insert(page.begin(), page.end());
  }
  std::vector<AnimalId> page(ids.begin(), ids.end());
  if (page.size() > count_max) page.resize(count_max);
  return page;
}

// The next animals of a filter in order of id, one more than asked for where there are more.
absl::StatusOr<std::vector<registry::Animal>> PageOfAnimals(const registry::Source& source,
                                                            const AnimalFilter& filter) {
  const std::size_t count = filter.count_max + 1;
  if (filter.keeper) {
    // With a group too, the whole of the keeper's animals is looked through: a shed is small.
    BP_ASSIGN_OR_RETURN(const std::vector<AnimalId> ids,
                        PageOfKeeper(source, filter, filter.group ? kListMax : count));
    BP_ASSIGN_OR_RETURN(auto animals, ReadMany<registry::Animal>(source, ids));
    if (filter.group) {
      std::erase_if(animals,
                    [&](const registry::Animal& one) { return one.group != filter.group; });
    }
    return animals;
  }
  if (filter.group) {
    BP_ASSIGN_OR_RETURN(
        const std::vector<AnimalId> ids,
        PageOfEntries(source, registry::AnimalsOfGroup(*filter.group), filter.after, count));
    return ReadMany<registry::Animal>(source, ids);
  }
  std::optional<IdBytes> after;
  if (filter.after) after = filter.after->bytes;
  BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> page,
                      source.SubjectsOfKind(Kind::kAnimal, after, count));
  std::vector<registry::Animal> animals;
  for (const registry::StoredSubject& stored : page) {
    BP_RETURN_IF_ERROR(DecodeOnto(animals, stored.value));
  }
  return animals;
}

}  // namespace

absl::StatusOr<v1::KeeperList> View::Keepers() const {
  BP_ASSIGN_OR_RETURN(auto keepers, All<registry::Keeper>(source_));
  SortByName(keepers);
  Messages writer(source_, provisional_);
  v1::KeeperList list;
  for (const registry::Keeper& keeper : keepers) *list.add_keepers() = writer.Of(keeper);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::GroupList> View::Groups() const {
  BP_ASSIGN_OR_RETURN(auto groups, All<registry::Group>(source_));
  SortByName(groups);
  Messages writer(source_, provisional_);
  v1::GroupList list;
  for (const registry::Group& group : groups) *list.add_groups() = writer.Of(group);
  return list;
}

absl::StatusOr<v1::AnimalList> View::Animals(const AnimalFilter& filter) const {
  BP_ASSIGN_OR_RETURN(auto animals, PageOfAnimals(source_, filter));
  v1::AnimalList list;
  if (animals.size() > filter.count_max) {
    animals.resize(filter.count_max);
    if (!animals.empty()) list.set_next_page(ToText(animals.back().id));
  }
  SortByName(animals);
  Messages writer(source_, provisional_);
  writer.Fetch(animals);
  for (const registry::Animal& animal : animals) {
    *list.add_animals() = writer.Of(animal, Detail::kRow);
  }
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::LoanList> View::Loans() const {
  BP_ASSIGN_OR_RETURN(auto loans, All<registry::Loan>(source_));
  SortByName(loans);
  Messages writer(source_, provisional_);
  v1::LoanList list;
  for (const registry::Loan& loan : loans) *list.add_loans() = writer.Of(loan);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::LoanList> View::LoansOf(const KeeperId& keeper) const {
  BP_ASSIGN_OR_RETURN(auto loans, Behind<registry::Loan>(source_, registry::LoansOfParty(keeper)));
  SortByName(loans);
  Messages writer(source_, provisional_);
  v1::LoanList list;
  for (const registry::Loan& loan : loans) *list.add_loans() = writer.Of(loan);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::ClutchList> View::Clutches() const {
  BP_ASSIGN_OR_RETURN(auto clutches, All<registry::Clutch>(source_));
  SortByName(clutches);
  Messages writer(source_, provisional_);
  v1::ClutchList list;
  for (const registry::Clutch& clutch : clutches) *list.add_clutches() = writer.Of(clutch);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::LotList> View::LotsOf(const KeeperId& keeper) const {
  BP_ASSIGN_OR_RETURN(const auto lots,
                      Behind<registry::Lot>(source_, registry::LotsOfKeeper(keeper)));
  Messages writer(source_, provisional_);
  v1::LotList list;
  for (const registry::Lot& lot : lots) {
    if (lot.slings > 0) *list.add_lots() = writer.Of(lot);
  }
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::ClashList> View::Clashes() const {
  BP_ASSIGN_OR_RETURN(const auto clashes, All<registry::Clash>(source_));
  Messages writer(source_, provisional_);
  v1::ClashList list;
  for (const registry::Clash& clash : clashes) {
    if (clash.state == registry::ClashState::kOpen) *list.add_clashes() = writer.Of(clash);
  }
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::ClashList> View::ClashesOf(const KeeperId& keeper) const {
  BP_ASSIGN_OR_RETURN(const auto clashes,
                      Behind<registry::Clash>(source_, registry::ClashesOfParty(keeper)));
  Messages writer(source_, provisional_);
  v1::ClashList list;
  for (const registry::Clash& clash : clashes) *list.add_clashes() = writer.Of(clash);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

}  // namespace broodpact::replica
