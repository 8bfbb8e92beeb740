#include "client/replica/internal/terms_text.h"

#include "client/replica/internal/words.h"
#include "client/shares/findings.h"

namespace broodpact::replica {

shares::ClauseNames NamesFor(const facts::Terms& terms, RefBook& refs) {
  shares::ClauseNames names;
  for (const facts::Party& party : terms.parties) {
    names.parties.push_back(party.keeper.empty() ? "the " + std::string(PartyRoleWord(party.role))
                                                 : refs.Name(party.keeper));
  }
  for (const AnimalId& female : terms.coverage.females) names.females.push_back(refs.Name(female));
  names.counter = refs.Name(terms.counting.counter);
  names.witness = refs.Name(terms.counting.witness);
  names.arbiter = refs.Name(terms.arbiter);
  return names;
}

std::vector<v1::Remark> RemarksOf(const facts::Terms& terms, const std::optional<Day>& return_day,
                                  const std::vector<std::string>& names) {
  std::vector<v1::Remark> remarks;
  for (const shares::Remark& finding : shares::FindingsOf(terms, return_day, names)) {
    v1::Remark& remark = remarks.emplace_back();
    remark.set_severity(std::string(shares::SeverityText(finding.severity)));
    remark.set_text(finding.text);
  }
  return remarks;
}

}  // namespace broodpact::replica
