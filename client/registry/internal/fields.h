#pragma once

// The members of every subject in the order of their encoding: one list, which Encode and Decode
// both walk, so that they cannot disagree.

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <tuple>
#include <type_traits>

#include "client/registry/subject.h"

namespace broodpact::registry {

// What an encoded subject begins with.
inline constexpr std::uint64_t kSubjectFormat = 1;

// How many of its last fields a subject did not have at first. Where it was written by earlier
// rules they are missing, and read as empty: until the fold is made anew, it can be read as it is.
template <typename Subject>
inline constexpr std::size_t kFieldsAdded = 0;
template <>
inline constexpr std::size_t kFieldsAdded<Animal> = 1;
template <>
inline constexpr std::size_t kFieldsAdded<Clutch> = 2;

// `Value`, const or not.
template <typename Value, typename Struct>
concept AnyConst = std::same_as<std::remove_const_t<Value>, Struct>;

template <AnyConst<DaySpan> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.earliest, v.latest, v.certainty);
}

template <AnyConst<Entry> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.arrival, v.time_ms, v.keeper);
}

template <AnyConst<Cooperative> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.name, v.entry, v.keepers, v.groups, v.animals, v.loans, v.clutches,
                  v.frozen, v.registrars, v.voters);
}

template <AnyConst<Keeper> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.name, v.role, v.region, v.devices, v.successor, v.succession, v.entry,
                  v.left, v.has_left, v.leaving_reason, v.role_change);
}

template <AnyConst<ChainCut> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.incarnation, v.seq, v.hash);
}

template <AnyConst<Device> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.key, v.keeper, v.entry, v.label, v.admitted_by, v.state, v.cut, v.awaited,
                  v.successor, v.reason, v.ended);
}

template <AnyConst<Invite> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.key, v.role, v.spent_by, v.spent_arrival, v.entry, v.keeper, v.device,
                  v.label);
}

template <AnyConst<NameRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.name, v.status, v.since, v.source, v.entry);
}

template <AnyConst<FounderRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.numerator, v.denominator, v.reason, v.entry);
}

template <AnyConst<Group> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.name, v.taxon, v.locality, v.line, v.entry, v.names, v.successor,
                  v.closure_reason, v.closure, v.founder_kinships);
}

template <AnyConst<GroupRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.group, v.reason, v.entry);
}

template <AnyConst<MoultRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.day, v.moult_count, v.entry);
}

template <AnyConst<SexRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.sex, v.method, v.day, v.entry);
}

template <AnyConst<CustodyRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.keeper, v.token, v.arrival);
}

template <AnyConst<DueRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.loan, v.party, v.keeper, v.entry);
}

template <AnyConst<DueVersion> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.loan, v.keeper, v.agreement);
}

template <AnyConst<DueOffer> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.receiver, v.loans, v.token, v.moves, v.entry);
}

template <AnyConst<Lease> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.kind, v.device, v.keeper, v.slings, v.until, v.entry);
}

template <AnyConst<Animal> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.group, v.name, v.owner, v.holder, v.owner_token, v.holder_token,
                  v.owner_arrival, v.holder_arrival, v.receiver, v.loan, v.sex, v.hatching,
                  v.maturity, v.death, v.death_cause, v.sire, v.dam, v.clutch, v.moults,
                  v.sex_claims, v.pairings, v.clutches, v.past_owners, v.past_holders, v.dues,
                  v.offer, v.entry, v.hybrid, v.past_groups, v.offspring, v.leases, v.due_versions);
}

template <AnyConst<SignatureRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.keeper, v.entry);
}

template <AnyConst<Motion> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.what, v.keeper, v.role, v.device, v.cut, v.awaited, v.reason,
                  v.signatures, v.state, v.carried, v.entry);
}

template <AnyConst<LoanVersion> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.agreement, v.digest, v.state, v.parties, v.signatures, v.open_until,
                  v.in_force_arrival, v.in_force_time_ms, v.reason, v.ended);
}

template <AnyConst<SacTally> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.female, v.sacs);
}

template <AnyConst<shares::SireOwner> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.keeper, v.pairings, v.paired_last);
}

template <AnyConst<shares::Occasion> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.sac_number, v.carried_slings, v.sire_owners);
}

template <AnyConst<Form> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.name, v.terms, v.token, v.version, v.keeper, v.entry);
}

template <AnyConst<Carry> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.slings, v.splits, v.clutch, v.entry);
}

template <AnyConst<Loan> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.name, v.agreement, v.agreement_digest, v.animal, v.lender, v.borrower,
                  v.return_day, v.state, v.parties, v.signatures, v.in_force_arrival,
                  v.in_force_time_ms, v.open_until, v.versions, v.dispatch, v.receipt, v.closure,
                  v.reason, v.ended, v.sacs, v.entry);
}

template <AnyConst<Pairing> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.male, v.female, v.day, v.outcome, v.loan, v.male_owner, v.entry, v.hybrid,
                  v.claimed);
}

template <AnyConst<CountRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.token, v.day, v.slings_living, v.slings_dead, v.moult_count, v.state, v.witness,
                  v.entry);
}

