#pragma once

// Registry messages as tables: one overload a message. JSON is the other printer of the same
// message, and Present chooses.

#include "absl/status/status.h"

#include "broodpact/v1/registry.pb.h"
#include "cli/desk.h"
#include "cli/terminal/json.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {

void Print(const Terminal& terminal, const v1::Keeper& keeper);
void Print(const Terminal& terminal, const v1::KeeperList& list);
void Print(const Terminal& terminal, const v1::DeviceList& list);
void Print(const Terminal& terminal, const v1::MotionList& list);
void Print(const Terminal& terminal, const v1::Group& group);
void Print(const Terminal& terminal, const v1::GroupList& list);
void Print(const Terminal& terminal, const v1::Animal& animal);
void Print(const Terminal& terminal, const v1::AnimalList& list);
void Print(const Terminal& terminal, const v1::Loan& loan);
void Print(const Terminal& terminal, const v1::LoanList& list);
void Print(const Terminal& terminal, const v1::Clutch& clutch);
void Print(const Terminal& terminal, const v1::ClutchList& list);
void Print(const Terminal& terminal, const v1::Split& split);
void Print(const Terminal& terminal, const v1::PickingOrder& order);
void Print(const Terminal& terminal, const v1::SplitCurve& curve);
void Print(const Terminal& terminal, const v1::SavedTerms& form);
void Print(const Terminal& terminal, const v1::SavedTermsList& list);
void Print(const Terminal& terminal, const v1::Lot& lot);
void Print(const Terminal& terminal, const v1::LotList& list);
void Print(const Terminal& terminal, const v1::MaleMatchList& list);
void Print(const Terminal& terminal, const v1::FemaleMatchList& list);
void Print(const Terminal& terminal, const v1::HomeMatchList& list);
void Print(const Terminal& terminal, const v1::Plan& plan);
void Print(const Terminal& terminal, const v1::VetoList& list);
void Print(const Terminal& terminal, const v1::SealedNoteList& list);
void Print(const Terminal& terminal, const v1::WantList& list);
void Print(const Terminal& terminal, const v1::Kinship& kinship);
void Print(const Terminal& terminal, const v1::Clash& clash);
void Print(const Terminal& terminal, const v1::ClashList& list);
void Print(const Terminal& terminal, const v1::OwedList& list);
void Print(const Terminal& terminal, const v1::SheetCheck& check);
void Print(const Terminal& terminal, const v1::LogEntryList& list);
void Print(const Terminal& terminal, const v1::ReplicaStatus& status);
void Print(const Terminal& terminal, const v1::SyncResult& result);
void Print(const Terminal& terminal, const v1::LogHeadList& list);
void Print(const Terminal& terminal, const v1::BundleResult& result);
void Print(const Terminal& terminal, const v1::VerifyResult& result);

// Prints a message in the terminal's format.
template <typename Message>
absl::Status Present(const Desk& desk, const Message& message) {
  if (desk.terminal.format == Format::kJson) return PrintJson(desk.terminal, message);
  Print(desk.terminal, message);
  return absl::OkStatus();
}

// A device, and a lease, on one line of a subject (device.cc).
std::string DeviceText(const v1::Device& device);
std::string LeaseText(const v1::Lease& lease);

// "not delivered" for what is provisional, else nothing.
std::string StandingText(v1::Standing standing);

// The name of an animal, marked where it is a hybrid.
std::string MarkedName(const v1::Animal& animal);

// What is known of a group as such, its names at the end.
std::vector<Field> FieldsOf(const v1::Group& group);

// "mira", or "mira (held by tomas)".
std::string WhereText(const v1::Animal& animal);

// "the due of loan L4 to bela, in tomas' place".
std::string DueText(const v1::RunningDue& due);

// The first characters of an id: enough to type.
std::string ShortId(std::string_view id);

}  // namespace broodpact::cli
