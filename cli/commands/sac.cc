// broodpact sac.

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/clutch.h"
#include "cli/commands/subject.h"
#include "cli/day_order.h"
#include "cli/show/show.h"
#include "client/replica/acts_clutch.h"

namespace broodpact::cli {
namespace {

constexpr char kSacCaution[] =
    "She may defend the sac: hairs irritate, so protect your eyes; for a bite seek medical help.";

// The loan whose terms share the clutch: as said, else by her pairings.
absl::StatusOr<LoanId> LoanOfSac(const replica::Replica& replica, const SacLaidOptions& options,
                                 const AnimalId& female, const DaySpan& day) {
  if (options.no_loan) return LoanId();
  if (!options.loan.empty()) return ViewOf(replica).LoanNamed(options.loan);
  const absl::StatusOr<std::optional<LoanId>> loan = replica::LoanOfLaying(replica, female, day);
  if (loan.ok()) return loan->value_or(LoanId());
  if (ReasonOf(loan.status()) != "AMBIGUOUS_LOAN") return loan.status();
  const absl::string_view message = loan.status().message();
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_LOAN",
              fmt::format("{} with --loan, or --no-loan",
                          std::string_view(message.data(), message.size())));
}

// Says so where a day is before the sac was laid.
absl::Status NoteAgainstLaying(const Desk& desk, const ClutchSubject& subject,
                               std::string_view what, const DaySpan& day) {
  BP_ASSIGN_OR_RETURN(const auto clutch,
                      replica::Known<registry::Clutch>(*subject.replica, subject.id, "sac"));
  NoteOrder(desk, "laid", clutch.laying, what, day);
  return absl::OkStatus();
}

}  // namespace

absl::Status RunSacLaid(const Desk& desk, const SacLaidOptions& options) {
  if (options.no_loan && !options.loan.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "--loan and --no-loan contradict each other; say one of them");
  }
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId female, view.AnimalNamed(options.female));
  BP_ASSIGN_OR_RETURN(const LoanId loan, LoanOfSac(*replica, options, female, day));
  BP_ASSIGN_OR_RETURN(
      const replica::Made<ClutchId> made,
      replica::RecordSac(
          *replica,
          {.clutch = {}, .female = female, .day = day, .name = options.name, .loan = loan}));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, ViewOf(*replica).Clutch(made.id));
  std::string shared = "No loan shares it: the slings will be the owner's.";
  if (!loan.empty()) {
    shared = fmt::format("The terms of loan {} share it.", clutch.loan().name());
  }
  return ReportAct(desk, *replica, made.acted,
                   {.message = fmt::format("{} laid on {}: clutch {}. {}", clutch.female().name(),
                                           ToText(day), clutch.name(), shared),
                    .subject = RefOf(made.id, clutch.name())});
}

absl::Status RunSacPulled(const Desk& desk, const SacPulledOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::PullSac(*subject.replica, {.clutch = subject.id, .day = day}));
  Caution(desk.terminal, kSacCaution);
  BP_RETURN_IF_ERROR(NoteAgainstLaying(desk, subject, "pulled", day));
  return ReportAct(desk, *subject.replica, acted,
                   {.message = fmt::format("The sac of clutch {} was pulled on {}.",
                                           subject.ref.name(), ToText(day)),
                    .subject = subject.ref});
}

absl::Status RunSacLost(const Desk& desk, const SacLostOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::LoseSac(*subject.replica,
                                       {.clutch = subject.id, .day = day, .cause = options.cause}));
  BP_RETURN_IF_ERROR(NoteAgainstLaying(desk, subject, "lost", day));
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format("Clutch {} came to nothing on {}.", subject.ref.name(), ToText(day)),
       .subject = subject.ref});
}

absl::Status RunListSacs(const Desk& desk, const ListSacsOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::ClutchList list, ViewOf(*replica).Clutches());
  return Present(desk, list);
}

absl::Status RunShowSac(const Desk& desk, const ShowSacOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, view.Clutch(id));
  return Present(desk, clutch);
}

}  // namespace broodpact::cli
