// Clutches, lots and clashes as the messages that are shown.

#include <algorithm>
#include <cstdint>
#include <utility>

#include <fmt/format.h>

#include "client/base/hash.h"
#include "client/registry/index.h"
#include "client/registry/interval.h"
#include "client/registry/version.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {
namespace {

// Clashes about one subject that are shown with it.
constexpr std::size_t kClashesShown = 100;

// What is remarkable about the sires of a clutch; "" if nothing is.
std::string WarningOfSires(const std::vector<AnimalId>& sires, RefBook& refs) {
  if (sires.empty()) return "no sire is known: no pairing since the mother's last moult before it";
  if (sires.size() == 1) return "";
  std::string names;
  for (const AnimalId& sire : sires) {
    names += (names.empty() ? "" : ", ") + refs.Name(sire);
  }
  return fmt::format("several males may be the sire: {}", names);
}

// Adds where a clutch does not go with the agreement that it is under.
void AddWarningsOfAgreement(const registry::Loan& loan, const registry::Clutch& clutch,
                            std::vector<std::string>& warnings) {
  const registry::AgreedVersion version =
      registry::VersionOf(loan, clutch.agreement).value_or(registry::AgreedVersion{});
  const Day signing = DayOfMillis(version.in_force_time_ms);
  if (version.in_force_time_ms != 0 && signing > clutch.laying.latest) {
    warnings.push_back(fmt::format("the agreement was signed on {}, after the sac was laid ({})",
                                   ToText(signing), ToText(clutch.laying)));
  }
  const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version.agreement);
  const std::uint32_t stage = agreement.ok() ? agreement->terms.counting.stage : 0;
  for (const registry::CountRecord& count : clutch.counts) {
    if (count.state != registry::CountState::kStanding) continue;
    if (stage != 0 && count.moult_count != 0 && count.moult_count != stage) {
      warnings.push_back(
          fmt::format("counted at moult {}, and agreed was moult {}", count.moult_count, stage));
    }
  }
}

}  // namespace

v1::Clutch Messages::Of(const registry::Clutch& clutch) {
  v1::Clutch message;
  message.set_id(ToText(clutch.id));
  message.set_name(clutch.name.empty() ? ToShortText(clutch.id) : clutch.name);
  *message.mutable_female() = refs_.Ref(clutch.female);
  message.set_laying_day(ToText(clutch.laying));
  message.set_pulling_day(DayText(clutch.pulling));
  message.set_loss_day(DayText(clutch.loss));
  message.set_loss_cause(clutch.loss_cause);
  message.set_state(std::string(ClutchStateWord(clutch)));
  if (!clutch.loan.empty()) *message.mutable_loan() = refs_.Ref(clutch.loan);
  message.set_hybrid(clutch.hybrid);
  for (const AnimalId& sire : SiresOf(clutch)) *message.add_possible_sires() = refs_.Ref(sire);
  for (const registry::CountRecord& count : clutch.counts) {
    v1::CountEvent& event = *message.add_counts();
    event.set_day(ToText(count.day));
    event.set_slings_living(count.slings_living);
    event.set_slings_dead(count.slings_dead);
    event.set_moult_count(count.moult_count);
    *event.mutable_keeper() = refs_.Ref(count.entry.keeper);
    event.set_state(std::string(CountStateWord(count.state)));
    event.set_token(BytesToHex(ViewOf(count.token.bytes)));
  }
  v1::Accounts& accounts = *message.mutable_accounts();
  accounts.set_slings_hatched(clutch.accounts.hatched);
  accounts.set_slings_living(clutch.accounts.undivided + clutch.accounts.in_lots);
  accounts.set_slings_dead(clutch.accounts.dead);
  accounts.set_slings_raised(clutch.accounts.raised);
  accounts.set_slings_unaccounted(clutch.accounts.unaccounted);
  accounts.set_slings_undivided(clutch.accounts.undivided);
  for (const LotId& id : clutch.lots) {
    if (const auto lot = Find<registry::Lot>(id)) *message.add_lots() = Of(*lot);
  }
  for (std::string& warning : WarningsOf(clutch)) message.add_warnings(std::move(warning));
  *message.mutable_owner() = refs_.Ref(clutch.owner);
  *message.mutable_holder() = refs_.Ref(clutch.holder);
  AddParties(clutch, message);
  for (const registry::Clash& clash : ClashesAbout(clutch.id.bytes)) {
    *message.add_clashes() = Of(clash);
  }
  message.set_standing(StandingOf(registry::Kind::kClutch, clutch.id.bytes));
  return message;
}

