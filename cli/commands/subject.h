#pragma once

// What a command that acts is about, with the replica that it is in.

#include <memory>
#include <string>

#include "absl/status/statusor.h"

#include "broodpact/v1/registry.pb.h"
#include "cli/desk.h"
#include "client/replica/replica.h"

namespace broodpact::cli {

struct LotSubject {
  std::unique_ptr<replica::Replica> replica;
  LotId id;
  v1::Lot lot;  // as it was before the act
};
struct ClutchSubject {
  std::unique_ptr<replica::Replica> replica;
  ClutchId id;
  v1::Clutch clutch;  // as it was before the act
  v1::Ref ref;
};

// Opens the replica to act in it, and finds the subject.
// Errors: those of OpenToAct and of replica::View.
absl::StatusOr<LotSubject> LotNamed(const Desk& desk, const std::string& name);
absl::StatusOr<ClutchSubject> ClutchNamed(const Desk& desk, const std::string& name);

}  // namespace broodpact::cli