template <AnyConst<Accounts> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.hatched, v.undivided, v.in_lots, v.dead, v.raised, v.unaccounted);
}

template <AnyConst<facts::SplitShare> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.keeper, v.slings, v.lot);
}

template <AnyConst<facts::LotMove> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.lot, v.keeper, v.slings, v.new_lot);
}

template <AnyConst<SlingEvent> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.kind, v.day, v.slings, v.dead, v.lot, v.keeper, v.other, v.animal, v.words,
                  v.entry);
}

template <AnyConst<PartyShare> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.party, v.receiver, v.credited, v.waived);
}

template <AnyConst<SettlementRecord> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.token, v.words, v.count_token, v.shares, v.moves, v.signatures, v.entry);
}

template <AnyConst<LotsMade> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.keeper, v.lots);
}

template <AnyConst<Clutch> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.name, v.female, v.owner, v.holder, v.laying, v.pulling, v.loss,
                  v.loss_cause, v.loan, v.agreement, v.counts, v.accounts, v.shared_out, v.occasion,
                  v.split_count, v.slings_by_ratio, v.shares, v.lots, v.split, v.parties,
                  v.objections_open, v.offer, v.events, v.entry, v.hybrid, v.raised, v.lots_made,
                  v.number_given_back);
}

template <AnyConst<Lot> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.clutch, v.owner, v.holder, v.receiver, v.slings, v.slings_dispatched,
                  v.dispatch, v.receipt, v.source, v.raised, v.dead, v.receipt_arrival,
                  v.dead_on_arrival, v.made_good, v.replaces, v.sender, v.events, v.entry,
                  v.leases);
}

template <AnyConst<Clash> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.subject_kind, v.subject, v.reason, v.message, v.parties, v.loser_commit,
                  v.loser_arrival, v.winner_arrival, v.state, v.count_token, v.settlements,
                  v.outcome, v.ended, v.entry);
}

template <AnyConst<Frozen> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.entry);
}

template <AnyConst<Veto> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.keeper, v.animal, v.other_animal, v.other_keeper, v.stance, v.entry);
}

template <AnyConst<Want> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.keeper, v.group, v.what, v.count, v.until, v.note, v.state, v.entry);
}
template <AnyConst<Branch> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.device, v.incarnation, v.seq, v.commit, v.entry);
}

template <AnyConst<CountedCommit> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.token, v.arrival);
}

template <AnyConst<Stretch> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.counted, v.told);
}

template <AnyConst<SealingKey> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.key, v.entry);
}

template <AnyConst<SealedCopy> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.keeper, v.token, v.sealed);
}

template <AnyConst<SealedNote> Value>
auto FieldsOf(Value& v) {
  return std::tie(v.id, v.subject_kind, v.subject, v.field, v.keeper, v.readers, v.until, v.copies,
                  v.state, v.concurrent, v.ended, v.entry);
}

// The largest value of each enumeration that is encoded: what lies beyond does not decode.
constexpr Certainty LastOf(Certainty) {
  return Certainty::kBoth;
}
constexpr Kind LastOf(Kind) {
  return kKindLast;
}
constexpr NoteState LastOf(NoteState) {
  return NoteState::kTakenBack;
}
constexpr facts::SealedSubject LastOf(facts::SealedSubject) {
  return facts::SealedSubject::kClutch;
}
constexpr facts::SealedField LastOf(facts::SealedField) {
  return facts::SealedField::kNote;
}
constexpr DeviceState LastOf(DeviceState) {
  return DeviceState::kLeft;
}
constexpr MotionMatter LastOf(MotionMatter) {
  return MotionMatter::kRevocation;
}
constexpr MotionState LastOf(MotionState) {
  return MotionState::kCarried;
}
constexpr LeaseKind LastOf(LeaseKind) {
  return LeaseKind::kSlings;
}
constexpr WantState LastOf(WantState) {
  return WantState::kEnded;
}
constexpr facts::VetoStance LastOf(facts::VetoStance) {
  return facts::VetoStance::kLifted;
}
constexpr facts::WantKind LastOf(facts::WantKind) {
  return facts::WantKind::kFemale;
}
constexpr LoanState LastOf(LoanState) {
  return LoanState::kClosed;
}
constexpr VersionState LastOf(VersionState) {
  return VersionState::kReplaced;
}
constexpr CountState LastOf(CountState) {
  return CountState::kSame;
}
constexpr ClashState LastOf(ClashState) {
  return ClashState::kWithdrawn;
}
constexpr SlingEventKind LastOf(SlingEventKind) {
  return SlingEventKind::kReplaced;
}
constexpr facts::Role LastOf(facts::Role) {
  return facts::Role::kObserver;
}
constexpr facts::Sex LastOf(facts::Sex) {
  return facts::Sex::kMale;
}
constexpr facts::SexMethod LastOf(facts::SexMethod) {
  return facts::SexMethod::kAdultForm;
}
constexpr facts::NameStatus LastOf(facts::NameStatus) {
  return facts::NameStatus::kTradeName;
}
constexpr facts::PairingOutcome LastOf(facts::PairingOutcome) {
  return facts::PairingOutcome::kMaleEaten;
}

}  // namespace broodpact::registry
