// Entering: invitations, joining by a code, claiming a server.

#include <memory>

#include <fmt/format.h>
#include <openssl/bio.h>
#include <openssl/crypto.h>
#include <openssl/pem.h>

#include "client/base/status.h"
#include "client/replica/internal/certify.h"
#include "client/replica/internal/inviting.h"
#include "client/replica/internal/rep.h"
#include "client/replica/replica.h"
#include "client/sync/invite_code.h"

namespace broodpact::replica {
namespace {

absl::Status AlreadyMember(std::string_view what) {
  return Fail(absl::StatusCode::kFailedPrecondition, "ALREADY_MEMBER", std::string(what));
}

// The server that an invitation names may be gone: another one has its place then.
absl::Status WithMoveHint(const absl::Status& status) {
  return Fail(status.code(), ReasonOf(status),
              fmt::format("{}; if the cooperative has another server since the code was written "
                          "(a registrar names it by `broodpact server name`), ask for a new "
                          "invitation, which leads there",
                          std::string(status.message())));
}

// The commit of an earlier try of the same code, if the store has one: sent again as it was, so
// that a server which let it in before knows it.
absl::StatusOr<std::optional<std::string>> EarlierTry(const store::Store& database,
                                                      const Hash& cooperative,
                                                      const PublicKey& invite_key,
                                                      const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(std::optional<std::string> bytes, database.Meta(kMetaJoining));
  if (!bytes) return bytes;
  const absl::StatusOr<facts::Commit> commit = facts::ParseCommit(*bytes);
  if (!commit.ok() || commit->header.cooperative != cooperative ||
      commit->header.device != device) {
    return std::optional<std::string>();
  }
  return InviteKeyOf(*commit) == invite_key ? bytes : std::optional<std::string>();
}

}  // namespace

absl::StatusOr<Hash> FingerprintOf(const std::string& pem) {
  const std::unique_ptr<BIO, decltype(&BIO_free)> text(
      BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())), BIO_free);
  char* name = nullptr;
  char* header = nullptr;
  unsigned char* der = nullptr;
  long size = 0;
  if (!text || PEM_read_bio(text.get(), &name, &header, &der, &size) != 1) {
    return Fail(absl::StatusCode::kDataLoss, "HOME_DAMAGED",
                "the certificate of the server's authority cannot be read; put the folder back "
                "from a backup");
  }
  const Hash fingerprint =
      Sha256({reinterpret_cast<const char*>(der), static_cast<std::size_t>(size)});
  OPENSSL_free(name);
  OPENSSL_free(header);
  OPENSSL_free(der);
  return fingerprint;
}

absl::StatusOr<std::string> Replica::Rep::InviteBy(
    Replica& replica, const sync::InviteCode& code,
    const std::function<facts::Statement(const PublicKey&)>& statement_for) {
  BP_RETURN_IF_ERROR(CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(ledger->cooperative()));
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NO_SERVER",
                "an invitation names the server, and there is none yet; `broodpact join` with the "
                "code that a fresh server prints claims it");
  }
  sync::InviteCode whole = code;
  BP_ASSIGN_OR_RETURN(whole.authority, FingerprintOf(credentials->authority_pem));
  whole.cooperative = ledger->cooperative();
  whole.secret = randomness.Bytes(sync::kSecretSize);
  whole.address = credentials->address;
  const Hash seed = sync::InviteSeed(whole.cooperative, whole.secret);
  const device::SecretKey invite = device::SecretKey::OfSeed(ViewOf(seed));
  BP_RETURN_IF_ERROR(replica.Act({statement_for(invite.public_key())}).status());
  return sync::BuildInviteCode(whole);
}

absl::StatusOr<std::string> Replica::Invite(facts::Role role, const std::string& keeper_name) {
  return rep_->InviteBy(*this, {}, [&](const PublicKey& key) {
    return facts::Invitation{.invite_key = key, .role = role, .keeper_name = keeper_name};
  });
}

