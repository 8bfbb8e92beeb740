#pragma once

// A cooperative in a temporary folder: keepers with replicas of their own, and an arrival log that
// carries their commits without a network or a server.

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "client/replica/replica.h"
#include "client/replica/view.h"
#include "tests/replica/testing/surroundings.h"

namespace broodpact::testing {

// Everything in it stops the test program where it cannot go on: a fixture that fails is a mistake
// of the test. Not thread-safe.
class Society {
 public:
  Society() = default;

  // A keeper with a replica, and no cooperative.
  void Start(const std::string& keeper, const std::string& region = "");

  // The first keeper, who founds the cooperative; the founding has arrived.
  void Found(const std::string& keeper, const std::string& region = "");

  // A keeper who is invited by the founder and joins; all of it has arrived everywhere.
  void Enter(const std::string& keeper, const std::string& region = "",
             facts::Role role = facts::Role::kKeeper);

  // A further device of a keeper, in a home of its own: from now on `device` is one to At and all
  // else. All of it has arrived everywhere.
  void EnterDevice(const std::string& device, const std::string& keeper);

  // The replica of a keeper, open for writing. Good until the next Deliver, Enter or Close.
  replica::Replica& At(const std::string& keeper);
  replica::View ViewOf(const std::string& keeper);
  KeeperId IdOf(const std::string& keeper);

  // Closes the replica of a keeper; At opens it again.
  void Close(const std::string& keeper) { open_.erase(keeper); }
  replica::Home HomeOf(const std::string& keeper) const {
    return replica::Home(folder_.path() / keeper);
  }

  // Lets what a keeper has not delivered arrive in the log, where it follows on its chain. Replicas
  // do not see it yet.
  void Push(const std::string& keeper);
  // Lets a keeper's replica see the log as it is.
  void Pull(const std::string& keeper);
  // Push by all in the order in which they entered, then Pull by all.
  void Deliver();

  FakeClock& clock() { return clock_; }
  SeededRandomness& randomness() { return randomness_; }
  replica::Surroundings surroundings() { return {clock_, randomness_}; }
  const std::filesystem::path& folder() const { return folder_.path(); }

 private:
  // Keeps, as undelivered, the first commit of a home's chain: it states what `joining` makes of
  // the key of an invitation that `inviter` writes by `invitation`. Delivers.
  template <typename InvitationOf, typename JoiningOf>
  void EnterBy(const std::string& inviter, const std::string& newcomer, InvitationOf invitation,
               JoiningOf joining);

  TempFolder folder_;
  FakeClock clock_;
  SeededRandomness randomness_;
  std::vector<std::string> keepers_;  // in the order in which they started
  std::map<std::string, std::unique_ptr<replica::Replica>> open_;
  std::vector<std::string> log_;  // one record an arrival (facts/arrival.h)
  std::map<facts::ChainId, facts::ChainHead> pushed_;
};

// Shorthands for what tests enter often. Each is one commit of `keeper`, and has to count.
GroupId AddGroup(Society& society, const std::string& keeper, const std::string& name,
                 const std::string& taxon = "Brachypelma hamorii");
AnimalId AddAnimal(Society& society, const std::string& keeper, facts::AnimalEntry entry);

}  // namespace broodpact::testing
