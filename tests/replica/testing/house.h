#pragma once

// A cooperative with a server that is no program: a log in a folder, which keepers' replicas reach
// by a network of function calls. It has a snapshot where a test says so, sound or spoilt, and
// loses a part of its log.

#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "client/replica/ledger.h"
#include "client/replica/replica.h"
#include "client/store/store.h"
#include "client/sync/snapshot.h"
#include "tests/replica/testing/surroundings.h"

namespace broodpact::testing {

// A snapshot with its parts, as a server has it.
struct TrialSnapshot {
  sync::SnapshotManifest manifest;
  std::vector<std::string> parts;  // unpacked
  std::vector<sync::Attestation> attestations;
};

// Takes one of a whole replica as it is; `vouchers` are those of its log.
TrialSnapshot SnapshotOf(const store::Store& database, const Hash& cooperative);

// Stops the test program where it cannot go on. Not thread-safe.
class House {
 public:
  House();
  ~House();

  // Founds the cooperative and claims the server.
  void Found(const std::string& keeper);
  // Invites, joins and syncs.
  void Enter(const std::string& keeper, const replica::JoinOptions& options = {});
  replica::Replica& At(const std::string& keeper);
  replica::Replica& OpenToSync(const std::string& keeper);  // which is closed
  void Close(const std::string& keeper);
  replica::Home HomeOf(const std::string& keeper) const {
    return replica::Home(folder_.path() / keeper);
  }
  absl::StatusOr<replica::Synced> Sync(const std::string& keeper);
  absl::StatusOr<replica::FilledHistory> Fill(const std::string& keeper);
  // States so many groups, a commit each, and delivers them.
  void AddGroups(const std::string& keeper, int count);

  // Takes a snapshot of the server's state.
  void TakeSnapshot();

  // Puts the server back to where its log had so many arrivals, which was the end of a run. It
  // takes nothing back: what it lost is for the authors to deliver again.
  void Lose(std::uint64_t arrivals);
  // Puts back what it lost last, each arrival at its place, up to so many: the end of a run. As if
  // some keeper gave it back; nothing where it is there again.
  void Regain(std::uint64_t arrivals);

  store::Store& server() { return *server_; }
  FakeClock& clock() { return clock_; }  // of the server and all keepers
  Hash cooperative() const;

  // What the server offers; nothing: none.
  std::optional<TrialSnapshot> snapshot;
  // A session that begins with an empty log hears of so many arrivals only.
  std::optional<std::uint64_t> owned_up_to;
  // A session ends with SERVER_AWAY after so many ranges.
  std::optional<int> ranges_left;
  std::size_t slice_bytes = 2'000;  // of one range
  // A session tells of losses only as it ends with SERVER_AWAY, and not before its ranges.
  bool tells_losses_last = false;
  // Judges a run that is pushed; empty: all is taken.
  std::function<absl::Status(const std::vector<facts::SignedCommit>& run)> door;
  // A session hears a head of so many arrivals too, of a log that is not the server's.
  std::optional<std::uint64_t> forks_at;
  // What the server says when two logs are to be compared; OK: it compares them.
  absl::Status answer_to_comparison;
  // What the server says when it is shown its head of a log that it lost; OK: it admits the loss.
  absl::Status answer_to_loss;
  // Called as the server is asked either, before it answers; may be empty.
  std::function<void()> on_comparison;
  std::function<void()> on_loss;
  // What becomes of that log: its authors deliver it again; or it arrives again from whoever has
  // it, with its first times where those are proved, or as new because no head is believed.
  enum class Again { kByAuthors, kProved, kAsNew };
  Again again = Again::kByAuthors;
  // Whether it takes back what follows on its log, from whoever has it under a head of its own.
  bool takes_back = false;
  std::function<void()> on_joined;  // called when the server has let somebody in; may be empty

 private:
  friend class HouseNetwork;
  friend class HouseRecovery;

  replica::Surroundings SurroundingsOf(const std::string& keeper);
  void Arrive(const std::vector<facts::SignedCommit>& run);
  void Append(std::string_view records);
  sync::Head HeadAt(std::uint64_t arrivals) const;
  // One that the server signs of another log.
  sync::Head OtherHeadAt(std::uint64_t arrivals) const;
  std::unique_ptr<sync::Recovery> OpenRecovery();

  TempFolder folder_;
  FakeClock clock_;
  SeededRandomness randomness_;
  device::SecretKey log_key_;
  std::unique_ptr<store::Store> server_;
  std::unique_ptr<store::Store> lost_;  // the log that was there before the last loss
  std::unique_ptr<replica::Ledger> ledger_;
  sync::Epochs epochs_;  // one a loss that it has admitted
  std::map<std::string, std::unique_ptr<sync::Network>> networks_;
  std::map<std::string, std::unique_ptr<replica::Replica>> open_;
  std::string founder_;
  int groups_ = 0;
  int losses_ = 0;
};

}  // namespace broodpact::testing
