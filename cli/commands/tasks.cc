#include "cli/commands/tasks.h"

#include <algorithm>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "cli/desk.h"
#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/waiting.h"

namespace broodpact::cli {
namespace {

using Tasks = std::vector<std::string>;

absl::StatusOr<std::string> NameOf(const replica::View& view, const KeeperId& id) {
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(id));
  return keeper.name();
}

bool WaitsForSignature(const v1::Loan& loan, const std::string& self) {
  if (loan.state() != "offered" && loan.state() != "asked for") return false;
  return std::any_of(loan.signers().begin(), loan.signers().end(), [&](const v1::LoanSigner& one) {
    return one.keeper().id() == self && one.signature_time().empty();
  });
}

void AddSigningTasks(const v1::LoanList& loans, const std::string& self, Tasks& tasks) {
  for (const v1::Loan& loan : loans.loans()) {
    if (!WaitsForSignature(loan, self)) continue;
    tasks.push_back(fmt::format("sign or decline loan {} of {}: broodpact loan show {}",
                                loan.name(), loan.animal().name(), loan.name()));
  }
}

// Amendments that wait for the keeper; each by its version where its loan has more.
absl::Status AddAmendmentTasks(const replica::View& view, Day today, Tasks& tasks) {
  BP_ASSIGN_OR_RETURN(const std::vector<replica::OpenAmendment> amendments,
                      replica::AmendmentsFor(view.source(), view.self(), today));
  for (const replica::OpenAmendment& one : amendments) {
    BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(one.loan));
    BP_ASSIGN_OR_RETURN(const std::string proposer, NameOf(view, one.proposer));
    const std::string version =
        one.open == 1 ? "" : " --version " + replica::VersionText(one.digest);
    tasks.push_back(
        fmt::format("sign or decline the amendment of loan {} by {}, as loan show has it: "
                    "broodpact loan accept {}{}",
                    loan.name(), proposer, loan.name(), version));
  }
  return absl::OkStatus();
}

// What the lender has to do about a loan in force whose animal is with him.
std::string LenderTask(const v1::Loan& loan, bool dead) {
  const std::string& animal = loan.animal().name();
  if (dead) return fmt::format("{} is dead: broodpact loan close {}", animal, loan.name());
  if (!loan.dispatch_day().empty()) {
    return fmt::format("{} is home again: broodpact loan close {}", animal, loan.name());
  }
  return fmt::format("send {} to {}: broodpact loan send {}", animal, loan.borrower().name(),
                     loan.name());
}

absl::Status AddLenderTasks(const replica::View& view, const v1::LoanList& loans, Tasks& tasks) {
  const std::string self = ToText(view.self());
  for (const v1::Loan& loan : loans.loans()) {
    const bool at_home = loan.state() == "in force" && loan.lender().id() == self &&
                         loan.holder().id() == self && loan.receiver().id().empty();
    if (!at_home) continue;
    const std::optional<IdBytes> id = ParseIdText(loan.animal().id());
    if (!id) continue;
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Animal> animal,
                        registry::Read<registry::Animal>(view.source(), AnimalId{*id}));
    tasks.push_back(LenderTask(loan, animal && animal->death));
  }
  return absl::OkStatus();
}

void AddTravelTasks(const v1::LoanList& loans, const std::string& self, Day today, Tasks& tasks) {
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
      tasks.push_back(
          fmt::format("receive {} of clutch {} from {}, with the numbers that live and that are "
                      "dead: broodpact "
                      "lot receive {} --living {} --dead 0",
                      Counted(lot.slings(), "sling"), lot.clutch().name(), lot.holder().name(), id,
                      lot.slings()));
    } else if (lot.holder().id() == self && lot.owner().id() != self &&
               lot.receiver().id().empty()) {
      tasks.push_back(fmt::format("hand {} of clutch {} over to {}: broodpact lot give {}",
                                  Counted(lot.slings(), "sling"), lot.clutch().name(),
                                  lot.owner().name(), id));
    }
  }
}

// "tomas and iva", of those who have not signed.
absl::StatusOr<std::string> NamesOf(const replica::View& view,
                                    const std::vector<KeeperId>& keepers) {
  std::string names;
  for (const KeeperId& keeper : keepers) {
    BP_ASSIGN_OR_RETURN(const std::string name, NameOf(view, keeper));
    names += (names.empty() ? "" : " and ") + name;
  }
  return names;
}

absl::StatusOr<std::string> WitnessTask(const replica::View& view, const replica::Unsplit& clutch) {
  if (clutch.witness == view.self()) {
    return fmt::format("confirm the count of clutch {}, {} alive: broodpact witness {}",
                       clutch.name, Counted(clutch.slings, "sling"), clutch.name);
  }
  BP_ASSIGN_OR_RETURN(const std::string witness, NameOf(view, clutch.witness));
  return fmt::format(
      "clutch {} is counted and waits for {} to confirm the count: broodpact sac show {}",
      clutch.name, witness, clutch.name);
}

absl::StatusOr<std::string> SplitTask(const replica::View& view, const replica::Unsplit& clutch) {
  if (!clutch.witness.empty()) return WitnessTask(view, clutch);
  const std::string what = clutch.shared_before ? fmt::format("has {} that are not shared out",
                                                              Counted(clutch.slings, "sling"))
                                                : "is counted and not shared out";
  if (clutch.amendments.empty()) {
    return fmt::format("clutch {} {}: broodpact split {}", clutch.name, what, clutch.name);
  }
  const replica::OpenAmendment& open = clutch.amendments.front();
  BP_ASSIGN_OR_RETURN(const std::string missing, NamesOf(view, open.missing));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(open.loan));
  return fmt::format(
      "clutch {} {}; an amendment of loan {} that covers it waits for {}, and the split would go "
      "by the terms before it: broodpact loan show {}",
      clutch.name, what, loan.name(), missing, loan.name());
}

absl::Status AddSplitTasks(const replica::View& view, Day today, Tasks& tasks) {
  BP_ASSIGN_OR_RETURN(const std::vector<replica::Unsplit> clutches,
                      replica::UnsplitOf(view.source(), view.self(), today));
  for (const replica::Unsplit& clutch : clutches) {
    BP_ASSIGN_OR_RETURN(std::string task, SplitTask(view, clutch));
    tasks.push_back(std::move(task));
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
  AddSigningTasks(loans, self, tasks);
  BP_RETURN_IF_ERROR(AddAmendmentTasks(view, today, tasks));
  BP_RETURN_IF_ERROR(AddLenderTasks(view, loans, tasks));
  AddTravelTasks(loans, self, today, tasks);
  BP_ASSIGN_OR_RETURN(const v1::LotList lots, view.LotsOf(view.self()));
  AddLotTasks(lots, self, tasks);
  BP_RETURN_IF_ERROR(AddSplitTasks(view, today, tasks));
  BP_RETURN_IF_ERROR(AddAnswerTasks(view, today, tasks));
  return tasks;
}

}  // namespace broodpact::cli
