#include "cli/commands/all.h"

#include "cli/commands/animal.h"
#include "cli/commands/bundle.h"
#include "cli/commands/clash.h"
#include "cli/commands/clutch.h"
#include "cli/commands/device.h"
#include "cli/commands/find.h"
#include "cli/commands/keeper.h"
#include "cli/commands/lease.h"
#include "cli/commands/loan.h"
#include "cli/commands/lot.h"
#include "cli/commands/manual.h"
#include "cli/commands/member.h"
#include "cli/commands/motion.h"
#include "cli/commands/owed.h"
#include "cli/commands/plan.h"
#include "cli/commands/record.h"
#include "cli/commands/sealed.h"
#include "cli/commands/server.h"
#include "cli/commands/share.h"
#include "cli/commands/status.h"
#include "cli/commands/sync.h"
#include "cli/commands/terms.h"
#include "cli/commands/want.h"

namespace broodpact::cli {

std::unique_ptr<Command> AllCommands(Globals& globals) {
  auto root =
      std::make_unique<Command>("broodpact", "Share the registry of a breeding cooperative");
  root->Note(
      "Everything is recorded and looked up in your own replica, with no network; sync exchanges "
      "it with the other keepers'. Subjects are named by short name, by keeper/name, or by the "
      "beginning of the id.");
  DescribeGlobals(*root, globals);
  AddMemberCommands(*root);
  AddSyncCommand(*root);
  AddBundleCommands(*root);
  AddStatusCommand(*root);
  AddKeeperCommands(*root);
  AddDeviceCommands(*root);
  AddServerCommands(*root);
  AddMotionCommands(*root);
  AddGroupCommands(*root);
  AddAnimalCommands(*root);
  AddTermsCommands(*root);
  AddLoanCommands(*root);
  AddClutchCommands(*root);
  AddShareCommands(*root);
  AddLotCommands(*root);
  AddLeaseCommands(*root);
  AddOwedCommand(*root);
  AddFindCommands(*root);
  AddPlanCommands(*root);
  AddWantCommands(*root);
  AddSealedCommands(*root);
  AddRecordCommands(*root);
  AddClashCommands(*root);
  AddManualCommands(*root);
  root->AddExample("Begin, and see what waits for you",
                   "broodpact start --name mira && broodpact status");
  root->AddExample("Lend a male", "broodpact loan offer bh-m-07 --to tomas");
  root->AddExample("Look for a male for a female", "broodpact find male --for rosa");
  return root;
}

}  // namespace broodpact::cli
