#pragma once

// Every kind of subject with its own kind of id: what the templates of state.h exist for.

#include "client/registry/subject.h"

// Calls `instance(Subject, AnyId)` for each, and once more with the bytes of the key.
#define BP_FOR_EVERY_SUBJECT(instance) \
  instance(Cooperative, IdBytes);      \
  instance(Frozen, IdBytes);           \
  instance(Branch, IdBytes);           \
  instance(Stretch, IdBytes);          \
  instance(SealingKey, DeviceId);      \
  instance(SealingKey, IdBytes);       \
  BP_FOR_BOTH(instance, SealedNote);   \
  BP_FOR_BOTH(instance, Keeper);       \
  BP_FOR_BOTH(instance, Device);       \
  BP_FOR_BOTH(instance, Invite);       \
  BP_FOR_BOTH(instance, Group);        \
  BP_FOR_BOTH(instance, Animal);       \
  BP_FOR_BOTH(instance, Loan);         \
  BP_FOR_BOTH(instance, Pairing);      \
  BP_FOR_BOTH(instance, Clutch);       \
  BP_FOR_BOTH(instance, Lot);          \
  BP_FOR_BOTH(instance, Clash);        \
  BP_FOR_BOTH(instance, Veto);         \
  BP_FOR_BOTH(instance, Want);         \
  BP_FOR_BOTH(instance, Form);         \
  BP_FOR_BOTH(instance, Carry);        \
  BP_FOR_BOTH(instance, Motion)
#define BP_FOR_BOTH(instance, Subject)         \
  instance(Subject, Id<struct Subject##Kind>); \
  instance(Subject, IdBytes)

namespace broodpact::registry {

inline const IdBytes& BytesOf(const IdBytes& id) {
  return id;
}

template <typename IdKind>
const IdBytes& BytesOf(const Id<IdKind>& id) {
  return id.bytes;
}

}  // namespace broodpact::registry
