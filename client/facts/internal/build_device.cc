#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

// An older replica holds still what these name.

void Build(const DeviceInvitation& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(InviteOf(from.invite_key)));
  v1::DeviceInvitation& invitation = *to.mutable_device_invitation();
  invitation.set_invite_key(FieldOf(from.invite_key));
  invitation.set_keeper_id(FieldOf(from.keeper));
  invitation.set_label(from.label);
}

void Build(const DeviceJoining& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(InviteOf(from.invite_key)));
  v1::DeviceJoining& joining = *to.mutable_device_joining();
  joining.set_invite_key(FieldOf(from.invite_key));
  joining.set_keeper_id(FieldOf(from.keeper));
  joining.set_device_key(FieldOf(from.device_key));
  joining.set_invite_signature(FieldOf(from.invite_signature));
}

void Build(const Revocation& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.device));
  v1::Revocation& revocation = *to.mutable_revocation();
  revocation.set_device_id(FieldOf(from.device));
  revocation.set_incarnation(from.incarnation);
  revocation.set_seq(from.seq);
  revocation.set_hash(FieldOf(from.hash));
  for (const Hash& hash : from.awaited) revocation.add_awaited_hashes(FieldOf(hash));
  revocation.set_reason(from.reason);
}

void Build(const Adoption& from, v1::Statement& to) {
  v1::Adoption& adoption = *to.mutable_adoption();
  adoption.set_commit(from.commit);
  adoption.set_signature(FieldOf(from.signature));
}

void Build(const KeyRotation& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(DeviceOf(from.device_key)));
  v1::KeyRotation& rotation = *to.mutable_key_rotation();
  rotation.set_device_key(FieldOf(from.device_key));
  rotation.set_key_signature(FieldOf(from.key_signature));
}

void Build(const RoleChange& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.keeper));
  v1::RoleChange& change = *to.mutable_role_change();
  change.set_keeper_id(FieldOf(from.keeper));
  change.set_role(static_cast<v1::Role>(from.role));
  change.set_reason(from.reason);
}

void Build(const MotionSignature& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.motion));
  to.mutable_motion_signature()->set_motion_id(FieldOf(from.motion));
}

void Build(const Leaving& from, v1::Statement& to) {
  to.mutable_leaving()->set_reason(from.reason);
}

}  // namespace broodpact::facts::internal
