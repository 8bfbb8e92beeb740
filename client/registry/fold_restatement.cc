// What lost its place in its chain and is stated again by its own device.

#include "fmt/core.h"

#include "client/registry/internal/rules.h"

namespace broodpact::registry {

// Unreachable for a restatement that is alone: the fold judges what it states again.
Finding Apply(Case&, const facts::Restatement&) {
  return Refused("RESTATEMENT_NOT_ALONE", "a restatement is the only statement of its commit");
}

Finding CheckRestatement(Case& c) {
  const facts::Commit& told = c.arrived.commit;
  const facts::CommitHeader& around = c.around->header;
  if (told.header.device != around.device) {
    return Void("DEVICE_OTHER", "a device states again only what it wrote itself");
  }
  const Device* device = c.state.Find<Device>(around.device);
  if (device == nullptr) {
    return Void("DEVICE_UNKNOWN", "the device is no member's; join by an invite first");
  }
  const auto& again = std::get<facts::Restatement>(c.around->statements.front());
  if (!facts::VerifyCommit(device->key, told.hash, again.signature)) {
    return Void("SIGNATURE_BAD", "the signature is not the device's over what is stated again");
  }
  if (told.header.incarnation >= around.incarnation) {
    return Refused("LIFE_NOT_EARLIER",
                   "only what an earlier life of the device wrote is stated again");
  }
  return EnterBranch(c);
}

}  // namespace broodpact::registry