void Messages::AddParties(const registry::Clutch& clutch, v1::Clutch& message) {
  for (const registry::PartyShare& share : clutch.parties) {
    v1::PartyShare& party = *message.add_parties();
    *party.mutable_party() = refs_.Ref(share.party);
    *party.mutable_keeper() = refs_.Ref(share.receiver);
    party.set_slings(share.credited);
    party.set_given_up(share.waived);
  }
  if (clutch.offer) *message.mutable_offered() = refs_.Ref(clutch.offer->receiver);
  const auto loan = Find<registry::Loan>(clutch.loan);
  if (!loan) return;
  const auto own = std::ranges::find(clutch.parties, clutch.owner, &registry::PartyShare::receiver);
  const KeeperId party = own != clutch.parties.end() ? own->party : clutch.owner;
  v1::RunningDue& due = *message.mutable_due();
  due = DueOf(*loan, party, clutch.owner);
  // Not whom the loan names now: who has the shares of this clutch, by the version that shares it.
  due.clear_claimants();
  std::vector<KeeperId> claimants{clutch.owner};
  for (const registry::PartyShare& share : clutch.parties) {
    const bool listed = std::ranges::find(claimants, share.receiver) != claimants.end();
    if (share.waived || listed) continue;
    claimants.push_back(share.receiver);
    *due.add_claimants() = refs_.Ref(share.receiver);
  }
}

std::vector<registry::Clash> Messages::ClashesAbout(const IdBytes& subject) {
  std::vector<registry::Clash> clashes;
  const auto ids = IdsBehind<ClashId>(source_, registry::ClashesAbout(subject), kClashesShown);
  if (!ids.ok()) {
    if (status_.ok()) status_ = ids.status();
    return clashes;
  }
  for (const ClashId& id : *ids) {
    if (auto clash = Find<registry::Clash>(id)) clashes.push_back(*std::move(clash));
  }
  std::ranges::stable_sort(clashes, {}, [](const registry::Clash& clash) {
    return clash.entry.arrival - 1;  // what has not arrived comes last
  });
  return clashes;
}

v1::Settlement Messages::Of(const registry::Clash& clash,
                            const registry::SettlementRecord& settlement) {
  v1::Settlement message;
  message.set_token(BytesToHex(ViewOf(settlement.token.bytes)));
  message.set_words(settlement.words);
  *message.mutable_keeper() = refs_.Ref(settlement.entry.keeper);
  if (!settlement.count_token.empty()) {
    message.add_changes(fmt::format("the count {} stands",
                                    BytesToHex(ViewOf(settlement.count_token.bytes)).substr(0, 8)));
  }
  for (const facts::SplitShare& share : settlement.shares) {
    message.add_changes(fmt::format("{} gets {}", refs_.Name(share.keeper), Slings(share.slings)));
  }
  for (const facts::LotMove& move : settlement.moves) {
    message.add_changes(fmt::format("{} of lot {} become {}'s", Slings(move.slings),
                                    ToShortText(move.lot), refs_.Name(move.keeper)));
  }
  for (const KeeperId& party : clash.parties) {
    const bool is_signed = registry::HasSigned(settlement.signatures, party);
    *(is_signed ? message.add_signers() : message.add_missing()) = refs_.Ref(party);
  }
  return message;
}

