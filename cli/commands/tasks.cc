#include "cli/commands/tasks.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "cli/desk.h"
#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/registry/state.h"

namespace broodpact::cli {
namespace {

constexpr std::size_t kAnimalsMax = 10'000;  // of one keeper; bounds what a status costs

using Tasks = std::vector<std::string>;

bool WaitsForSignature(const v1::Loan& loan, const std::string& self) {
  if (loan.state() != "offered" && loan.state() != "asked for") return false;
  return std::any_of(loan.signers().begin(), loan.signers().end(), [&](const v1::LoanSigner& one) {
    return one.keeper().id() == self && one.signature_time().empty();
  });
}

void AddLoanTasks(const v1::LoanList& loans, const std::string& self, Day today, Tasks& tasks) {
  for (const v1::Loan& loan : loans.loans()) {
    if (!WaitsForSignature(loan, self)) continue;
    tasks.push_back(fmt::format("sign or decline loan {} of {}: broodpact loan show {}",
                                loan.name(), loan.animal().name(), loan.name()));
  }
  for (const v1::Loan& loan : loans.loans()) {
    if (loan.receiver().id() != self || loan.state() != "in force") continue;
    tasks.push_back(fmt::format("receive {} from {}: broodpact loan receive {}",
                                loan.animal().name(), loan.holder().name(), loan.name()));
  }
  const std::string day = ToText(today);
  for (const v1::Loan& loan : loans.loans()) {
    const bool is_due = loan.state() == "in force" && !loan.return_day().empty() &&
                        loan.return_day() <= day && loan.holder().id() == self &&
                        loan.borrower().id() == self && loan.receiver().id().empty();
    if (!is_due) continue;
    tasks.push_back(fmt::format("{} was due back to {} on {}: broodpact loan return {}",
                                loan.animal().name(), loan.lender().name(), loan.return_day(),
                                loan.name()));
  }
}

void AddLotTasks(const v1::LotList& lots, const std::string& self, Tasks& tasks) {
  for (const v1::Lot& lot : lots.lots()) {
    const std::string id = lot.id().substr(0, kIdShortSize);
    if (lot.receiver().id() == self) {
      tasks.push_back(fmt::format("receive {} of clutch {} from {}: broodpact lot receive {}",
                                  Counted(lot.slings(), "sling"), lot.clutch().name(),
                                  lot.holder().name(), id));
    } else if (lot.holder().id() == self && lot.owner().id() != self &&
               lot.receiver().id().empty()) {
      tasks.push_back(fmt::format("hand {} of clutch {} over to {}: broodpact lot give {}",
                                  Counted(lot.slings(), "sling"), lot.clutch().name(),
                                  lot.owner().name(), id));
    }
  }
}

// Adds the clutches of a mother.
absl::Status AddClutchesOf(const registry::Source& source, const AnimalId& mother,
                           std::set<ClutchId>& clutches) {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Animal> animal,
                      registry::Read<registry::Animal>(source, mother));
  if (animal) clutches.insert(animal->clutches.begin(), animal->clutches.end());
  return absl::OkStatus();
}

// The clutches of the keeper's own females, and of those paired with animals of its loans.
absl::StatusOr<std::set<ClutchId>> ClutchesAround(const replica::View& view,
                                                  const v1::LoanList& loans) {
  const registry::Source& source = view.source();
  std::set<ClutchId> clutches;
  for (const std::string& prefix :
       {registry::AnimalsOfOwner(view.self()), registry::AnimalsOfHolder(view.self())}) {
    BP_ASSIGN_OR_RETURN(const std::vector<std::string> entries,
                        source.IndexEntries(prefix, kAnimalsMax));
    for (const std::string& entry : entries) {
      BP_RETURN_IF_ERROR(AddClutchesOf(source, AnimalId{registry::IdOfEntry(entry)}, clutches));
    }
  }
  for (const v1::Loan& loan : loans.loans()) {
    const std::optional<IdBytes> id = ParseIdText(loan.animal().id());
    if (!id) continue;
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Animal> animal,
                        registry::Read<registry::Animal>(source, AnimalId{*id}));
    if (!animal) continue;
    for (const PairingId& pairing_id : animal->pairings) {
      BP_ASSIGN_OR_RETURN(const std::optional<registry::Pairing> pairing,
                          registry::Read<registry::Pairing>(source, pairing_id));
      if (pairing) BP_RETURN_IF_ERROR(AddClutchesOf(source, pairing->female, clutches));
    }
  }
  return clutches;
}

// Whether the keeper may record the split of a clutch that waits for it.
absl::StatusOr<bool> MayShareOut(const replica::View& view, const registry::Clutch& clutch) {
  if (clutch.counts.empty() || clutch.shared_out) return false;
  if (clutch.loan.empty()) return clutch.owner == view.self();
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Loan> loan,
                      registry::Read<registry::Loan>(view.source(), clutch.loan));
  return loan &&
         std::find(loan->parties.begin(), loan->parties.end(), view.self()) != loan->parties.end();
}

absl::Status AddSplitTasks(const replica::View& view, const v1::LoanList& loans, Tasks& tasks) {
  BP_ASSIGN_OR_RETURN(const std::set<ClutchId> clutches, ClutchesAround(view, loans));
  for (const ClutchId& id : clutches) {
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Clutch> clutch,
                        registry::Read<registry::Clutch>(view.source(), id));
    if (!clutch) continue;
    BP_ASSIGN_OR_RETURN(const bool may_share_out, MayShareOut(view, *clutch));
    if (!may_share_out) continue;
    const std::string name = clutch->name.empty() ? ToShortText(id) : clutch->name;
    tasks.push_back(
        fmt::format("clutch {} is counted and not shared out: broodpact split {}", name, name));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::vector<std::string>> TasksOf(const replica::View& view, Day today) {
  const std::string self = ToText(view.self());
  Tasks tasks;
  BP_ASSIGN_OR_RETURN(const v1::LoanList loans, view.LoansOf(view.self()));
  AddLoanTasks(loans, self, today, tasks);
  BP_ASSIGN_OR_RETURN(const v1::LotList lots, view.LotsOf(view.self()));
  AddLotTasks(lots, self, tasks);
  BP_RETURN_IF_ERROR(AddSplitTasks(view, loans, tasks));
  return tasks;
}

}  // namespace broodpact::cli
