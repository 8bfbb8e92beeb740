// How two animals are kin.

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/messages.h"
#include "client/replica/view.h"

namespace broodpact::replica {
absl::StatusOr<v1::Kinship> View::Kinship(const AnimalId& first, const AnimalId& second) const {
  BP_ASSIGN_OR_RETURN(auto animals,
                      ReadMany<registry::Animal>(source_, std::vector<AnimalId>{first, second}));
  if (animals.size() != 2) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there is no animal {} or no animal {}", ToShortText(first),
                            ToShortText(second)));
  }
  BP_ASSIGN_OR_RETURN(const Lineage lineage, Lineage::Of(source_, animals));
  const kinship::Node one = lineage.NodeOf(first);
  const kinship::Node other = lineage.NodeOf(second);
  Messages writer(source_, provisional_);
  v1::Kinship message;
  *message.mutable_first() = writer.refs().Ref(first);
  *message.mutable_second() = writer.refs().Ref(second);
  message.set_kinship(lineage.pedigree().Kinship(one, other));
  message.set_first_inbreeding(lineage.pedigree().Inbreeding(one));
  message.set_second_inbreeding(lineage.pedigree().Inbreeding(other));
  if (first == second) animals.pop_back();
  for (std::string& remark : TellKin(lineage, animals, writer.refs())) {
    message.add_remarks(std::move(remark));
  }
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace broodpact::replica
