#include "tests/simulation/tamper.h"

#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "client/base/check.h"
#include "client/registry/encode.h"
#include "client/registry/subject.h"
#include "client/store/internal/blocks.h"
#include "client/store/internal/database.h"
#include "tests/simulation/world.h"

namespace broodpact::simulation {
namespace {

using store::Part;

// Opens a database under the store, and writes what `change` makes of a value: the first one of the
// part that it changes. `change` returns false where it leaves a value as it is.
void ChangeOne(const std::filesystem::path& folder, Part part,
               const std::function<bool(std::string_view key, std::string& value)>& change) {
  const auto database = store::Database::Open(folder, store::Access::kReadWrite);
  BP_CHECK(database.ok());
  const auto iterator = (*database)->Iterate(part, rocksdb::ReadOptions());
  for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
    std::string value = iterator->value().ToString();
    if (!change(store::TextOf(iterator->key()), value)) continue;
    BP_CHECK((*database)
                 ->db()
                 .Put(rocksdb::WriteOptions(), (*database)->part(part), iterator->key(), value)
                 .ok());
    return;
  }
}

void DeleteLast(const std::filesystem::path& folder, Part part) {
  const auto database = store::Database::Open(folder, store::Access::kReadWrite);
  if (!database.ok()) return;  // no replica here yet
  const auto iterator = (*database)->Iterate(part, rocksdb::ReadOptions());
  iterator->SeekToLast();
  if (!iterator->Valid()) return;
  BP_CHECK((*database)
               ->db()
               .Delete(rocksdb::WriteOptions(), (*database)->part(part), iterator->key())
               .ok());
}

bool ChangeVerdict(std::string_view /*key*/, std::string& value) {
  auto verdicts = store::DecodeVerdictBlock(value);
  BP_CHECK(verdicts.has_value() && !verdicts->empty());
  verdicts->back().kind = verdicts->back().kind == registry::VerdictKind::kCounted
                              ? registry::VerdictKind::kRefused
                              : registry::VerdictKind::kCounted;
  store::EncodeVerdictBlock(*verdicts, 0, verdicts->size(), value);
  return true;
}

bool AddSling(std::string_view key, std::string& value) {
  if (key.front() != static_cast<char>(registry::Kind::kClutch)) return false;
  auto clutch = registry::Decode<registry::Clutch>(value);
  BP_CHECK(clutch.has_value());
  ++clutch->accounts.undivided;
  value = registry::Encode(*clutch);
  return true;
}

bool UnspendOwnership(std::string_view key, std::string& value) {
  if (key.front() != static_cast<char>(registry::Kind::kAnimal)) return false;
  auto animal = registry::Decode<registry::Animal>(value);
  BP_CHECK(animal.has_value());
  if (animal->past_owners.empty()) return false;
  animal->owner_token = animal->past_owners.back().token;
  value = registry::Encode(*animal);
  return true;
}

// The databases of all keepers, closed.
std::vector<std::filesystem::path> Databases(World& world) {
  std::vector<std::filesystem::path> databases;
  for (const auto& keeper : world.keepers()) {
    keeper->Close();
    databases.push_back(keeper->machine().folder() / "replica");
  }
  return databases;
}

}  // namespace

void ForgetPending(const std::filesystem::path& database) {
  DeleteLast(database, Part::kPending);
}

void TamperAtEnd(World& world) {
  switch (world.planted()) {
    case Planted::kArrivalSkipped:
      DeleteLast(Databases(world).back(), Part::kState);
      return;
    case Planted::kVerdictChanged:
      ChangeOne(Databases(world).back(), Part::kVerdicts, ChangeVerdict);
      return;
    case Planted::kIndexEntryLost:
      DeleteLast(Databases(world).back(), Part::kIndex);
      return;
    case Planted::kSlingCreated:
      for (const auto& database : Databases(world)) ChangeOne(database, Part::kState, AddSling);
      return;
    case Planted::kOwnershipDoubled:
      for (const auto& database : Databases(world)) {
        ChangeOne(database, Part::kState, UnspendOwnership);
      }
      return;
    default:
      return;
  }
}

}  // namespace broodpact::simulation
