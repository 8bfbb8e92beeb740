#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

DeviceInvitation Parse(const v1::DeviceInvitation& from, Fields& fields) {
  fields.EnterKind("invitation of a device");
  DeviceInvitation invitation;
  invitation.invite_key = fields.Fixed<PublicKey>("invite key", from.invite_key());
  invitation.keeper = fields.Required<KeeperId>("keeper", from.keeper_id());
  invitation.label = fields.NameOrNone("label", from.label());
  return invitation;
}

DeviceJoining Parse(const v1::DeviceJoining& from, Fields& fields) {
  fields.EnterKind("joining of a device");
  DeviceJoining joining;
  joining.invite_key = fields.Fixed<PublicKey>("invite key", from.invite_key());
  joining.keeper = fields.Required<KeeperId>("keeper", from.keeper_id());
  joining.device_key = fields.Fixed<PublicKey>("device key", from.device_key());
  joining.invite_signature =
      fields.Fixed<Signature>("signature of the invite", from.invite_signature());
  return joining;
}

Revocation Parse(const v1::Revocation& from, Fields& fields) {
  fields.EnterKind("revocation");
  Revocation revocation;
  revocation.device = fields.Required<DeviceId>("device", from.device_id());
  revocation.incarnation = from.incarnation();
  if (revocation.incarnation == 0) fields.Missing("incarnation");
  revocation.seq = from.seq();
  if (revocation.seq == 0) fields.Missing("place in the chain");
  revocation.hash = fields.Fixed<Hash>("hash of the last commit", from.hash());
  revocation.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  if (static_cast<std::size_t>(from.awaited_hashes_size()) > kAwaitedMax) {
    fields.Note(Fault::kForm, "list of awaited commits", "is too long");
    return revocation;
  }
  for (const std::string& hash : from.awaited_hashes()) {
    revocation.awaited.push_back(fields.Fixed<Hash>("hash of an awaited commit", hash));
  }
  if (!revocation.awaited.empty() && revocation.awaited.back() != revocation.hash) {
    fields.Note(Fault::kForm, "list of awaited commits", "does not end with the last that counts");
  }
  return revocation;
}

KeyRotation Parse(const v1::KeyRotation& from, Fields& fields) {
  fields.EnterKind("rotation of a key");
  KeyRotation rotation;
  rotation.device_key = fields.Fixed<PublicKey>("device key", from.device_key());
  rotation.key_signature = fields.Fixed<Signature>("signature of the key", from.key_signature());
  return rotation;
}

RoleChange Parse(const v1::RoleChange& from, Fields& fields) {
  fields.EnterKind("change of a role");
  RoleChange change;
  change.keeper = fields.Required<KeeperId>("keeper", from.keeper_id());
  change.role = fields.OneOf("role", from.role(), Role::kObserver);
  if (change.role == Role::kUnspecified) fields.Missing("role");
  change.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return change;
}

MotionSignature Parse(const v1::MotionSignature& from, Fields& fields) {
  fields.EnterKind("signature of a motion");
  return {.motion = fields.Required<MotionId>("motion", from.motion_id())};
}

Leaving Parse(const v1::Leaving& from, Fields& fields) {
  fields.EnterKind("leaving");
  return {.reason = fields.Text("reason", from.reason(), kReasonBytesMax)};
}

}  // namespace broodpact::facts::internal
