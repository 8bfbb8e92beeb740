// Dues that run with a mated female or a sac when they change hands: SacGift, DueAcceptance.

#include <algorithm>

#include "fmt/core.h"

#include "client/registry/female_dues.h"
#include "client/registry/internal/leases.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

template <typename Subject, typename AnyId>
void AddFound(Case& c, const std::vector<AnyId>& ids, std::vector<Subject>& found) {
  for (const AnyId& id : ids) {
    if (const Subject* subject = c.state.Find<Subject>(id)) found.push_back(*subject);
  }
}

std::string NamesOf(Case& c, const std::vector<LoanId>& loans) {
  std::string names;
  for (const LoanId& loan : loans) {
    names += (names.empty() ? "" : ", ") + NameOf(Known<Loan>(c, loan));
  }
  return names;
}

// `agreements`: the digests that are to be signed for the loans of the offer.
Finding CheckOffer(Case& c, const std::optional<DueOffer>& offer, const facts::DueAcceptance& s,
                   const std::vector<Hash>& agreements) {
  if (!offer.has_value() || offer->token != s.offer) {
    return Superseded("OFFER_REPLACED", "that offer does not stand any more; look and accept again",
                      offer.has_value() ? offer->entry.arrival : 0);
  }
  if (!ActsFor(c, offer->receiver)) {
    return Void("NOT_RECEIVER",
                fmt::format("it was offered to {}, not to you", NameOf(c, offer->receiver)));
  }
  if (agreements == s.agreement_digests) return std::nullopt;
  return Refused("DIGEST_OTHER", fmt::format("what you signed is not the agreement of {}; read it "
                                             "again and sign that",
                                             NamesOf(c, offer->loans)));
}

// The versions of the agreements whose dues are offered with her.
std::vector<Hash> VersionsOf(Case& c, const Animal& female) {
  std::vector<Hash> digests;
  if (!female.offer.has_value()) return digests;
  for (const LoanId& id : female.offer->loans) {
    digests.push_back(VersionOfDue(female, Known<Loan>(c, id)));
  }
  return digests;
}

// Puts the receiver into the place of the giver in each loan whose due runs.
void TakeOver(Case& c, Animal& female, const DueOffer& offer, const KeeperId& giver) {
  for (const LoanId& id : offer.loans) {
    const Loan& loan = Known<Loan>(c, id);
    const KeeperId seat = SeatOf(female, loan, giver);
    const Hash version = VersionOfDue(female, loan);
    std::erase_if(female.dues,
                  [&](const DueRecord& due) { return due.loan == id && due.party == seat; });
    female.dues.push_back({.loan = id, .party = seat, .keeper = offer.receiver, .entry = c.entry});
    std::erase_if(female.due_versions, [&](const DueVersion& due) { return due.loan == id; });
    female.due_versions.push_back({.loan = id, .keeper = offer.receiver, .agreement = version});
  }
}

Finding AcceptAnimal(Case& c, const facts::DueAcceptance& s) {
  const Animal* animal = c.state.Find<Animal>(s.animal);
  if (animal == nullptr) return UnknownSubject("animal", s.animal.bytes);
  if (Finding f = CheckOffer(c, animal->offer, s, VersionsOf(c, *animal))) return f;
  const DueOffer offer = animal->offer.value_or(DueOffer{});  // CheckOffer: there is one
  if (!animal->loan.empty()) {
    return Refused("PROMISED_TO_LOAN",
                   fmt::format("{} is promised by {} meanwhile", NameOf(*animal),
                               NameOf(Known<Loan>(c, animal->loan))));
  }
  if (Finding f = CheckSaidUnderLease(c, *animal, offer.entry.arrival, "gift")) return f;
  if (Finding f = CheckDisclosure(c, NameOf(*animal), DuesRunningWith(c, *animal), offer.loans)) {
    return f;
  }
  if (Finding f = CheckRoom(animal->dues.size() + offer.loans.size(), "dues")) return f;
  Animal& given = c.state.Edit<Animal>(s.animal);
  const KeeperId giver = given.owner;
  TakeOver(c, given, offer, giver);
  PassOwnership(c, given, offer.receiver);
  if (offer.moves && given.holder == giver) {
    PassHolding(c, given, offer.receiver);
    given.receiver = {};
  }
  given.offer.reset();
  return std::nullopt;
}

