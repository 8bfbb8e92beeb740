// Who owns an animal and who holds it: Gift, Dispatch, Receipt, and the tokens they spend.

#include <algorithm>
#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/leases.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

// One of the two timelines of an animal.
struct Timeline {
  const KeeperId& keeper;
  const Token& token;
  std::uint64_t arrival;
  const std::vector<CustodyRecord>& past;
  std::string_view not_reason;  // of a keeper who does not have it
  std::string_view verb;        // as in "owned"
};

Finding NotKeeper(Case& c, const Animal& animal, const Timeline& line) {
  return Void(line.not_reason, fmt::format("{} is {} by {}, not by you", NameOf(animal), line.verb,
                                           NameOf(c, line.keeper)));
}

Finding CheckTimeline(Case& c, const Animal& animal, const Spending& spending,
                      const Timeline& line) {
  if (spending.token == line.token) {
    if (line.keeper == c.author()) return std::nullopt;
    return NotKeeper(c, animal, line);
  }
  const auto spent =
      std::find_if(line.past.begin(), line.past.end(),
                   [&](const CustodyRecord& record) { return record.token == spending.token; });
  if (spent == line.past.end()) {
    return Superseded("TOKEN_SPENT",
                      fmt::format("the {} of {} builds on a statement that did not count; look at "
                                  "{} and state it again",
                                  spending.statement, NameOf(animal), NameOf(animal)),
                      0);
  }
  if (spent->keeper != c.author()) return NotKeeper(c, animal, line);

  const auto next = std::next(spent);
  const bool newest = next == line.past.end();
  if ((newest ? line.token : next->token) == c.token) {
    return Refused("TOKEN_TWICE", fmt::format("one commit passes {} on once", NameOf(animal)));
  }
  const std::uint64_t winner = newest ? line.arrival : next->arrival;
  const std::string message = fmt::format(
      "the {} of {} to {} came after another statement about it had arrived; it is "
      "{} by {} now",
      spending.statement, NameOf(animal), NameOf(c, spending.receiver), line.verb,
      NameOf(c, line.keeper));
  c.aftermath.clash = ClashOf(
      c, {.kind = Kind::kAnimal,
          .subject = animal.id.bytes,
          .reason = "TOKEN_SPENT",
          .message = message,
          .parties = {c.author(), spending.receiver, animal.owner, animal.holder, animal.receiver},
          .winner_arrival = winner});
  return Superseded("TOKEN_SPENT", message, winner);
}

void Remember(std::vector<CustodyRecord>& past, const CustodyRecord& record) {
  if (past.size() >= kCustodiesKept) past.erase(past.begin());
  past.push_back(record);
}

// The loan in force that author and animal go by, or why there is none.
Finding CheckInForce(Case& c, const LoanId& id) {
  const Loan* loan = c.state.Find<Loan>(id);
  if (loan == nullptr) return UnknownSubject("loan", id.bytes);
  if (c.author() != loan->lender && c.author() != loan->borrower) {
    return Void("NOT_PARTY",
                fmt::format("{} is between {} and {}; one of them has to state this", NameOf(*loan),
                            NameOf(c, loan->lender), NameOf(c, loan->borrower)));
  }
  if (loan->state != LoanState::kInForce) {
    return Refused("LOAN_STATE", fmt::format("{} is not in force", NameOf(*loan)));
  }
  return std::nullopt;
}

