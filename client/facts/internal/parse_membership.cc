#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

Founding Parse(const v1::Founding& from, Fields& fields) {
  fields.EnterKind("founding");
  Founding founding;
  founding.name = fields.Name("name of the cooperative", from.name());
  founding.keeper = fields.Required<KeeperId>("keeper", from.keeper_id());
  founding.keeper_name = fields.Name("name of the keeper", from.keeper_name());
  founding.device_key = fields.Fixed<PublicKey>("device key", from.device_key());
  founding.region = fields.Region(from.region());
  return founding;
}

Invitation Parse(const v1::Invitation& from, Fields& fields) {
  fields.EnterKind("invitation");
  Invitation invitation;
  invitation.invite_key = fields.Fixed<PublicKey>("invite key", from.invite_key());
  invitation.role = fields.OneOf("role", from.role(), Role::kObserver);
  invitation.keeper_name = fields.NameOrNone("name of the keeper", from.keeper_name());
  if (invitation.role == Role::kUnspecified) fields.Missing("role");
  return invitation;
}

Joining Parse(const v1::Joining& from, Fields& fields) {
  fields.EnterKind("joining");
  Joining joining;
  joining.invite_key = fields.Fixed<PublicKey>("invite key", from.invite_key());
  joining.keeper = fields.Required<KeeperId>("keeper", from.keeper_id());
  joining.keeper_name = fields.Name("name of the keeper", from.keeper_name());
  joining.device_key = fields.Fixed<PublicKey>("device key", from.device_key());
  joining.invite_signature =
      fields.Fixed<Signature>("signature of the invite", from.invite_signature());
  joining.region = fields.Region(from.region());
  return joining;
}

}  // namespace broodpact::facts::internal
