#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const Founding& from, v1::Statement& to) {
  v1::Founding& founding = *to.mutable_founding();
  founding.set_name(from.name);
  founding.set_keeper_id(FieldOf(from.keeper));
  founding.set_keeper_name(from.keeper_name);
  founding.set_device_key(FieldOf(from.device_key));
  founding.set_region(from.region);
}

void Build(const Invitation& from, v1::Statement& to) {
  v1::Invitation& invitation = *to.mutable_invitation();
  invitation.set_invite_key(FieldOf(from.invite_key));
  invitation.set_role(static_cast<v1::Role>(from.role));
  invitation.set_keeper_name(from.keeper_name);
}

void Build(const Joining& from, v1::Statement& to) {
  v1::Joining& joining = *to.mutable_joining();
  joining.set_invite_key(FieldOf(from.invite_key));
  joining.set_keeper_id(FieldOf(from.keeper));
  joining.set_keeper_name(from.keeper_name);
  joining.set_device_key(FieldOf(from.device_key));
  joining.set_invite_signature(FieldOf(from.invite_signature));
  joining.set_region(from.region);
}

void Build(const Restatement& from, v1::Statement& to) {
  v1::Restatement& again = *to.mutable_restatement();
  again.set_commit(from.commit);
  again.set_signature(FieldOf(from.signature));
}

}  // namespace broodpact::facts::internal
