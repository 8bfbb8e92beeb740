// Another server in place of the one that is gone: giving it the log, naming it, following it.

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/internal/certify.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/inviting.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "client/replica/internal/rotations.h"
#include "client/replica/replica.h"
#include "client/sync/key_list.h"
#include "client/sync/server_code.h"

namespace broodpact::replica {
namespace {

// Whether a device is a registrar's, and may act, as far as is known here.
absl::Status CheckRegistrar(const registry::Source& source, const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> found,
                      registry::Read<registry::Device>(source, device));
  if (found && found->state == registry::DeviceState::kActive) {
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> keeper,
                        registry::Read<registry::Keeper>(source, found->keeper));
    if (keeper && keeper->role == facts::Role::kRegistrar && !keeper->has_left) {
      return absl::OkStatus();
    }
  }
  return Fail(absl::StatusCode::kPermissionDenied, "NOT_REGISTRAR",
              fmt::format("device {} is no registrar's; a server is put in place of another by a "
                          "registrar (`broodpact keeper list`)",
                          ToShortText(device)));
}

// All servers that this replica was at or led to: whoever was cut off on the way to one may have
// led others there.
std::vector<PublicKey> LeftServers(const KnownLog& known) {
  std::vector<PublicKey> keys = known.forsaken;
  for (const PublicKey& key : known.successors) {
    if (std::ranges::find(keys, key) == keys.end()) keys.push_back(key);
  }
  if (keys.size() <= sync::kLeftServersMax) return keys;
  return {keys.end() - sync::kLeftServersMax, keys.end()};
}

absl::Status CheckCooperative(const sync::ServerCode& server, const Hash& cooperative) {
  if (server.cooperative == cooperative) return absl::OkStatus();
  return Fail(absl::StatusCode::kPermissionDenied, "COOPERATIVE_OTHER",
              "that is the code of another cooperative's server");
}

bool IsSignedBy(const PublicKey& key, const sync::ServerCode& server) {
  return VerifySignature(key, sync::ServerCodeMessage(server), server.signature);
}

absl::Status NoHeadError() {
  return Fail(absl::StatusCode::kFailedPrecondition, "NO_HEAD",
              "this replica has nothing that the server before signed; let a registrar do it who "
              "has synced");
}

}  // namespace

absl::StatusOr<Synced> Replica::TakeOverServer(const std::string& claim_code) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(rep_->CheckNotLost());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  BP_ASSIGN_OR_RETURN(const sync::InviteCode code, sync::ParseInviteCode(claim_code));
  if (code.cooperative != Hash{}) {
    return Fail(absl::StatusCode::kInvalidArgument, "CODE_KIND",
                "that code lets a keeper in; a fresh server prints one of its own at its start");
  }
  BP_RETURN_IF_ERROR(CheckRegistrar(rep_->Laid(), DeviceOf(device_key())));
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(*rep_->store));
  if (!known.head || known.head->point.arrivals == 0) return NoHeadError();
  BP_ASSIGN_OR_RETURN(store::StoredArrival first, rep_->store->ReadArrival(1));
  sync::Takeover takeover{.claim_secret = code.secret,
                          .cooperative = cooperative(),
                          .founding = {.bytes = std::move(first.bytes), .signature = {}},
                          .predecessor = *known.head,
                          .left = LeftServers(known)};
  if (first.signature) takeover.founding.signature = *first.signature;
  sync::Credentials credentials{.address = code.address};
  BP_ASSIGN_OR_RETURN(credentials.authority_pem,
                      rep_->network.FetchAuthority(code.address, code.authority));
  PublicKey server_key{};
  BP_RETURN_IF_ERROR(
      Certify(credentials, [&](const PublicKey& tls_key) -> absl::StatusOr<std::string> {
        BP_ASSIGN_OR_RETURN(sync::TakenOver taken,
                            rep_->network.TakeOver(credentials, takeover, tls_key, rep_->OwnKey()));
        server_key = taken.head.server_key;
        return std::move(taken.certificate_pem);
      }));
  return rep_->GoOver(*this, credentials, server_key);
}

