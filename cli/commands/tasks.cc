#include "cli/commands/tasks.h"

#include <algorithm>

#include <fmt/format.h>

#include "cli/desk.h"
#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/registry/state.h"

namespace broodpact::cli {
namespace {

constexpr std::size_t kClutchesMax = 10'000;  // of one keeper; bounds what a status costs

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

absl::Status AddSplitTasks(const replica::View& view, Tasks& tasks) {
  const std::string prefix = registry::ClutchesToShare(view.self());
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> entries,
                      view.source().IndexEntries(prefix, kClutchesMax));
  for (const std::string& entry : entries) {
    const ClutchId id{registry::IdOfEntry(entry)};
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Clutch> clutch,
                        registry::Read<registry::Clutch>(view.source(), id));
    if (!clutch || clutch->accounts.undivided == 0) continue;
    const std::string name = clutch->name.empty() ? ToShortText(id) : clutch->name;
    const std::string what = clutch->shared_out
                                 ? fmt::format("has {} that are not shared out",
                                               Counted(clutch->accounts.undivided, "sling"))
                                 : "is counted and not shared out";
    tasks.push_back(fmt::format("clutch {} {}: broodpact split {}", name, what, name));
  }
  return absl::OkStatus();
}

// Settlements that the keeper has not signed, and offers that it has not answered.
absl::Status AddAnswerTasks(const replica::View& view, Day today, Tasks& tasks) {
  const std::string self = ToText(view.self());
  BP_ASSIGN_OR_RETURN(const v1::OwedList list, view.Owed(view.self(), std::nullopt, today));
  for (const v1::Owed& entry : list.entries()) {
    if (entry.debtor().id() != self) continue;
    const std::string id = entry.subject().id().substr(0, kIdShortSize);
    if (entry.kind() == "acceptance") {
      tasks.push_back(fmt::format("say {} from {}: broodpact animal accept {}, or sac accept",
                                  entry.sentence(), entry.creditor().name(),
                                  entry.subject().name()));
    } else if (entry.sentence().starts_with("signature under a settlement")) {
      tasks.push_back(fmt::format("{}: broodpact clash show {}", entry.sentence(), id));
    }
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
  BP_RETURN_IF_ERROR(AddSplitTasks(view, tasks));
  BP_RETURN_IF_ERROR(AddAnswerTasks(view, today, tasks));
  return tasks;
}

}  // namespace broodpact::cli
