#include "cli/commands/terms.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/terms_help.h"
#include "cli/show/show.h"
#include "client/replica/acts_terms.h"
#include "client/shares/findings.h"

namespace broodpact::cli {
namespace {

void DescribeSave(Command& command, SaveTermsOptions& options) {
  command.Note(
      "Saved terms name roles in place of keepers; an offer on them says who has which role. The "
      "owners of male and female are lender and borrower of the loan.");
  command.Positional("name", options.name, "Name that the cooperative calls them by");
  DescribeTerms(command, options.terms, "role");
  command.Flag("--replace", options.replace, "Save a new version of the terms of that name");
  command.Flag("--as-is", options.as_is, "Save them even if something in them contradicts");
  command.AddExample(
      "Equal shares after 10 per cent for the pool, remainders carried over",
      "broodpact terms save usual --first cooperative=10%..20 --share male-owner=1 --share "
      "female-owner=1 --carry quota");
  command.AddExample("Use them",
                     "broodpact loan offer bh-m-07 --to mira --form usual --role "
                     "iva=cooperative");
}

void DescribeList(Command& command, ListTermsOptions& /*options*/) {
  command.AddExample("The terms that the cooperative has under a name", "broodpact terms list");
}

void DescribeShow(Command& command, ShowTermsOptions& options) {
  command.Positional("name", options.name, "Terms, by name or id");
  command.AddExample("What they say, in sentences", "broodpact terms show usual");
}

// What is wrong in terms whose parties are roles.
absl::Status CheckForm(const facts::Terms& terms) {
  BP_RETURN_IF_ERROR(facts::CheckTerms(terms));
  std::vector<std::string> names;
  names.reserve(terms.parties.size());
  for (const facts::Party& party : terms.parties) {
    names.push_back(fmt::format("the {}", RoleWordOf(party.role)));
  }
  google::protobuf::RepeatedPtrField<v1::Remark> findings;
  for (const shares::Remark& remark : shares::FindingsOf(terms, std::nullopt, names)) {
    findings.Add()->set_severity(std::string(shares::SeverityText(remark.severity)));
    findings.rbegin()->set_text(remark.text);
  }
  return CheckFindings(findings);
}

}  // namespace

absl::Status RunSaveTerms(const Desk& desk, const SaveTermsOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  replica::FormDraft draft{.name = options.name};
  BP_ASSIGN_OR_RETURN(draft.terms, ParseFormOptions(options.terms, LookupIn(desk, view)));
  if (!options.as_is) BP_RETURN_IF_ERROR(CheckForm(draft.terms));
  if (options.replace) {
    BP_ASSIGN_OR_RETURN(draft.replaced, view.FormNamed(options.name));
  }
  BP_ASSIGN_OR_RETURN(const replica::Made<FormId> made, replica::SaveTerms(*replica, draft));
  BP_ASSIGN_OR_RETURN(const v1::SavedTerms form, ViewOf(*replica).Form(made.id));
  PrintFindings(desk.terminal, form.findings());
  return ReportAct(
      desk, *replica, made.acted,
      {.message = fmt::format("Terms {} are saved, version {}.", form.name(), form.version()),
       .subject = RefOf(made.id, form.name())});
}

absl::Status RunListTerms(const Desk& desk, const ListTermsOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::SavedTermsList list, ViewOf(*replica).Forms());
  return Present(desk, list);
}

absl::Status RunShowTerms(const Desk& desk, const ShowTermsOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const FormId id, view.FormNamed(options.name));
  BP_ASSIGN_OR_RETURN(const v1::SavedTerms form, view.Form(id));
  return Present(desk, form);
}

void AddTermsCommands(Command& root) {
  Command& terms = root.AddGroup("terms", "Save terms under a name, to use them again");
  terms.Add("save", "Save terms under a name", DescribeSave, RunSaveTerms);
  terms.Add("list", "List saved terms", DescribeList, RunListTerms);
  terms.Add("show", "Show saved terms in sentences", DescribeShow, RunShowTerms);
}

}  // namespace broodpact::cli