absl::StatusOr<std::string> Replica::NameServer() const {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckRegistrar(rep_->Laid(), DeviceOf(device_key())));
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials,
                      rep_->home.ReadCredentials());
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(*rep_->store));
  if (!credentials || !known.head) return NoHeadError();
  sync::ServerCode code{
      .cooperative = cooperative(),
      .authority = {},
      .server_key = known.successors.empty() ? known.head->server_key : known.successors.back(),
      .named_by = DeviceOf(device_key()),
      .signature = {},
      .address = credentials->address};
  BP_ASSIGN_OR_RETURN(code.authority, FingerprintOf(credentials->authority_pem));
  code.signature = rep_->OwnKey().Sign(sync::ServerCodeMessage(code));
  return sync::BuildServerCode(code);
}

absl::StatusOr<Synced> Replica::MoveToServer(const std::string& code) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  BP_ASSIGN_OR_RETURN(const sync::ServerCode server, sync::ParseServerCode(code));
  BP_RETURN_IF_ERROR(CheckCooperative(server, cooperative()));
  BP_RETURN_IF_ERROR(CheckRegistrar(rep_->Laid(), server.named_by));
  BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> registrar, rep_->KeyOf(server.named_by));
  if (!registrar || !IsSignedBy(*registrar, server)) {
    return Fail(absl::StatusCode::kPermissionDenied, "NOT_REGISTRAR",
                "the code is not signed by the registrar that it names; ask for it again");
  }
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(*rep_->store));
  if (std::ranges::find(known.forsaken, server.server_key) != known.forsaken.end()) {
    return Fail(absl::StatusCode::kFailedPrecondition, "SERVER_OLDER",
                "that code leads to a server that this replica has left for another one; ask a "
                "registrar for the code of the present one (`broodpact server name`)");
  }
  BP_RETURN_IF_ERROR(KeepServerCode(*rep_->store, server));
  sync::Credentials credentials{.address = server.address};
  BP_ASSIGN_OR_RETURN(credentials.authority_pem,
                      rep_->network.FetchAuthority(server.address, server.authority));
  const absl::Status certified = Certify(credentials, [&](const PublicKey& tls_key) {
    absl::StatusOr<std::string> pem = rep_->network.Renew(credentials, rep_->OwnKey(), tls_key, {});
    if (ReasonOf(pem.status()) == "DEVICE_UNKNOWN") pem = rep_->JoinAgain(credentials, tls_key);
    return pem;
  });
  const std::string reason = ReasonOf(certified);
  if (reason == "INVITE_UNKNOWN" || reason == "INVITE_USED" || reason == "DEVICE_UNKNOWN") {
    return rep_->AwaitEntrance(credentials, server.server_key);
  }
  BP_RETURN_IF_ERROR(certified);
  return rep_->GoOver(*this, credentials, server.server_key);
}

absl::StatusOr<std::vector<std::string>> Replica::ServerCodes() const {
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(*rep_->store));
  return known.server_codes;
}

absl::Status Replica::VouchForServer(const std::string& code) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  BP_ASSIGN_OR_RETURN(sync::ServerCode server, sync::ParseServerCode(code));
  BP_RETURN_IF_ERROR(CheckCooperative(server, cooperative()));
  BP_RETURN_IF_ERROR(CheckRegistrar(rep_->Laid(), DeviceOf(device_key())));
  BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> named_by, rep_->KeyOf(server.named_by));
  if (!named_by || !IsSignedBy(*named_by, server)) {
    return Fail(
        absl::StatusCode::kPermissionDenied, "CODE_UNSIGNED",
        "the code is not signed by a device that is known here; whoever made it up would be "
        "believed when things arrived");
  }
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials,
                      rep_->home.ReadCredentials());
  if (!credentials) return NoHeadError();
  server.named_by = DeviceOf(device_key());
  server.signature = rep_->OwnKey().Sign(sync::ServerCodeMessage(server));
  BP_RETURN_IF_ERROR(KeepServerCode(*rep_->store, server));
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(*rep_->store));
  BP_ASSIGN_OR_RETURN(const auto recovery, rep_->OpenRecovery(*credentials));
  return recovery->Compare({rep_->store->point()}, known.remembered()).status();
}

