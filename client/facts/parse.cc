#include "client/facts/internal/parse.h"

#include <algorithm>
#include <array>
#include <memory>

#include <fmt/format.h>
#include <google/protobuf/arena.h>

#include "broodpact/v1/commit.pb.h"
#include "client/base/status.h"
#include "client/facts/commit.h"
#include "client/facts/internal/fields.h"
#include "client/facts/internal/message.h"

namespace broodpact::facts {
namespace {

using internal::Fault;
using internal::Fields;
using internal::Parse;

constexpr int kSubjectsMax = 16;

absl::Status CommitFault(std::string_view wrong) {
  return Fail(absl::StatusCode::kInvalidArgument, "COMMIT_FORM", fmt::format("commit: {}", wrong));
}

// The memory of one thread for the messages that it reads, used again and again: a fresh arena a
// commit costs more than its parse. What was read does not depend on it.
class Workspace {
 public:
  Workspace() : arena_(OptionsFor(block_)) {}

  google::protobuf::Arena& arena() { return arena_; }

 private:
  // Holds nearly every commit whole.
  using Block = std::array<char, 16'384>;

  static google::protobuf::ArenaOptions OptionsFor(Block& block) {
    google::protobuf::ArenaOptions options;
    options.initial_block = block.data();
    options.initial_block_size = block.size();
    return options;
  }