v1::Lot Messages::Of(const registry::Lot& lot) {
  v1::Lot message;
  message.set_id(ToText(lot.id));
  *message.mutable_clutch() = refs_.Ref(lot.clutch);
  *message.mutable_owner() = refs_.Ref(lot.owner);
  *message.mutable_holder() = refs_.Ref(lot.holder);
  message.set_slings(lot.slings);
  if (!lot.receiver.empty()) *message.mutable_receiver() = refs_.Ref(lot.receiver);
  message.set_slings_dead_on_arrival(lot.dead_on_arrival);
  message.set_slings_made_good(lot.made_good);
  for (const registry::Lease& lease : lot.leases) *message.add_leases() = Of(lease);
  message.set_standing(StandingOf(registry::Kind::kLot, lot.id.bytes));
  return message;
}

v1::Clash Messages::Of(const registry::Clash& clash) {
  v1::Clash message;
  message.set_id(ToText(clash.id));
  message.set_subject(fmt::format("{} {}", KindWord(clash.subject_kind),
                                  refs_.Name(clash.subject_kind, clash.subject)));
  message.set_message(clash.message);
  message.set_reason(clash.reason);
  for (const KeeperId& party : clash.parties) *message.add_parties() = refs_.Ref(party);
  message.set_loser_arrival(Narrow(clash.loser_arrival));
  message.set_winner_arrival(Narrow(clash.winner_arrival));
  message.set_standing(StandingOf(registry::Kind::kClash, clash.id.bytes));
  message.set_state(std::string(ClashStateWord(clash.state)));
  *message.mutable_keeper() = refs_.Ref(clash.entry.keeper);
  for (const registry::SettlementRecord& settlement : clash.settlements) {
    *message.add_settlements() = Of(clash, settlement);
  }
  message.set_outcome(clash.outcome);
  if (!clash.ended.keeper.empty()) *message.mutable_ender() = refs_.Ref(clash.ended.keeper);
  if (!clash.count_token.empty()) {
    message.set_count_token(BytesToHex(ViewOf(clash.count_token.bytes)));
  }
  return message;
}

std::vector<AnimalId> Messages::SiresOf(const registry::Clutch& clutch) {
  const auto female = Find<registry::Animal>(clutch.female);
  if (!female) return {};
  std::vector<registry::Pairing> pairings;
  for (const PairingId& id : female->pairings) {
    if (const auto pairing = Find<registry::Pairing>(id)) pairings.push_back(*pairing);
  }
  return registry::PossibleSires(*female, clutch.laying, pairings);
}

std::vector<std::string> Messages::WarningsOf(const registry::Clutch& clutch) {
  std::vector<std::string> warnings;
  if (std::string of_sires = WarningOfSires(SiresOf(clutch), refs_); !of_sires.empty()) {
    warnings.push_back(std::move(of_sires));
  }
  const auto rival =
      std::ranges::find(clutch.counts, registry::CountState::kRival, &registry::CountRecord::state);
  if (rival != clutch.counts.end()) {
    warnings.push_back(fmt::format("a second count of {} by {} waits for a choice",
                                   Slings(rival->slings_living), refs_.Name(rival->entry.keeper)));
  }
  if (clutch.objections_open > 0) {
    warnings.push_back(fmt::format("{} open: see broodpact clashes",
                                   clutch.objections_open == 1
                                       ? "an objection is"
                                       : fmt::format("{} objections are", clutch.objections_open)));
  }
  if (clutch.shared_out && clutch.accounts.undivided > 0) {
    warnings.push_back(fmt::format("{} not shared out yet", Slings(clutch.accounts.undivided)));
  }
  const auto loan = Find<registry::Loan>(clutch.loan);
  if (loan) AddWarningsOfAgreement(*loan, clutch, warnings);
  return warnings;
}

}  // namespace broodpact::replica