// Tells everybody that a promise of the animal was broken by where it is.
void BreakPromise(Case& c, const Animal& animal, const Loan& loan) {
  const std::string message = fmt::format("{} was on its way to {}, and {} has it", NameOf(animal),
                                          NameOf(c, animal.receiver), NameOf(c, c.author()));
  std::vector<KeeperId> parties = {c.author(), animal.receiver, animal.holder, animal.owner};
  parties.insert(parties.end(), loan.parties.begin(), loan.parties.end());
  Clash clash = ClashOf(c, {.kind = Kind::kAnimal,
                            .subject = animal.id.bytes,
                            .reason = "PROMISE_BROKEN",
                            .message = message,
                            .parties = std::move(parties),
                            .winner_arrival = c.entry.arrival});
  clash.loser_commit = {};
  clash.loser_arrival = animal.holder_arrival;
  if (c.state.Find<Clash>(clash.id) == nullptr) {
    c.state.Create<Clash>(clash.id) = std::move(clash);
  }
  Flag(c, "PROMISE_BROKEN", message);
}

}  // namespace

Clash ClashOf(const Case& c, ClashStart start) {
  const Hash& hash = c.arrived.commit.hash;
  Clash clash;
  clash.id = FirstHalf<ClashId>(Sha256({ViewOf(hash), "clash", ViewOf(start.subject)}));
  clash.subject_kind = start.kind;
  clash.subject = start.subject;
  clash.reason = std::move(start.reason);
  clash.message = std::move(start.message);
  for (const KeeperId& party : start.parties) {
    const bool named =
        std::find(clash.parties.begin(), clash.parties.end(), party) != clash.parties.end();
    if (!named && !party.empty()) clash.parties.push_back(party);
  }
  clash.loser_commit = hash;
  clash.loser_arrival = c.entry.arrival;
  clash.winner_arrival = start.winner_arrival;
  clash.entry = c.entry;
  return clash;
}

Finding CheckOwnership(Case& c, const Animal& animal, const Spending& spending) {
  if (Finding f = CheckTimeline(c, animal, spending,
                                {.keeper = animal.owner,
                                 .token = animal.owner_token,
                                 .arrival = animal.owner_arrival,
                                 .past = animal.past_owners,
                                 .not_reason = "NOT_OWNER",
                                 .verb = "owned"})) {
    return f;
  }
  return CheckLease(c, animal, LeaseKind::kOwnership, spending.statement);
}

Finding CheckHolding(Case& c, const Animal& animal, const Spending& spending) {
  if (Finding f = CheckTimeline(c, animal, spending,
                                {.keeper = animal.holder,
                                 .token = animal.holder_token,
                                 .arrival = animal.holder_arrival,
                                 .past = animal.past_holders,
                                 .not_reason = "NOT_HOLDER",
                                 .verb = "held"})) {
    return f;
  }
  return CheckLease(c, animal, LeaseKind::kHolding, spending.statement);
}

void PassOwnership(Case& c, Animal& animal, const KeeperId& to) {
  Remember(animal.past_owners,
           {.keeper = animal.owner, .token = animal.owner_token, .arrival = animal.owner_arrival});
  animal.owner = to;
  EndLeases(animal, LeaseKind::kOwnership);
  animal.owner_token = c.token;
  animal.owner_arrival = c.entry.arrival;
}

void PassHolding(Case& c, Animal& animal, const KeeperId& to) {
  Remember(
      animal.past_holders,
      {.keeper = animal.holder, .token = animal.holder_token, .arrival = animal.holder_arrival});
  animal.holder = to;
  EndLeases(animal, LeaseKind::kHolding);
  animal.holder_token = c.token;
  animal.holder_arrival = c.entry.arrival;
}

