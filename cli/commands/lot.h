#pragma once

// broodpact lot: slings of one clutch in one keeper's hands.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct ListLotsOptions {
  std::string keeper{};  // empty: oneself
};
struct ShowLotOptions {
  std::string lot{};
};
struct GiveLotOptions {
  std::string lot{};
  std::optional<std::uint32_t> slings{};  // nothing: all of it
  std::string to{};                       // empty: the lot's owner
  std::string replaces{};                 // the parcel whose dead arrivals they make good
  std::string on{};
};
struct ReturnLotOptions {
  std::string lot{};
  std::optional<std::uint32_t> slings{};  // nothing: all of it
  std::string reason{};
  std::string on{};
};
struct PassLotOptions {
  std::string lot{};
  std::optional<std::uint32_t> slings{};  // nothing: all of it
  std::string to{};
  std::string on{};
};
struct DivideLotOptions {
  std::string lot{};
  std::optional<std::uint32_t> slings{};
  std::string on{};
};
struct MergeLotsOptions {
  std::string lot{};
  std::vector<std::string> with{};
  std::string on{};
};
struct ReceiveLotOptions {
  std::string parcel{};
  std::optional<std::uint32_t> living{};
  std::optional<std::uint32_t> dead{};
  std::string on{};
};
struct LoseLotOptions {
  std::string lot{};
  std::optional<std::uint32_t> slings{};
  std::string on{};
  std::string cause{};
};
struct RaiseLotOptions {
  std::string lot{};
  std::string name{};
  std::string sex{};
  std::string on{};
};

absl::Status RunListLots(const Desk& desk, const ListLotsOptions& options);
absl::Status RunShowLot(const Desk& desk, const ShowLotOptions& options);
absl::Status RunGiveLot(const Desk& desk, const GiveLotOptions& options);
absl::Status RunReceiveLot(const Desk& desk, const ReceiveLotOptions& options);
absl::Status RunLoseLot(const Desk& desk, const LoseLotOptions& options);
absl::Status RunRaiseLot(const Desk& desk, const RaiseLotOptions& options);
// lot_change.cc
absl::Status RunReturnLot(const Desk& desk, const ReturnLotOptions& options);
absl::Status RunPassLot(const Desk& desk, const PassLotOptions& options);
absl::Status RunDivideLot(const Desk& desk, const DivideLotOptions& options);
absl::Status RunMergeLots(const Desk& desk, const MergeLotsOptions& options);

void AddLotCommands(Command& root);
void AddLotChangeCommands(Command& lot);

}  // namespace broodpact::cli
