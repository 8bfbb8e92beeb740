#pragma once

// broodpact share, sac late, sac give, sac accept, animal accept, keeper leave: who has a share of
// a clutch beside its split, and dues that change hands.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct LateOptions {
  std::string clutch{};
  std::optional<std::uint32_t> slings{};
  std::string on{};
};
struct WaiveShareOptions {
  std::string clutch{};
  std::string party{};  // empty: oneself
  std::string to{};     // of pass only
  std::string reason{};
};
struct GiveSacOptions {
  std::string clutch{};
  std::string to{};
  bool with_due = false;
  std::string on{};
};
struct AcceptSacOptions {
  std::string clutch{};
};
struct AcceptAnimalOptions {
  std::string animal{};
};
struct LeaveOptions {
  std::string successor{};
  std::string keeper{};  // empty: oneself
  std::string reason{};
  std::string on{};
};

absl::Status RunLate(const Desk& desk, const LateOptions& options);
absl::Status RunDeclineShare(const Desk& desk, const WaiveShareOptions& options);
absl::Status RunPassShare(const Desk& desk, const WaiveShareOptions& options);
absl::Status RunGiveSac(const Desk& desk, const GiveSacOptions& options);
absl::Status RunAcceptSac(const Desk& desk, const AcceptSacOptions& options);
absl::Status RunAcceptAnimal(const Desk& desk, const AcceptAnimalOptions& options);
absl::Status RunLeave(const Desk& desk, const LeaveOptions& options);

// Asks whether dues are disclosed and carried over; `with_due` is the answer yes.
// Errors: FAILED_PRECONDITION with reason DUE_UNDISCLOSED.
absl::Status ConfirmDue(const Desk& desk, const std::string& what, const std::string& loans,
                        bool with_due);

void AddShareCommands(Command& root);
void AddSacGivingCommands(Command& sac);
void AddAcceptCommand(Command& animal);
void AddLeaveCommand(Command& keeper);

}  // namespace broodpact::cli
