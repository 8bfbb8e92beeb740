#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {
namespace {

// A taxon is text that cannot be left out; unlike a name, it may hold any sign of the literature.
std::string ParseTaxon(const std::string& text, Fields& fields) {
  if (text.empty()) fields.Note(Fault::kNameEmpty, "taxon", "is empty; give one");
  return fields.Text("taxon", text, kTaxonBytesMax);
}

}  // namespace

GroupEntry Parse(const v1::GroupEntry& from, Fields& fields) {
  fields.EnterKind("group entry");
  GroupEntry group;
  group.group = fields.Required<GroupId>("group", from.group_id());
  group.name = fields.Name("name of the group", from.name());
  group.taxon = ParseTaxon(from.taxon(), fields);
  group.locality = fields.Text("locality", from.locality(), kTaxonBytesMax);
  group.line = fields.Text("line", from.line(), kNameBytesMax);
  return group;
}

AnimalEntry Parse(const v1::AnimalEntry& from, Fields& fields) {
  fields.EnterKind("animal entry");
  AnimalEntry animal;
  animal.animal = fields.Required<AnimalId>("animal", from.animal_id());
  animal.group = fields.Required<GroupId>("group", from.group_id());
  animal.name = fields.Name("name of the animal", from.name());
  animal.sex = fields.OneOf("sex", from.sex(), Sex::kMale);
  animal.sex_method =
      fields.OneOf("way the sex was told", from.sex_method(), SexMethod::kAdultForm);
  if (from.has_hatching()) animal.hatching = fields.Span("hatching", from.hatching());
  animal.sire = fields.Optional<AnimalId>("sire", from.sire_id());
  animal.dam = fields.Optional<AnimalId>("dam", from.dam_id());
  if (from.has_maturity()) animal.maturity = fields.Span("maturity", from.maturity());
  return animal;
}

Moult Parse(const v1::Moult& from, Fields& fields) {
  fields.EnterKind("moult");
  Moult moult;
  moult.animal = fields.Required<AnimalId>("animal", from.animal_id());
  moult.day = fields.Day(from);
  moult.moult_count = from.moult_count();
  return moult;
}

Maturity Parse(const v1::Maturity& from, Fields& fields) {
  fields.EnterKind("maturity");
  Maturity maturity;
  maturity.animal = fields.Required<AnimalId>("animal", from.animal_id());
  maturity.day = fields.Day(from);
  return maturity;
}

SexClaim Parse(const v1::SexClaim& from, Fields& fields) {
  fields.EnterKind("sex claim");
  SexClaim claim;
  claim.animal = fields.Required<AnimalId>("animal", from.animal_id());
  claim.sex = fields.OneOf("sex", from.sex(), Sex::kMale);
  claim.method = fields.OneOf("way the sex was told", from.method(), SexMethod::kAdultForm);
  claim.day = fields.Day(from);
  return claim;
}

Death Parse(const v1::Death& from, Fields& fields) {
  fields.EnterKind("death");
  Death death;
  death.animal = fields.Required<AnimalId>("animal", from.animal_id());
  death.day = fields.Day(from);
  death.cause = fields.Text("cause", from.cause(), kReasonBytesMax);
  return death;
}

Gift Parse(const v1::Gift& from, Fields& fields) {
  fields.EnterKind("gift");
  Gift gift;
  gift.animal = fields.Required<AnimalId>("animal", from.animal_id());
  gift.receiver = fields.Required<KeeperId>("receiver", from.receiver_id());
  gift.owner_token = fields.Required<Token>("token of the owner", from.owner_token());
  gift.holder_token = fields.Optional<Token>("token of the holder", from.holder_token());
  if (from.due_loan_ids_size() > kDueLoansMax) {
    fields.Note(Fault::kForm, "list of loans whose dues run", "is too long");
    return gift;
  }
  for (const std::string& loan : from.due_loan_ids()) {
    gift.due_loans.push_back(fields.Required<LoanId>("loan whose due runs", loan));
  }
  return gift;
}

}  // namespace broodpact::facts::internal
