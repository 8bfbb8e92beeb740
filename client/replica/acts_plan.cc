#include "client/replica/acts_plan.h"

#include <algorithm>
#include <map>

#include "client/base/check.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kOpenLoansMax = 10'000;

template <typename AnyId>
AnyId IdOf(const v1::Ref& ref) {
  const std::optional<IdBytes> bytes = ParseIdText(ref.id());
  return bytes ? AnyId{*bytes} : AnyId{};
}

// The sacs that a plan expects of a male with one keeper's females.
struct Place {
  KeeperId keeper{};
  std::string name{};
  double sacs = 0;
};

bool ComesFirst(const Place& a, const Place& b) {
  return a.sacs != b.sacs ? a.sacs > b.sacs
                          : std::pair(a.name, a.keeper) < std::pair(b.name, b.keeper);
}

// Where the plan sends each male of `self`, the best place of each.
std::map<AnimalId, Place> PlacesOf(const v1::Plan& plan, const KeeperId& self) {
  std::map<AnimalId, std::map<KeeperId, Place>> all;
  for (const v1::PlanPair& pair : plan.pairs()) {
    const auto to = IdOf<KeeperId>(pair.female_holder());
    if (IdOf<KeeperId>(pair.male_owner()) != self || to == self) continue;
    Place& place = all[IdOf<AnimalId>(pair.male())][to];
    place.keeper = to;
    place.name = pair.female_holder().name();
    place.sacs += pair.expected_sacs();
  }
  std::map<AnimalId, Place> best;
  for (const auto& [male, places] : all) {
    for (const auto& [keeper, place] : places) {
      const auto [known, is_new] = best.emplace(male, place);
      if (!is_new && ComesFirst(place, known->second)) known->second = place;
    }
  }
  return best;
}

}  // namespace

absl::StatusOr<Acted> StateVeto(Replica& replica, const facts::PlanVeto& veto) {
  return replica.Act({veto});
}

absl::StatusOr<Made<WantId>> StateWant(Replica& replica, facts::WantEntry want) {
  if (want.until && *want.until < replica.clock().Today()) {
    return Fail(absl::StatusCode::kInvalidArgument, "DATE_PAST",
                fmt::format("{} is past; name a later day, or none", ToText(*want.until)));
  }
  want.want = device::FreshId<WantId>(replica.randomness());
  const WantId id = want.want;
  return ActMaking(replica, id, std::move(want));
}

absl::StatusOr<Acted> EndWant(Replica& replica, const WantId& want) {
  return replica.Act({facts::WantEnd{.want = want}});
}

absl::StatusOr<std::vector<LoanDraft>> OffersOf(const Replica& replica, const v1::Plan& plan) {
  const KeeperId self = replica.identity().keeper;
  const registry::Source& source = replica.view();
  const std::map<AnimalId, Place> places = PlacesOf(plan, self);
  std::vector<AnimalId> ids;
  ids.reserve(places.size());
  for (const auto& [male, place] : places) ids.push_back(male);
  BP_ASSIGN_OR_RETURN(const auto males, ReadMany<registry::Animal>(source, ids));
  BP_ASSIGN_OR_RETURN(const std::vector<LoanId> loan_ids,
                      IdsBehind<LoanId>(source, registry::LoansOfParty(self), kOpenLoansMax));
  BP_ASSIGN_OR_RETURN(const auto loans, ReadMany<registry::Loan>(source, loan_ids));
  std::vector<LoanDraft> drafts;
  for (const registry::Animal& male : males) {
    const bool is_here = male.holder == self && male.loan.empty() && male.receiver.empty();
    const bool is_offered = std::ranges::any_of(
        loans, [&](const registry::Loan& loan) { return loan.animal == male.id; });
    if (!is_here || is_offered) continue;
    drafts.push_back({.animal = male.id,
                      .lender = self,
                      .borrower = places.at(male.id).keeper,
                      .return_day = {},
                      .terms = {},
                      .name = "",
                      .open_until = {}});
  }
  if (drafts.size() > kOffersMax) drafts.resize(kOffersMax);
  return drafts;
}

absl::StatusOr<Acted> OfferAll(Replica& replica, const std::vector<LoanDraft>& drafts) {
  BP_CHECK(!drafts.empty() && drafts.size() <= kOffersMax);
  std::vector<facts::Statement> statements;
  for (const LoanDraft& draft : drafts) {
    BP_ASSIGN_OR_RETURN(facts::LoanProposal proposal, ProposalOf(replica, draft));
    statements.emplace_back(std::move(proposal));
  }
  return replica.Act(statements);
}

}  // namespace broodpact::replica