absl::StatusOr<std::string> Replica::InviteDevice(const KeeperId& keeper,
                                                  const std::string& label) {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> known,
                      registry::Read<registry::Keeper>(rep_->Laid(), keeper));
  if (!known) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("no keeper {} here; sync, or look in the lists", ToShortText(keeper)));
  }
  return rep_->InviteBy(
      *this, {.keeper = keeper, .keeper_name = known->name}, [&](const PublicKey& key) {
        return facts::DeviceInvitation{.invite_key = key, .keeper = keeper, .label = label};
      });
}

absl::Status Replica::Join(const std::string& code, const JoinOptions& how) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_ASSIGN_OR_RETURN(const sync::InviteCode invite, sync::ParseInviteCode(code));
  BP_RETURN_IF_ERROR(rep_->CheckNotLost());
  const bool claims = invite.cooperative == Hash{};
  if (claims) {
    BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  } else if (cooperative() != Hash{} && cooperative() != invite.cooperative) {
    return AlreadyMember(
        "this replica belongs to another cooperative; a second one needs a home of its own "
        "(--home)");
  }
  BP_RETURN_IF_ERROR(rep_->CheckMayJoin(invite));
  sync::Credentials credentials{.address = invite.address};
  const absl::StatusOr<std::string> authority =
      rep_->network.FetchAuthority(invite.address, invite.authority);
  if (!authority.ok()) return claims ? authority.status() : WithMoveHint(authority.status());
  credentials.authority_pem = *authority;
  if (claims) {
    BP_RETURN_IF_ERROR(rep_->ClaimServer(invite.secret, credentials));
  } else {
    const Hash seed = sync::InviteSeed(invite.cooperative, invite.secret);
    BP_RETURN_IF_ERROR(
        rep_->JoinCooperative(invite, device::SecretKey::OfSeed(ViewOf(seed)), credentials));
    BP_RETURN_IF_ERROR(rep_->ForgetServerOfNothing());
    if (how.first == FirstSync::kSnapshot && rep_->store->point().arrivals == 0) {
      BP_RETURN_IF_ERROR(rep_->StartFromSnapshot(credentials, how));
    }
  }
  sync::Options options;
  options.now_ms = rep_->clock.NowMillis();
  BP_RETURN_IF_ERROR(
      Annotate(Sync(options).status(), "the server let this replica in; `broodpact sync` goes on"));
  return rep_->KnowSelf();
}

absl::Status Replica::Rep::ForgetServerOfNothing() {
  if (store->point().arrivals > 0) return absl::OkStatus();
  for (const char* const name : {kMetaHead, kMetaPromised}) {
    BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, store->Meta(name));
    if (kept && !kept->empty()) BP_RETURN_IF_ERROR(store->PutMeta(name, ""));
  }
  return absl::OkStatus();
}

absl::Status Replica::Rep::CheckMayJoin(const sync::InviteCode& code) const {
  const bool claims = code.cooperative == Hash{};
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> present, home.ReadCredentials());
  if (!present) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> own,
                      registry::Read<registry::Device>(*store, chain().device));
  if (!own && !claims && store->point().arrivals > 0) return absl::OkStatus();
  absl::Status refused = CheckNotRefused();
  if (ReasonOf(refused) == "DEVICE_LEFT") return refused;
  // Let in by a server that was gone before it sent anything: without a log no registrar is known
  // here who could lead to another one.
  const bool of_authority =
      FingerprintOf(present->authority_pem).value_or(Hash{}) == code.authority;
  const bool elsewhere = present->address != code.address || !of_authority;
  if (!claims && elsewhere && store->point().arrivals == 0) return absl::OkStatus();
  if (!claims && of_authority) {
    // Perhaps the server has never heard of this device, and the invitation that let it in has no
    // place there any more. Only the one that this replica has, or was led to, is believed.
    sync::Credentials asked = *present;
    absl::Status known = Certify(asked, [&](const PublicKey& tls_key) {
      return network.Renew(asked, OwnKey(), tls_key, {});
    });
    if (ReasonOf(known) == "DEVICE_UNKNOWN") return absl::OkStatus();
  }
  return AlreadyMember(
      fmt::format("this replica has a server already, {}; `broodpact sync` exchanges with it",
                  present->address));
}