Finding Apply(Case& c, const facts::Gift& s) {
  const Animal* animal = c.state.Find<Animal>(s.animal);
  if (animal == nullptr) return UnknownSubject("animal", s.animal.bytes);
  if (!IsKeeper(c, s.receiver)) return UnknownSubject("keeper", s.receiver.bytes);
  const Spending ownership{.token = s.owner_token, .receiver = s.receiver, .statement = "gift"};
  if (Finding f = CheckOwnership(c, *animal, ownership)) return f;
  const bool moves = !s.holder_token.empty();
  const Spending holding{.token = s.holder_token, .receiver = s.receiver, .statement = "gift"};
  if (moves) {
    if (Finding f = CheckHolding(c, *animal, holding)) return f;
  }
  if (s.receiver == c.author()) {
    return Refused("RECEIVER_IS_GIVER", fmt::format("{} is yours already", NameOf(*animal)));
  }
  if (!animal->loan.empty()) {
    const Loan& loan = Known<Loan>(c, animal->loan);
    return Refused("PROMISED_TO_LOAN",
                   fmt::format("{} is promised to {} by {}; close the loan before giving it away",
                               NameOf(*animal), NameOf(c, loan.borrower), NameOf(loan)));
  }

  const std::vector<LoanId> dues = DuesRunningWith(c, *animal);
  if (Finding f = CheckDisclosure(c, NameOf(*animal), dues, s.due_loans)) return f;

  Animal& given = c.state.Edit<Animal>(s.animal);
  if (!dues.empty()) {
    // An agreement binds only who signed it: she changes hands when the receiver does.
    given.offer = {
        .receiver = s.receiver, .loans = dues, .token = c.token, .moves = moves, .entry = c.entry};
    return std::nullopt;
  }
  given.offer.reset();
  PassOwnership(c, given, s.receiver);
  if (moves) {
    PassHolding(c, given, s.receiver);
    given.receiver = {};
  }
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Dispatch& s) {
  const Loan* loan = c.state.Find<Loan>(s.loan);
  if (loan == nullptr) return UnknownSubject("loan", s.loan.bytes);
  const Animal* animal = c.state.Find<Animal>(loan->animal);
  if (animal == nullptr) return UnknownSubject("animal", loan->animal.bytes);
  const Spending holding{.token = s.holder_token, .receiver = s.receiver, .statement = "dispatch"};
  if (Finding f = CheckHolding(c, *animal, holding)) return f;
  if (loan->state != LoanState::kInForce) {
    return Refused("LOAN_STATE", fmt::format("{} is not in force", NameOf(*loan)));
  }
  if (s.receiver != loan->lender && s.receiver != loan->borrower) {
    return Refused("RECEIVER_NOT_PARTY",
                   fmt::format("{} goes to {} or back to {} under {}", NameOf(*animal),
                               NameOf(c, loan->borrower), NameOf(c, loan->lender), NameOf(*loan)));
  }
  if (s.receiver == animal->holder) {
    return Refused("RECEIVER_HOLDS",
                   fmt::format("{} has {} already", NameOf(c, s.receiver), NameOf(*animal)));
  }

  FlagFuture(c, s.day);
  FlagAfterDeath(c, *animal, s.day);
  Animal& sent = c.state.Edit<Animal>(loan->animal);
  PassHolding(c, sent, sent.holder);
  sent.receiver = s.receiver;
  c.state.Edit<Loan>(s.loan).dispatch = s.day;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Receipt& s) {
  if (Finding f = CheckInForce(c, s.loan)) return f;
  const Loan* loan = c.state.Find<Loan>(s.loan);
  const AnimalId id = loan->animal;
  const Animal* animal = c.state.Find<Animal>(id);
  if (animal == nullptr) return UnknownSubject("animal", id.bytes);

  FlagFuture(c, s.day);
  const bool held = animal->holder == c.author();
  const bool changes_hands = !held || !animal->receiver.empty();
  if (!animal->receiver.empty() && animal->receiver != c.author()) {
    BreakPromise(c, *animal, *loan);
  } else if (held) {
    Flag(c, "FLAG_ALREADY_HELD", fmt::format("you hold {} already", NameOf(*animal)));
  }
  if (changes_hands) {
    Animal& received = c.state.Edit<Animal>(id);
    PassHolding(c, received, c.author());
    received.receiver = {};
    c.state.Edit<Loan>(s.loan).receipt = s.day;
  }
  if (s.condition == facts::ArrivalCondition::kDead) {
    RecordDeath(c, id, s.day, "dead on arrival");
  }
  return std::nullopt;
}

}  // namespace broodpact::registry