absl::StatusOr<std::string> Replica::Rep::JoinAgain(const sync::Credentials& credentials,
                                                    const PublicKey& tls_key) {
  const absl::Status unknown = Fail(
      absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN",
      "the new server does not know this device; what was recorded is kept: once a member who "
      "knows it has gone over and synced, do this again, or ask a registrar for an invitation");
  BP_ASSIGN_OR_RETURN(const auto rotations, RotationsTo(*store, chain().device));
  if (!rotations.empty()) return network.Renew(credentials, OwnKey(), tls_key, rotations);
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> joining, FirstCommit());
  if (!joining) return unknown;
  BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(*joining));
  // A founder's came in by nothing else.
  if (!InviteKeyOf(commit)) return unknown;
  sync::Reentry reentry{
      .cooperative = ledger->cooperative(),
      .joining = {.bytes = *joining, .signature = facts::SignCommit(OwnKey(), commit.hash)},
      .inviting = {}};
  BP_ASSIGN_OR_RETURN(reentry.inviting, InvitingRun(*store, commit));
  return network.JoinAgain(credentials, reentry, tls_key, OwnKey());
}

absl::Status Replica::Rep::AwaitEntrance(const sync::Credentials& credentials,
                                         const PublicKey& server_key) {
  BP_RETURN_IF_ERROR(KeepSuccessor(*store, server_key));
  BP_RETURN_IF_ERROR(home.WriteCredentials(credentials));
  return Fail(absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN",
              "this replica has the new server now, and that one does not know this device yet, "
              "nor by what it came in; what was recorded is kept: sync again once a member who "
              "knows it has gone over and synced; or ask a registrar for a new invitation from "
              "the new server (`broodpact invite`; for a keeper who is known there `broodpact "
              "device invite --for NAME`; then `broodpact sync` there), and enter with it "
              "(`broodpact join -`)");
}

absl::StatusOr<std::optional<std::string>> Replica::Rep::FirstCommit() const {
  const facts::ChainId first_life{.device = chain().device, .incarnation = 1};
  BP_ASSIGN_OR_RETURN(std::optional<std::string> arrived, store->CommitAt(first_life, 1));
  if (arrived) return arrived;
  // After a loss of the server's it waits again.
  for (const Undelivered& one : undelivered) {
    const facts::CommitHeader& header = one.commit.header;
    if (facts::ChainOf(header) == first_life && header.seq == 1) return one.signed_commit.bytes;
  }
  return std::optional<std::string>();
}

void Replica::Rep::ShowLeft(const sync::Head& left, const sync::Credentials& credentials) {
  const absl::StatusOr<bool> stands = IsPlaceOf(*store, left.point);
  // Where something of it was lost, that has been shown already.
  if (!stands.ok() || !*stands) return;
  const auto server = OpenRecovery(credentials);
  // By a registrar's word alone, and where it cannot be had, by the next one's.
  if (server.ok()) (*server)->ReportLoss(left, left.point).status().IgnoreError();
}

absl::StatusOr<Synced> Replica::Rep::GoOver(Replica& replica, const sync::Credentials& credentials,
                                            const PublicKey& server_key) {
  BP_ASSIGN_OR_RETURN(const KnownLog before, ReadKnownLog(*store));
  BP_RETURN_IF_ERROR(KeepSuccessor(*store, server_key));
  BP_RETURN_IF_ERROR(home.WriteCredentials(credentials));
  sync::Options options;
  options.now_ms = clock.NowMillis();
  absl::StatusOr<Synced> synced = replica.Sync(options);
  if (synced.ok() && before.head) ShowLeft(*before.head, credentials);
  if (synced.ok()) return synced;
  return Annotate(synced.status(), "this replica has the new server; `broodpact sync` goes on");
}

}  // namespace broodpact::replica
