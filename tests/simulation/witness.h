#pragma once

// Who remembers what was promised: every commit that a keeper was told is kept, every head that the
// server let out, every final verdict that anybody saw. The invariants hold the end against it.

#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "client/base/hash.h"
#include "client/registry/verdict.h"
#include "client/replica/replica.h"
#include "client/store/store.h"

namespace broodpact::simulation {

class Witness {
 public:
  // Notes the own commits that a replica holds as undelivered: their keeper was told that they are
  // kept. A restatement stands for the commit that it states again.
  void NoteKept(const std::string& keeper, const replica::Replica& replica);

  // The disk with what a keeper was told is gone, by his own hand: what is not in `log` may be
  // lost.
  void Excuse(const std::string& keeper, const store::Store& log);

  // The server's disk is gone: what no replica has, and its backup neither, is lost.
  void ExcuseAllBut(const std::set<Hash>& left);
  // A disk is gone that had `had`: what of it is not in `left` is lost.
  void ExcuseOf(const std::set<Hash>& had, const std::set<Hash>& left);
  // Of the first `count` heads that the server let out, it may have lost what they were of.
  void ForgetHeads(std::size_t count) { heads_forgotten_ = count; }
  std::size_t heads_forgotten() const { return heads_forgotten_; }

  // Notes the verdicts that a replica shows as final, and what differs from what was shown before
  // for the same log up to there.
  void NoteVerdicts(const std::string& whose, const store::Store& store);

  // A commit that must have no effect, wherever it ends up.
  void NoteHostile(const Hash& commit) { hostile_.insert(commit); }

  // Something that went wrong on the way.
  void Complain(std::string what);

  struct Kept {
    std::string keeper;
    std::string what;
    DeviceId device;
  };
  const std::map<Hash, Kept>& kept() const { return kept_; }
  const std::set<Hash>& hostile() const { return hostile_; }
  const std::vector<std::string>& complaints() const { return complaints_; }

 private:
  std::map<Hash, Kept> kept_;
  std::set<Hash> hostile_;
  std::map<Hash, registry::Verdict> verdicts_;  // of the arrival that makes this log hash
  std::size_t heads_forgotten_ = 0;
  std::vector<std::string> complaints_;
};

// A status in one line: its reason and its words.
std::string TextOf(const absl::Status& status);

// Whether it is what no honest network, crash or keeper leads to.
bool IsAlarm(const absl::Status& status);

// The hashes of all commits in a log, and of those that its restatements state again.
std::set<Hash> CommitsIn(const store::Store& log);

}  // namespace broodpact::simulation