Finding CheckGivable(Case& c, const Clutch& clutch) {
  if (clutch.loss.has_value()) {
    return Refused("SAC_LOST", fmt::format("{} is recorded as lost on {}", NameOf(clutch),
                                           ToText(*clutch.loss)));
  }
  if (clutch.shared_out) {
    return Superseded("ALREADY_SHARED",
                      fmt::format("{} has been shared out by {}; give lots of it", NameOf(clutch),
                                  NameOf(c, clutch.split.keeper)),
                      clutch.split.arrival);
  }
  return CheckShareOfRoom(c, clutch.events, "events");
}

Finding AcceptClutch(Case& c, const facts::DueAcceptance& s) {
  const Clutch* before = c.state.Find<Clutch>(s.clutch);
  if (before == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  // It is shared by this version, whatever is in force by now.
  const std::vector<Hash> agreements =
      before->loan.empty() ? std::vector<Hash>{} : std::vector<Hash>{before->agreement};
  if (Finding f = CheckOffer(c, before->offer, s, agreements)) return f;
  const DueOffer offer = before->offer.value_or(DueOffer{});  // CheckOffer: there is one
  if (Finding f = CheckGivable(c, *before)) return f;
  Clutch& clutch = c.state.Edit<Clutch>(s.clutch);
  const KeeperId giver = clutch.owner;
  for (PartyShare& share : clutch.parties) {
    if (share.receiver == giver) share.receiver = offer.receiver;
  }
  clutch.owner = offer.receiver;
  if (offer.moves && clutch.holder == giver) clutch.holder = offer.receiver;
  clutch.offer.reset();
  clutch.events.push_back(
      {.kind = SlingEventKind::kGiven, .keeper = offer.receiver, .other = giver, .entry = c.entry});
  return std::nullopt;
}

}  // namespace

std::vector<LoanId> DuesRunningWith(Case& c, const Animal& female) {
  Mating mating;
  AddFound(c, female.pairings, mating.pairings);
  AddFound(c, female.clutches, mating.clutches);
  std::vector<LoanId> loans;
  for (const Pairing& pairing : mating.pairings) {
    const bool named = std::ranges::find(loans, pairing.loan) != loans.end();
    if (!named && !pairing.loan.empty()) loans.push_back(pairing.loan);
  }
  AddFound(c, loans, mating.loans);
  return DuesOf(female, mating);
}

Finding CheckDisclosure(Case& c, std::string_view what, const std::vector<LoanId>& running,
                        const std::vector<LoanId>& disclosed) {
  for (const LoanId& loan : running) {
    if (std::ranges::find(disclosed, loan) != disclosed.end()) continue;
    return Refused("DUE_UNDISCLOSED",
                   fmt::format("the due of {} runs with {}: say so in the gift, and who gets it "
                               "accepts it",
                               NameOf(Known<Loan>(c, loan)), what));
  }
  if (disclosed.size() == running.size()) return std::nullopt;
  return Refused("DUE_OTHER", fmt::format("the gift names dues that do not run with {}", what));
}

Finding Apply(Case& c, const facts::SacGift& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  if (!IsKeeper(c, s.receiver)) return UnknownSubject("keeper", s.receiver.bytes);
  if (!ActsFor(c, clutch->owner)) {
    return Void("NOT_OWNER", fmt::format("{} is owned by {}, not by you", NameOf(*clutch),
                                         NameOf(c, clutch->owner)));
  }
  if (s.receiver == clutch->owner) {
    return Refused("RECEIVER_IS_GIVER",
                   fmt::format("{} owns {} already", NameOf(c, s.receiver), NameOf(*clutch)));
  }
  if (Finding f = CheckGivable(c, *clutch)) return f;
  const auto listed = [](const LoanId& loan) {
    return loan.empty() ? std::vector<LoanId>{} : std::vector<LoanId>{loan};
  };
  if (Finding f = CheckDisclosure(c, NameOf(*clutch), listed(clutch->loan), listed(s.due_loan))) {
    return f;
  }
  FlagFuture(c, s.day);
  Clutch& offered = c.state.Edit<Clutch>(s.clutch);
  offered.offer = {.receiver = s.receiver,
                   .loans = listed(s.due_loan),
                   .token = c.token,
                   .moves = offered.holder == offered.owner,
                   .entry = c.entry};
  return std::nullopt;
}

Finding Apply(Case& c, const facts::DueAcceptance& s) {
  return s.animal.empty() ? AcceptClutch(c, s) : AcceptAnimal(c, s);
}

}  // namespace broodpact::registry
