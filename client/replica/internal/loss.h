#pragma once

// What a replica does when the server's log is not the one that it was: finds where the two part,
// gives back what the server vouched for and lost, lets the rest arrive again, and says up to where
// this replica has to go back.
//
// A server that has lost nothing and tells another history does not say so: that is a doubt.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/replica/internal/known_log.h"
#include "client/replica/replica.h"
#include "client/store/store.h"
#include "client/sync/recovery.h"

namespace broodpact::replica {

class LossRepair {
 public:
  // What came of it. At most one of the two is there.
  struct Result {
    Repair repair{};
    std::optional<facts::LogPoint> rewind_to{};   // here this log has to go on otherwise
    std::optional<sync::Head> head{};             // of the server's log up to there
    std::optional<Doubt> doubt{};                 // the server does not admit that it lost anything
    std::vector<store::PendingCommit> refused{};  // what it does not take: to be kept for others
    sync::Epochs epochs{};                        // as the server tells them
  };

  // Both outlive this.
  LossRepair(const store::Store& database, sync::Recovery& server, KnownLog known)
      : store_(database), server_(server), known_(std::move(known)) {}

  // Blocks. Changes nothing here.
  // Errors: DATA_LOSS with reason STORE_DAMAGED; those of sync::Recovery; PERMISSION_DENIED with
  // reason SERVER_OTHER; those of the store.
  absl::StatusOr<Result> Run();

 private:
  // Where the two logs part, and what the server says of its own.
  struct Parting {
    facts::LogPoint common;
    sync::Comparison server;
    bool all_is_there = false;  // of this log, at the server
  };

  // Compares the two logs, and does what there is to do. False where they have to be compared anew.
  // Errors: those of Run; with reason LOG_OTHER where the server's log is another one by now.
  absl::StatusOr<bool> Attempt();
  // Where they part while it is looked for: others may give back meanwhile.
  absl::StatusOr<Parting> FindParting();
  // What there is to do where the two part, if this log is not to be given back. Nothing of it
  // (false) where the server was given back its log meanwhile.
  absl::StatusOr<bool> Settle(const Parting& parting);
  // All of this log is the server's too; it may have lost what it promised, and nobody has yet.
  absl::Status AskFor(const Promise& promise, const Parting& parting);
  // A place where this log was still the one that was promised, though it has gone on otherwise.
  absl::StatusOr<facts::LogPoint> CommonWith(const Promise& promise) const;
  // Where this log has to go on otherwise, once what follows has been delivered again; or a doubt.
  absl::StatusOr<bool> FindPlace(const Parting& parting);
  // The two part before this log begins: what there is to do first. Errors, always: UNAVAILABLE
  // with reason SERVER_BEHIND; those of Store::CheckHistory; those of sync::Recovery.
  absl::Status LostBelowBase(const sync::Comparison& server);
  absl::StatusOr<sync::Comparison> CompareAt(const std::vector<std::uint64_t>& places);
  absl::Status CheckKey(const sync::Head& told) const;

  // Whether the server says that this head no longer holds, if need be after it was shown.
  // Errors: FAILED_PRECONDITION with reasons SERVER_UNKNOWN and LOG_OTHER (compare anew: its log
  // was put back, or it has all of the head by now); those of sync::Recovery.
  absl::StatusOr<bool> Admits(const sync::Head& head, const facts::LogPoint& common);

  // Gives back what follows `common`, up to the head that this replica has, as far as the server
  // takes it: its log may have gone on meanwhile.
  absl::Status GiveBack(const facts::LogPoint& common, const sync::Head& head);
  absl::Status DeliverAgain(const facts::LogPoint& place);
  // Delivers one part, of so many arrivals, with the proof of when they first arrived.
  absl::StatusOr<sync::Redelivery> DeliverPart(const sync::LogPart& part, std::uint64_t count);
  // Keeps the commits at these places of a part, as they are signed: of a run the last one is.
  absl::Status KeepRefused(const sync::LogPart& part, const std::vector<std::uint32_t>& places);

  // The part of this log after `before`, `last` at most.
  absl::StatusOr<sync::LogPart> PartAfter(std::uint64_t before, std::uint64_t last,
                                          std::uint64_t& count) const;
  // The end of the run that `common` lies in or behind.
  absl::StatusOr<facts::LogPoint> RunEndAt(const facts::LogPoint& common) const;
  // Where this log has so many arrivals.
  absl::StatusOr<facts::LogPoint> PlaceAt(std::uint64_t arrivals) const;

  const store::Store& store_;
  sync::Recovery& server_;
  KnownLog known_;
  PublicKey server_key_{};  // that the server signs with
  bool declined_ = false;   // the server takes nothing back for this head
  int put_offs_ = 0;        // attempts that ended because its log was another one by then
  Result result_;
};

}  // namespace broodpact::replica