  alignas(8) Block block_{};
  google::protobuf::Arena arena_;
};

Unknown ParseUnknown(const v1::Statement& from, Fields& fields) {
  Unknown unknown;
  if (from.subject_ids_size() > kSubjectsMax) {
    fields.Note(Fault::kForm, "list of subjects", "is too long");
    return unknown;
  }
  unknown.subjects.reserve(static_cast<std::size_t>(from.subject_ids_size()));
  for (const std::string& subject : from.subject_ids()) {
    unknown.subjects.push_back(fields.Fixed<IdBytes>("id of a subject", subject));
  }
  return unknown;
}

// NOLINTNEXTLINE(readability-function-size): a switch that only says who parses which kind.
Statement ParseStatement(const v1::Statement& from, Fields& fields) {
  using From = v1::Statement;
  // A known kind beside one that is not known: a later program takes the last of them, and this one
  // would state something else.
  if (!from.GetReflection()->GetUnknownFields(from).empty()) return ParseUnknown(from, fields);
  switch (from.kind_case()) {
    case From::kFounding:
      return Parse(from.founding(), fields);
    case From::kInvitation:
      return Parse(from.invitation(), fields);
    case From::kJoining:
      return Parse(from.joining(), fields);
    case From::kRestatement:
      return Parse(from.restatement(), fields);
    case From::kGroupEntry:
      return Parse(from.group_entry(), fields);
    case From::kAnimalEntry:
      return Parse(from.animal_entry(), fields);
    case From::kMoult:
      return Parse(from.moult(), fields);
    case From::kMaturity:
      return Parse(from.maturity(), fields);
    case From::kSexClaim:
      return Parse(from.sex_claim(), fields);
    case From::kDeath:
      return Parse(from.death(), fields);
    case From::kGift:
      return Parse(from.gift(), fields);
    case From::kNameUse:
      return Parse(from.name_use(), fields);
    case From::kGroupMove:
      return Parse(from.group_move(), fields);
    case From::kFounderKinship:
      return Parse(from.founder_kinship(), fields);
    case From::kGroupClosure:
      return Parse(from.group_closure(), fields);
    case From::kLoanProposal:
      return Parse(from.loan_proposal(), fields);
    case From::kLoanSignature:
      return Parse(from.loan_signature(), fields);
    case From::kLoanRefusal:
      return Parse(from.loan_refusal(), fields);
    case From::kLoanAmendment:
      return Parse(from.loan_amendment(), fields);
    case From::kDispatch:
      return Parse(from.dispatch(), fields);
    case From::kReceipt:
      return Parse(from.receipt(), fields);
    case From::kLoanClosure:
      return Parse(from.loan_closure(), fields);
    case From::kPairing:
      return Parse(from.pairing(), fields);
    case From::kSacLaying:
      return Parse(from.sac_laying(), fields);
    case From::kSacPulling:
      return Parse(from.sac_pulling(), fields);
    case From::kSacLoss:
      return Parse(from.sac_loss(), fields);
    case From::kCount:
      return Parse(from.count(), fields);
    case From::kSplitRecord:
      return Parse(from.split_record(), fields);
    case From::kLotDispatch:
      return Parse(from.lot_dispatch(), fields);
    case From::kLotReceipt:
      return Parse(from.lot_receipt(), fields);
    case From::kLotLoss:
      return Parse(from.lot_loss(), fields);
    case From::kLotRaising:
      return Parse(from.lot_raising(), fields);
    case From::kObjection:
      return Parse(from.objection(), fields);
    case From::kClashWithdrawal:
      return Parse(from.clash_withdrawal(), fields);
    case From::kClashSettlement:
      return Parse(from.clash_settlement(), fields);
    case From::kClashSignature:
      return Parse(from.clash_signature(), fields);
    case From::kLateHatching:
      return Parse(from.late_hatching(), fields);
    case From::kShareWaiver:
      return Parse(from.share_waiver(), fields);
    case From::kLotReturn:
      return Parse(from.lot_return(), fields);
    case From::kLotPassing:
      return Parse(from.lot_passing(), fields);
    case From::kLotDivision:
      return Parse(from.lot_division(), fields);
    case From::kLotMerging:
      return Parse(from.lot_merging(), fields);
    case From::kSuccession:
      return Parse(from.succession(), fields);
    case From::kSacGift:
      return Parse(from.sac_gift(), fields);
    case From::kDueAcceptance:
      return Parse(from.due_acceptance(), fields);
    case From::kPlanVeto:
      return Parse(from.plan_veto(), fields);
    case From::kWant:
      return Parse(from.want(), fields);
    case From::kWantEnd:
      return Parse(from.want_end(), fields);
    case From::kTermsForm:
      return Parse(from.terms_form(), fields);
    case From::kCountWitness:
      return Parse(from.count_witness(), fields);
    case From::kDeviceInvitation:
      return Parse(from.device_invitation(), fields);
    case From::kDeviceJoining:
      return Parse(from.device_joining(), fields);
    case From::kRevocation:
      return Parse(from.revocation(), fields);
    case From::kAdoption:
      return Parse(from.adoption(), fields);
    case From::kKeyRotation:
      return Parse(from.key_rotation(), fields);
    case From::kRoleChange:
      return Parse(from.role_change(), fields);
    case From::kMotionSignature:
      return Parse(from.motion_signature(), fields);
    case From::kLeaving:
      return Parse(from.leaving(), fields);
    case From::kLeaseTaking:
      return Parse(from.lease_taking(), fields);
    case From::kLeaseRelease:
      return Parse(from.lease_release(), fields);
    case From::kSealingKeyEntry:
      return Parse(from.sealing_key_entry(), fields);
    case From::kSealedEntry:
      return Parse(from.sealed_entry(), fields);
    case From::kResealing:
      return Parse(from.resealing(), fields);
    case From::KIND_NOT_SET:
      break;
  }
  return ParseUnknown(from, fields);
}

// Whether this founds a cooperative: it then carries no id of one, as that id is its own hash.
bool IsFounding(const v1::Commit& from) {
  return from.statements_size() == 1 && from.statements(0).has_founding() && from.seq() == 1 &&
         from.seen_arrivals() == 0;
}

CommitHeader ParseHeader(const v1::Commit& from, Fields& fields) {
  CommitHeader header;
  if (!from.cooperative_id().empty() || !IsFounding(from)) {
    header.cooperative = fields.Fixed<Hash>("id of the cooperative", from.cooperative_id());
  }
  header.device = fields.Required<DeviceId>("device", from.device_id());
  header.incarnation = from.incarnation();
  if (header.incarnation == 0) fields.Missing("incarnation");
  header.seq = from.seq();
  if (header.seq == 0) fields.Missing("place in the chain");
  if (header.seq > 1) {
    header.prev = fields.Fixed<Hash>("hash of the commit before", from.prev());
  } else if (!from.prev().empty()) {
    fields.Note(Fault::kForm, "hash of the commit before", "has no place in a first commit");
  }
  header.seen.arrivals = from.seen_arrivals();
  if (header.seen.arrivals > 0) {
    header.seen.log_hash = fields.Fixed<IdBytes>("hash of the log seen", from.seen_hash());
  } else if (!from.seen_hash().empty()) {
    fields.Note(Fault::kForm, "hash of the log seen", "has no place where nothing was seen");
  }
  header.clock_ms = from.clock_ms();
  return header;
}

absl::StatusOr<Commit> Take(const v1::Commit& from, const Hash& hash) {
  if (from.statements().empty()) return CommitFault("it states nothing");
  if (static_cast<std::size_t>(from.statements_size()) > kStatementsMax) {
    return CommitFault(fmt::format("it has {} statements; at most {} are allowed",
                                   from.statements_size(), kStatementsMax));
  }
  Fields fields;
  Commit commit;
  commit.hash = hash;
  commit.header = ParseHeader(from, fields);
  commit.statements.reserve(static_cast<std::size_t>(from.statements_size()));
  for (const v1::Statement& statement : from.statements()) {
    fields.EnterStatement(commit.statements.size() + 1);
    commit.statements.push_back(ParseStatement(statement, fields));
  }
  BP_RETURN_IF_ERROR(fields.status());
  return commit;
}

absl::StatusOr<Commit> Read(std::string_view bytes, const Hash& hash, v1::Commit& message) {
  if (const auto fault = internal::ReadMessage(bytes, message)) {
    if (fault->text_at.empty()) {
      return CommitFault("the bytes are not one; they may be damaged, fetch them again");
    }
    return Fail(absl::StatusCode::kInvalidArgument, "TEXT_MALFORMED",
                fmt::format("{} is not UTF-8; enter it again", fault->text_at));
  }
  return Take(message, hash);
}

bool Restates(const v1::Commit& commit) {
  return std::ranges::any_of(commit.statements(), [](const v1::Statement& statement) {
    return statement.has_restatement() || statement.has_adoption();
  });
}

// The commit within a restatement. Its message has memory of its own: the workspace holds the one
// around it, and is emptied with that.
absl::StatusOr<Commit> ReadWithin(const std::string& bytes) {
  if (bytes.empty() || bytes.size() > kOwnCommitBytesMax) {
    return CommitFault(fmt::format("one that is stated again has 1 to {} bytes, not {}",
                                   kOwnCommitBytesMax, bytes.size()));
  }
  v1::Commit message;
  if (internal::ReadMessage(bytes, message)) {
    return CommitFault("the bytes of one that is stated again are not a commit");
  }
  if (Restates(message)) {
    return CommitFault("a restatement is not stated again; state what it states");
  }
  return Take(message, Sha256(bytes));
}

// What both statements that carry a signed commit say of it.
template <typename Kind, typename Message>
Kind ReadCarried(const Message& from, internal::Fields& fields) {
  Kind carried{.commit = from.commit()};
  carried.signature = fields.Fixed<Signature>("signature", from.signature());
  absl::StatusOr<Commit> told = ReadWithin(from.commit());
  if (told.ok()) {
    carried.told = std::make_shared<const Commit>(*std::move(told));
  } else {
    fields.Note(internal::Fault::kForm, told.status());
  }
  return carried;
}

}  // namespace

Restatement internal::Parse(const v1::Restatement& from, Fields& fields) {
  fields.EnterKind("restatement");
  return ReadCarried<Restatement>(from, fields);
}

Adoption internal::Parse(const v1::Adoption& from, Fields& fields) {
  fields.EnterKind("adoption");
  return ReadCarried<Adoption>(from, fields);
}

absl::StatusOr<Commit> ParseCommit(std::string_view bytes) {
  return ParseCommit(bytes, Sha256(bytes));
}

absl::StatusOr<Commit> ParseCommit(std::string_view bytes, const Hash& hash) {
  if (bytes.size() > kCommitBytesMax) {
    return Fail(absl::StatusCode::kInvalidArgument, "COMMIT_TOO_LONG",
                fmt::format("the commit has {} bytes; at most {} are allowed", bytes.size(),
                            kCommitBytesMax));
  }
  thread_local Workspace workspace;
  google::protobuf::Arena& arena = workspace.arena();
  auto commit = Read(bytes, hash, *google::protobuf::Arena::CreateMessage<v1::Commit>(&arena));
  arena.Reset();
  return commit;
}

}  // namespace broodpact::facts
