// What the commands on loans take.

#include "cli/commands/loan.h"
#include "cli/commands/option_help.h"
#include "cli/commands/sheet.h"
#include "cli/commands/terms_help.h"

namespace broodpact::cli {
namespace {

constexpr char kWhichLoan[] = "Loan, by name or id";
constexpr char kOpenUntilHelp[] = "Last day on which a signature counts (default: no end)";
constexpr char kVersionHelp[] =
    "Offer or amendment, by the beginning of its digest, where several are open";
constexpr char kAsIsHelp[] = "Sign even if something in the terms contradicts";

// The clauses, and what is only tried with them.
void DescribeClauses(Command& command, AgreementOptions& options) {
  command.Option("--open-until", "day", options.open_until, kOpenUntilHelp);
  command.Option("--form", "name", options.form, "Terms saved under this name, to begin with");
  command.Options("--role", "keeper=role", options.terms.slings.roles,
                  "male-owner, female-owner, raiser, cooperative or earlier-lender");
  DescribeTerms(command, options.terms, "keeper");
  command.Flag("--as-is", options.as_is, kAsIsHelp);
  command.Number("--preview", "n", options.preview,
                 "Show the terms and the split of n slings; record nothing");
  command.Option("--curve", "from..to", options.curve,
                 "Show what each gets of clutches of these sizes; record nothing");
  command.Option("--svg", "file", options.svg, "Draw the curve into this file too (with --curve)");
}

void DescribeProposal(Command& command, ProposalOptions& options) {
  command.Option("--name", "name", options.name, "Short name of the loan (default: its id)");
  command.Option("--until", "day", options.agreement.until,
                 "Day it is due back, as 2027-03-01 (default: when the pairing is done)");
  DescribeClauses(command, options.agreement);
}

void DescribeOffer(Command& command, OfferLoanOptions& options) {
  command.Note(
      "The loan is in force when every party has signed these same terms. Until then it promises "
      "nothing, and you can take it back with loan decline.");
  command.Positional("animal", options.proposal.animal, "Animal to lend, by name or id");
  command.Option("--to", "keeper", options.to, "Keeper who takes it").Required();
  DescribeProposal(command, options.proposal);
  command.AddExample("Offer a male in equal shares", "broodpact loan offer bh-m-07 --to mira");
  command.AddExample("Two for mira to one for tomas, who gets 5 first if 40 were counted",
                     "broodpact loan offer bh-m-07 --to mira --share mira=2 --share tomas=1 "
                     "--first tomas=5@40");
  command.AddExample("See first what that means for 73 slings",
                     "broodpact loan offer bh-m-07 --to mira --share mira=2 --share tomas=1 "
                     "--preview 73");
  command.AddExample("The same for every size to 120, in a picture",
                     "broodpact loan offer bh-m-07 --to mira --share mira=2 --share tomas=1 "
                     "--curve 0..120 --svg shares.svg");
}

void DescribeAsk(Command& command, AskForLoanOptions& options) {
  command.Note(
      "Asks the owner, on terms that you sign with this. It is in force when the owner and every "
      "other party has signed them too.");
  command.Positional("animal", options.proposal.animal, "Animal to borrow, by name or id");
  DescribeProposal(command, options.proposal);
  command.AddExample("Ask tomas for his male", "broodpact loan ask tomas/bh-m-07");
  command.AddExample("On other shares, until March",
                     "broodpact loan ask bh-m-07 --share tomas=1 --share mira=1 "
                     "--until 2027-03-01");
}

void DescribeAmend(Command& command, AmendLoanOptions& options) {
  command.Note(
      "Proposes another version of the agreement of a loan in force, and signs it for you. The "
      "present one holds until all parties of both have signed. Clauses that you do not name stay "
      "as they are if you name no clause at all; else the whole terms are as you give them here. A "
      "sac goes by the version in force when it was laid, unless --covers names it.");
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--until", "day", options.agreement.until,
                 "Day it is due back (default: as it was)");
  command.Options("--covers", "clutch", options.clutches,
                  "Clutch laid before, and not shared out, that it covers too");
  DescribeClauses(command, options.agreement);
  command.AddExample("He may stay until May", "broodpact loan amend rosa-26 --until 2027-05-01");
  command.AddExample("Other shares, for the sac that is there too",
                     "broodpact loan amend rosa-26 --share mira=2 --share tomas=1 --covers C1");
}

void DescribeAccept(Command& command, AcceptLoanOptions& options) {
  command.Note(
      "Signs the terms as loan show has them, or the amendment that is open; all parties sign the "
      "same digest.");
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--version", "digest", options.version, kVersionHelp);
  command.Flag("--as-is", options.as_is, kAsIsHelp);
  command.AddExample("Read the terms, then sign them",
                     "broodpact loan show rosa-26 && broodpact loan accept rosa-26");
}

void DescribeDecline(Command& command, DeclineLoanOptions& options) {
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--version", "digest", options.version, kVersionHelp);
  command.Option("--reason", "text", options.reason, "Reason, in your words");
  command.AddExample("Say no, or take your own offer back",
                     "broodpact loan decline rosa-26 --reason \"she moulted\"");
}

void DescribeSend(Command& command, SendAnimalOptions& options) {
  command.Note("A promise: the holder changes when the other keeper has received the animal.");
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("The male went off today", "broodpact loan send rosa-26");
}

void DescribeReturn(Command& command, ReturnAnimalOptions& options) {
  command.Note("The borrower sends the animal back; the lender then receives it.");
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("He goes home", "broodpact loan return rosa-26 --on 2027-02-20");
}

void DescribeReceive(Command& command, ReceiveAnimalOptions& options) {
  command.Note("A fact: it beats any promise about where the animal is.");
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--arrived", "how", options.arrived, "How it arrived")
      .OneOf({"well", "hurt", "dead"});
  command.AddExample("He is here", "broodpact loan receive rosa-26 --arrived well");
}

void DescribeClose(Command& command, CloseLoanOptions& options) {
  command.Note(
      "When the animal is back, or dead. The terms go on sharing out what was laid under them.");
  command.Positional("loan", options.loan, kWhichLoan);
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--reason", "text", options.reason, "Reason, in your words");
  command.AddExample("He is home again", "broodpact loan close rosa-26");
}

void DescribeList(Command& command, ListLoansOptions& options) {
  command.Flag("--all", options.all, "All loans of the cooperative, closed ones too");
  command.AddExample("Your open loans", "broodpact loan list");
}

void DescribeShow(Command& command, ShowLoanOptions& options) {
  command.Positional("loan", options.loan, kWhichLoan);
  command.AddExample("Terms, signatures and where the animal is", "broodpact loan show rosa-26");
}

}  // namespace

void AddLoanCommands(Command& root) {
  Command& loan = root.AddGroup("loan", "Lend and borrow animals for breeding");
  loan.Add("offer", "Offer an animal to another keeper", DescribeOffer, RunOfferLoan);
  loan.Add("ask", "Ask the owner for an animal", DescribeAsk, RunAskForLoan);
  loan.Add("amend", "Propose other terms for a loan in force", DescribeAmend, RunAmendLoan);
  loan.Add("accept", "Sign the terms of a loan", DescribeAccept, RunAcceptLoan);
  loan.Add("decline", "Say no to a loan, or take it back", DescribeDecline, RunDeclineLoan);
  loan.Add("send", "Send the animal to the borrower", DescribeSend, RunSendAnimal);
  loan.Add("receive", "Record that the animal arrived", DescribeReceive, RunReceiveAnimal);
  loan.Add("return", "Send the animal back to its owner", DescribeReturn, RunReturnAnimal);
  loan.Add("close", "End a loan", DescribeClose, RunCloseLoan);
  loan.Add("list", "List loans", DescribeList, RunListLoans);
  loan.Add("show", "Show one loan with its terms", DescribeShow, RunShowLoan);
  AddLoanSheetCommands(loan);
}

}  // namespace broodpact::cli
