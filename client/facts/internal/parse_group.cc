#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

NameUse Parse(const v1::NameUse& from, Fields& fields) {
  fields.EnterKind("use of a name");
  NameUse use;
  use.group = fields.Required<GroupId>("group", from.group_id());
  if (from.name().empty()) fields.Note(Fault::kNameEmpty, "name", "is empty; give one");
  use.name = fields.Text("name", from.name(), kTaxonBytesMax);
  use.status = fields.OneOf("status of the name", from.status(), NameStatus::kTradeName);
  if (use.status == NameStatus::kUnspecified) fields.Missing("status of the name");
  if (from.has_since()) use.since = fields.Span("beginning of its use", from.since());
  use.source = fields.Text("source", from.source(), kReasonBytesMax);
  return use;
}

GroupMove Parse(const v1::GroupMove& from, Fields& fields) {
  fields.EnterKind("move of animals");
  GroupMove move;
  move.group = fields.Required<GroupId>("group", from.group_id());
  if (from.animal_ids().empty()) fields.Missing("list of animals");
  if (from.animal_ids_size() > static_cast<int>(kAnimalsMovedMax)) {
    fields.Note(Fault::kForm, "list of animals", "is too long");
    return move;
  }
  move.animals.reserve(static_cast<std::size_t>(from.animal_ids_size()));
  for (const std::string& animal : from.animal_ids()) {
    move.animals.push_back(fields.Required<AnimalId>("animal", animal));
  }
  move.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return move;
}

GroupClosure Parse(const v1::GroupClosure& from, Fields& fields) {
  fields.EnterKind("closure of a group");
  GroupClosure closure;
  closure.group = fields.Required<GroupId>("group", from.group_id());
  closure.successor = fields.Required<GroupId>("successor", from.successor_id());
  closure.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return closure;
}

FounderKinship Parse(const v1::FounderKinship& from, Fields& fields) {
  fields.EnterKind("kinship of founders");
  FounderKinship kinship{.numerator = from.numerator(), .denominator = from.denominator()};
  kinship.group = fields.Required<GroupId>("group", from.group_id());
  if (kinship.denominator == 0 || kinship.denominator > kKinshipDenominatorMax ||
      kinship.numerator > kinship.denominator / 2) {
    fields.Note(Fault::kForm, "kinship",
                "is no fraction from 0 to 1/2 with a denominator up to 10,000");
  }
  kinship.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return kinship;
}

}  // namespace broodpact::facts::internal
