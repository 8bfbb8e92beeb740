#pragma once

// What commands do for sealed text beside what they are asked for: after a sync, and when an act
// opens a handover.

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "cli/desk.h"
#include "client/replica/replica.h"
#include "client/replica/sealed_care.h"
#include "client/sync/session.h"

namespace broodpact::cli {

// Looks after sealed text with what a sync has brought (replica::CareForSealed), and delivers what
// that stated by another sync, whose results it adds to `synced`. Returns what the keeper should
// know, a sentence each: what failed too, for the sync that was asked for has worked.
std::vector<std::string> CareAfterSync(const Desk& desk, replica::Replica& replica,
                                       const sync::Options& options, replica::Synced& synced);

// Tells what was done about losses of the server's, if it was not told yet, and that it is told.
absl::Status TellRepair(const Desk& desk, replica::Replica& replica);

// "Your address is open to tomas until 2026-12-25." Its day is told, for it is no secret.
std::string AddressSentence(const replica::Replica& replica, const replica::OpenedAddress& opened);

// Opens the own address to the other party after an act about a loan. Returns sentences with a
// blank before each, for the message of the act, whose count of undelivered commits it corrects.
std::string OpenAddressesAfter(replica::Replica& replica, replica::Acted& acted);

}  // namespace broodpact::cli
