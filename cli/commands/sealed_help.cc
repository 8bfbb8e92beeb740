#include "cli/commands/sealed.h"

namespace broodpact::cli {
namespace {

constexpr char kSubjectHelp[] = "What it is about, by name or id";
constexpr char kFieldHelp[] =
    "Field: locality of an animal or group, address of a keeper, price of a loan, animal or "
    "clutch, or a note";
constexpr char kKindHelp[] =
    "Kind of the subject (default: what has the field: animal, keeper for an address, loan for a "
    "price)";
constexpr char kReadHelp[] =
    "Who has read it has read it: its last day, taking it back and revoking a device end what is "
    "shown and sealed from then on, and no more.";

void TakeField(Command& command, std::string& field, std::string& kind) {
  command.Option("--field", "field", field, kFieldHelp)
      .Required()
      .OneOf({"locality", "address", "price", "note"});
  command.Option("--kind", "kind", kind, kKindHelp)
      .OneOf({"animal", "group", "keeper", "loan", "clutch"});
}

}  // namespace

void DescribeWriteSealed(Command& command, WriteSealedOptions& options) {
  command.Note(
      "The text is sealed to your devices and those of the keepers named, before it leaves this "
      "one. The others see that there is one, of which field, by whom and for whom, and not what "
      "it says. It takes the place of all that you wrote there. A price of a loan is for its "
      "parties.");
  command.Note(
      "An address that is for nobody in particular opens to the other party of each loan in "
      "force, for 30 days from its coming into force and from each dispatch; with --for it is for "
      "those alone.");
  command.Note(kReadHelp);
  command.Positional("subject", options.subject, kSubjectHelp);
  command
      .Positional(
          "text", options.text,
          "The text; \"-\" or nothing reads standard input, and keeps it out of the history "
          "of your shell")
      .required = false;
  TakeField(command, options.field, options.kind);
  command.Options("--for", "keeper", options.readers,
                  "Keeper who may read it too; may be repeated");
  command.Option("--until", "day", options.until,
                 "Last day on which it is shown (default: as long as it stands)");
  command.AddExample("Where the line of an animal was found",
                     "broodpact sealed write rosa --field locality - < where.txt");
  command.AddExample("Your address, for handovers",
                     "broodpact sealed write mira --field address -");
  command.AddExample("The price of a loan, for its parties",
                     "broodpact sealed write rosa-loan --field price \"40 EUR, both ways paid\"");
  command.AddExample("The exact locality of a group that you entered",
                     "broodpact sealed write hamorii-colima --kind group --field locality -");
}

void DescribeShareSealed(Command& command, ShareSealedOptions& options) {
  command.Note("Seals what you wrote there to more keepers, in a note of its own beside it.");
  command.Note(kReadHelp);
  command.Positional("subject", options.subject, kSubjectHelp);
  TakeField(command, options.field, options.kind);
  command.Options("--for", "keeper", options.readers, "Keeper who may read it; may be repeated")
      .Required();
  command.Option("--until", "day", options.until,
                 "Last day on which it is shown (default: as long as it stands)");
  command.AddExample("Tell one keeper where the line is from, for a season",
                     "broodpact sealed share rosa --field locality --for tomas --until 2027-06-30");
}

void DescribeWithdrawSealed(Command& command, WithdrawSealedOptions& options) {
  command.Note("Takes back all that you wrote there, shared notes too.");
  command.Note(kReadHelp);
  command.Positional("subject", options.subject, kSubjectHelp);
  TakeField(command, options.field, options.kind);
  command.AddExample("Take your address back", "broodpact sealed withdraw mira --field address");
}

void DescribeShowSealed(Command& command, ShowSealedOptions& options) {
  command.Note(
      "Shows the texts that are for you. closed: it is not sealed to this device (one that is new "
      "gets it when another one of yours has synced). ended: its last day is past.");
  command.Positional("subject", options.subject, kSubjectHelp);
  command.Option("--kind", "kind", options.kind, "Kind of the subject (default: the one that fits)")
      .OneOf({"animal", "group", "keeper", "loan", "clutch"});
  command.AddExample("Where to send the male", "broodpact sealed show tomas");
}

void DescribeListSealed(Command& command, ListSealedOptions& /*options*/) {
  command.Note("Lists what you wrote and what is for you, without the texts.");
  command.AddExample("What is sealed, and to whom", "broodpact sealed list");
}

}  // namespace broodpact::cli
