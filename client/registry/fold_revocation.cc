// Chains that end: Revocation, what arrives after it, and Adoption of honest work that came late.

#include <algorithm>
#include <variant>

#include "fmt/core.h"

#include "client/facts/of_membership.h"
#include "client/registry/internal/devices.h"

namespace broodpact::registry {
namespace {

// The device that a commit came from has ceased.
Finding Ceased(Case& c, const Device& device) {
  const std::string cut = device.cut.seq == 0
                              ? "what arrives from it later"
                              : fmt::format("what it wrote after commit {} of life {}",
                                            device.cut.seq, device.cut.incarnation);
  const std::string by = NameOf(c, device.ended.keeper);
  Verdict verdict{.kind = VerdictKind::kVoid, .winner_arrival = device.ended.arrival};
  switch (device.state) {
    case DeviceState::kActive:
      return std::nullopt;
    case DeviceState::kRevoked:
      verdict.reason = "DEVICE_REVOKED";
      verdict.message = fmt::format(
          "{} has revoked this device: {} does not count; another device of {} or a registrar can "
          "adopt honest work",
          by, cut, NameOf(c, device.keeper));
      return verdict;
    case DeviceState::kReplaced:
      verdict.reason = "DEVICE_REPLACED";
      verdict.message = fmt::format(
          "another key has taken this device's place: {} does not count; "
          "state it with that key",
          cut);
      return verdict;
    case DeviceState::kLeft:
      verdict.reason = "DEVICE_LEFT";
      verdict.message = fmt::format("{} has left the cooperative: {} does not count",
                                    NameOf(c, device.keeper), cut);
      return verdict;
  }
  return std::nullopt;
}

bool IsAwaited(const Device& device, const Hash& commit) {
  return std::find(device.awaited.begin(), device.awaited.end(), commit) != device.awaited.end();
}

// Whether a commit lies behind the cut of its device. A fork at the cut itself does too.
bool IsAfterCut(const Device& device, const facts::Commit& commit) {
  const ChainCut& cut = device.cut;
  const facts::CommitHeader& header = commit.header;
  if (header.incarnation != cut.incarnation) return header.incarnation > cut.incarnation;
  if (header.seq != cut.seq) return header.seq > cut.seq;
  return commit.hash != cut.hash;
}

Finding CheckAdopter(Case& c, const Device& late) {
  const Device* adopter = c.state.Find<Device>(c.around->header.device);
  if (adopter == nullptr) {
    return Void("DEVICE_UNKNOWN", "the device is no member's; join by an invite first");
  }
  const bool own = adopter->keeper == late.keeper;
  if (!own && Known<Keeper>(c, adopter->keeper).role != facts::Role::kRegistrar) {
    return Void("NOT_REGISTRAR",
                fmt::format("work of a device of {} is adopted by {} or a registrar",
                            NameOf(c, late.keeper), NameOf(c, late.keeper)));
  }
  if (late.state == DeviceState::kActive) {
    return Refused("NOT_REVOKED", "the device is not cut off; it delivers its work itself");
  }
  const facts::Commit& told = c.arrived.commit;
  // Nothing counts twice (CheckOnce), so it does not matter what of the log the adopter has seen,
  // nor whether what is awaited comes by itself first or later. But what was judged as it arrived
  // stays judged: a registrar does not bring it back. Of an earlier life the keeper itself knows
  // what is missing.
  const bool earlier_life = own && told.header.incarnation < late.cut.incarnation;
  if (IsAfterCut(late, told) || earlier_life || IsAwaited(late, told.hash)) return std::nullopt;
  return Refused("BEFORE_CUT",
                 "it lies before the cut of its device, and was judged as it arrived");
}

}  // namespace

Finding CheckDevice(Case& c) {
  const facts::Commit& written = c.around != nullptr ? *c.around : c.arrived.commit;
  const Device* device = c.state.Find<Device>(written.header.device);
  if (device == nullptr || device->state == DeviceState::kActive) return std::nullopt;
  if (IsAwaited(*device, written.hash)) return std::nullopt;
  return Ceased(c, *device);
}

Finding Apply(Case& c, const facts::Revocation& s) {
  const Device* device = c.state.Find<Device>(s.device);
  if (device == nullptr) return UnknownSubject("device", s.device.bytes);
  if (device->state != DeviceState::kActive) {
    return Superseded("DEVICE_ENDED", "the device has been cut off before", device->ended.arrival);
  }
  const KeeperId keeper = device->keeper;
  const bool own = keeper == c.author();
  const ChainCut cut{.incarnation = s.incarnation, .seq = s.seq, .hash = s.hash};
  if (!own && Known<Keeper>(c, keeper).role == facts::Role::kRegistrar) {
    return Move(c,
                {.what = MotionMatter::kRevocation,
                 .keeper = keeper,
                 .device = s.device,
                 .cut = cut,
                 .awaited = s.awaited,
                 .reason = s.reason},
                s.device.bytes);
  }
  if (!own && Known<Keeper>(c, c.author()).role != facts::Role::kRegistrar) {
    return Void("NOT_REGISTRAR", fmt::format("a device of {} is revoked by {} or by a registrar",
                                             NameOf(c, keeper), NameOf(c, keeper)));
  }
  const bool registrars_own = Known<Keeper>(c, keeper).role == facts::Role::kRegistrar;
  Cease(c, s.device,
        {.state = DeviceState::kRevoked, .cut = cut, .awaited = s.awaited, .reason = s.reason});
  if (registrars_own && c.state.cooperative()->registrars == 0) {
    return Refused("LAST_REGISTRAR",
                   "it is the last device of the only registrar; let another one in first");
  }
  return std::nullopt;
}

// Unreachable for an adoption that is alone: the fold judges what it adopts.
Finding Apply(Case&, const facts::Adoption&) {
  return Refused("ADOPTION_NOT_ALONE", "an adoption is the only statement of its commit");
}

Finding CheckAdoption(Case& c) {
  const facts::Commit& told = c.arrived.commit;
  const Device* late = c.state.Find<Device>(told.header.device);
  if (late == nullptr) {
    return Void("DEVICE_UNKNOWN", "what is adopted is of no member's device");
  }
  const auto& adoption = std::get<facts::Adoption>(c.around->statements.front());
  if (!facts::VerifyCommit(late->key, told.hash, adoption.signature)) {
    return Void("SIGNATURE_BAD", "the signature is not the device's over what is adopted");
  }
  if (Finding f = CheckAdopter(c, *late)) return f;
  for (const facts::Statement& statement : told.statements) {
    if (!facts::IsOfMembership(statement)) continue;
    return Refused("ADOPTS_MEMBERSHIP",
                   "what says who is a member is not adopted; state it yourself");
  }
  return EnterBranch(c);
}

}  // namespace broodpact::registry
