#include "client/replica/acts_terms.h"

#include "client/replica/acts_clutch.h"

namespace broodpact::replica {

absl::StatusOr<Made<FormId>> SaveTerms(Replica& replica, const FormDraft& draft) {
  facts::TermsForm form;
  if (draft.replaced) {
    BP_ASSIGN_OR_RETURN(const registry::Form known,
                        Known<registry::Form>(replica, *draft.replaced, "form"));
    form.form = known.id;
    form.form_token = known.token;
  } else {
    form.form = device::FreshId<FormId>(replica.randomness());
  }
  form.name = draft.name;
  form.terms = facts::BuildFormTerms(draft.terms);
  BP_ASSIGN_OR_RETURN(form.parsed, facts::ParseFormTerms(form.terms));
  const FormId id = form.form;
  return ActMaking(replica, id, std::move(form));
}

absl::StatusOr<facts::Terms> TermsOfForm(const Replica& replica, const FormId& form) {
  BP_ASSIGN_OR_RETURN(const registry::Form known, Known<registry::Form>(replica, form, "form"));
  return facts::ParseFormTerms(known.terms);
}

absl::StatusOr<Acted> WitnessCount(Replica& replica, const ClutchId& clutch, const DaySpan& day) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, day));
  BP_ASSIGN_OR_RETURN(const std::optional<registry::CountRecord> count,
                      StandingCount(replica, clutch));
  if (!count) {
    return Fail(absl::StatusCode::kFailedPrecondition, "CLUTCH_NOT_COUNTED",
                fmt::format("clutch {} has no count to confirm", ToShortText(clutch)));
  }
  return replica.Act(
      {facts::CountWitness{.clutch = clutch, .count_token = count->token, .day = day}});
}

}  // namespace broodpact::replica