absl::Status Replica::Rep::ClaimServer(const std::string& secret, sync::Credentials& credentials) {
  facts::SignedCommit founding;
  if (store->point().arrivals > 0) {
    BP_ASSIGN_OR_RETURN(store::StoredArrival first, store->ReadArrival(1));
    founding.bytes = std::move(first.bytes);
    if (first.signature) founding.signature = *first.signature;
  } else if (!undelivered.empty()) {
    founding = undelivered.front().signed_commit;
  }
  BP_RETURN_IF_ERROR(Certify(credentials, [&](const PublicKey& tls_key) {
    return network.Claim(credentials, secret, founding, tls_key);
  }));
  return home.WriteCredentials(credentials);
}

facts::Statement Replica::Rep::JoiningBy(const sync::InviteCode& code, const Signer& invite) const {
  const KeeperId keeper = code.keeper.empty() ? identity.keeper : code.keeper;
  const Signature signature =
      invite.Sign(facts::JoiningMessage(code.cooperative, keeper, identity.device_key));
  if (!code.keeper.empty()) {
    return facts::DeviceJoining{.invite_key = invite.public_key(),
                                .keeper = keeper,
                                .device_key = identity.device_key,
                                .invite_signature = signature};
  }
  return facts::Joining{.invite_key = invite.public_key(),
                        .keeper = keeper,
                        .keeper_name = identity.keeper_name,
                        .device_key = identity.device_key,
                        .invite_signature = signature,
                        .region = identity.region};
}

absl::Status Replica::Rep::JoinCooperative(const sync::InviteCode& code, const Signer& invite,
                                           sync::Credentials& credentials) {
  // Let in before, by a server that is gone: this one may have it from others already.
  if (head.seq > 0 && store->point().arrivals == 0) {
    const absl::Status known = Certify(credentials, [&](const PublicKey& tls_key) {
      return network.Renew(credentials, OwnKey(), tls_key, {});
    });
    if (known.ok()) return home.WriteCredentials(credentials);
    if (ReasonOf(known) != "DEVICE_UNKNOWN") return known;
  }
  const Hash& cooperative = code.cooperative;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> earlier,
                      EarlierTry(*store, cooperative, invite.public_key(), chain().device));
  Draft draft;
  if (earlier) {
    draft.bytes = *earlier;
    BP_ASSIGN_OR_RETURN(draft.commit, facts::ParseCommit(draft.bytes));
  } else {
    // A joining is the first commit of its chain. One of this device that the server lost, and
    // whose invitation somebody else spent then, stands there already.
    if (head.seq > 0) BP_RETURN_IF_ERROR(BeginLife());
    // It rests on nothing of the log: the server may not have come as far as this replica.
    draft.bytes = facts::BuildCommit({.cooperative = cooperative,
                                      .device = chain().device,
                                      .incarnation = identity.incarnation,
                                      .seq = 1,
                                      .clock_ms = clock.NowMillis()},
                                     {JoiningBy(code, invite)});
    BP_ASSIGN_OR_RETURN(draft.commit, facts::ParseCommit(draft.bytes));
    BP_RETURN_IF_ERROR(store->PutMeta(kMetaJoining, draft.bytes));
  }
  const facts::SignedCommit joining{.bytes = draft.bytes,
                                    .signature = facts::SignCommit(OwnKey(), draft.commit.hash)};
  BP_RETURN_IF_ERROR(Certify(credentials, [&](const PublicKey& tls_key) {
    return network.Join(credentials, cooperative, joining, tls_key, OwnKey());
  }));
  if (!code.keeper.empty()) {
    identity.keeper = code.keeper;
    identity.keeper_name = code.keeper_name;
    BP_RETURN_IF_ERROR(home.WriteIdentity(identity));
  }
  // The server has the commit. It is kept as undelivered too, so that the chain goes on from it,
  // until it comes back with its number.
  if (head.seq == 0) {
    BP_RETURN_IF_ERROR(store->AppendPending(
        {{.chain = chain(), .seq = draft.commit.header.seq, .commit = joining}}));
    BP_RETURN_IF_ERROR(Refold());  // which sets the cooperative
  }
  return home.WriteCredentials(credentials);
}

}  // namespace broodpact::replica
