// What pair, sac, count and split take.

#include "cli/commands/clutch.h"
#include "cli/commands/share.h"
#include "cli/commands/sheet.h"

namespace broodpact::cli {
namespace {

constexpr char kClutchDayHelp[] =
    "Day it happened, as 2026-11-25 or 2026-11-20/2026-11-25 (default: today)";
constexpr char kWhichClutch[] = "Clutch, by name or id";

void DescribePair(Command& command, PairOptions& options) {
  command.Note(
      "Whoever holds the male or the female may record it; it makes him a possible sire once her "
      "owner or holder has, or a party of a loan that her owner signed. Across groups it needs "
      "--hybrid, and marks all offspring for ever.");
  command.Positional("male", options.male, "Male, by name or id");
  command.Positional("female", options.female, "Female, by name or id");
  command.Option("--on", "day", options.on, kClutchDayHelp);
  command.Option("--outcome", "what", options.outcome, "What was seen")
      .OneOf({"seen", "refused", "eaten"});
  command.Option("--loan", "loan", options.loan,
                 "Loan that it happens under (default: his loan in force)");
  command.Flag("--no-loan", options.no_loan, "Under no loan");
  command.Flag("--hybrid", options.hybrid, "They are of different groups, and hybrids are meant");
  command.AddExample("He was put to her today, and the insertion was seen",
                     "broodpact pair bh-m-07 rosa --outcome seen");
}

void DescribeSacLaid(Command& command, SacLaidOptions& options) {
  command.Note(
      "The clutch is shared by the terms of the loan that her pairings since her last moult were "
      "under. The terms that count are those in force when the sac was laid.");
  command.Positional("female", options.female, "Mother, by name or id");
  command.Option("--on", "day", options.on, kClutchDayHelp);
  command.Option("--name", "name", options.name, "Short name of the clutch (default: its id)");
  command.Option("--loan", "loan", options.loan, "Loan whose terms share it");
  command.Flag("--no-loan", options.no_loan, "No loan: the slings are her owner's");
  command.AddExample("She made a sac", "broodpact sac laid rosa --name rosa-26 --on 2027-03-11");
}

void DescribeSacPulled(Command& command, SacPulledOptions& options) {
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Option("--on", "day", options.on, kClutchDayHelp);
  command.AddExample("Taken from her after six weeks",
                     "broodpact sac pulled rosa-26 --on 2027-04-22");
}

void DescribeSacLost(Command& command, SacLostOptions& options) {
  command.Note("For a sac that was not counted. Slings that die later are a loss of their lot.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Option("--on", "day", options.on, kClutchDayHelp);
  command.Option("--cause", "text", options.cause, "Cause, in your words");
  command.AddExample("She ate it", "broodpact sac lost rosa-26 --cause eaten");
}

void DescribeListSacs(Command& command, ListSacsOptions& /*options*/) {
  command.AddExample("All clutches, and how they stand", "broodpact sac list");
}

void DescribeShowSac(Command& command, ShowSacOptions& options) {
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.AddExample("Possible sires, counts, lots and where every sling is",
                     "broodpact sac show rosa-26");
}

void DescribeCount(Command& command, CountOptions& options) {
  command.Note(
      "A first count opens the books of the clutch: from then on living, dead, raised and "
      "unaccounted slings always add up to it. A later count replaces it openly.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Number("--living", "n", options.living, "Slings alive").Required();
  command.Number("--dead", "n", options.dead, "Slings and eggs found dead").Required();
  command.Number("--total", "n", options.total, "Check: living and dead together");
  command.Number("--moults", "n", options.moults, "Moults since the egg, hatching being 0");
  command.Option("--on", "day", options.on, kClutchDayHelp);
  command.Flag("--again", options.again, "Replace the count that stands");
  command.Option("--replaces", "token", options.replaces,
                 "Replace this count, if it still stands (sac show --json has it)");
  command.AddExample("Count, with a check on the sum",
                     "broodpact count rosa-26 --living 73 --dead 4 --total 77");
  command.AddExample("Count again before the split",
                     "broodpact count rosa-26 --living 71 --dead 6 --again");
}

void DescribeSplit(Command& command, SplitOptions& options) {
  command.Note(
      "What each party gets follows from the signed terms and the count that stands, the same on "
      "every replica. The working can be followed on paper.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Flag("--preview", options.preview, "Show it, record nothing");
  command.Number("--count", "n", options.count, "What if so many were counted (with --preview)");
  command
      .Option("--method", "method", options.method,
              "What if by this method (with --preview or --curve)")
      .OneOf({"largest-remainder", "sainte-lague", "dhondt", "adams", "huntington-hill"});
  command
      .Option("--carry", "how", options.carry,
              "What if remainders carried over so (with --preview or --curve)")
      .OneOf({"off", "quota", "chairman"});
  command.Option("--curve", "from..to", options.curve,
                 "Show what each would get of clutches of these sizes; record nothing");
  command.Option("--svg", "file", options.svg, "Draw the curve into this file too (with --curve)");
  command.AddExample("See who would get what, and why", "broodpact split rosa-26 --preview");
  command.AddExample("If it had been 80", "broodpact split rosa-26 --preview --count 80");
  command.AddExample("By another method, and for every size to 120",
                     "broodpact split rosa-26 --preview --method dhondt && broodpact split rosa-26 "
                     "--curve 0..120");
  command.Flag("--picking", options.picking,
               "Show who picks when, where slings differ in size; records nothing");
  command.AddExample("Whose turn is it to pick?", "broodpact split rosa-26 --picking");
  command.AddExample("Share it out: each part becomes a lot", "broodpact split rosa-26");
}

void DescribeWitness(Command& command, WitnessOptions& options) {
  command.Note(
      "For terms that name you as the witness of the count: it is not shared out before you have "
      "confirmed it.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Option("--on", "day", options.on, kClutchDayHelp);
  command.AddExample("You saw them counted", "broodpact witness rosa-26");
}

}  // namespace

void AddClutchCommands(Command& root) {
  root.Add("pair", "Record that a male was put to a female", DescribePair, RunPair);
  Command& sac = root.AddGroup("sac", "Record what becomes of a sac, and look at clutches");
  sac.Add("laid", "Record that a female laid a sac", DescribeSacLaid, RunSacLaid);
  sac.Add("pulled", "Record that the sac was taken from her", DescribeSacPulled, RunSacPulled);
  sac.Add("lost", "Record that the sac came to nothing", DescribeSacLost, RunSacLost);
  AddSacGivingCommands(sac);
  sac.Add("list", "List the clutches", DescribeListSacs, RunListSacs);
  sac.Add("show", "Show one clutch with its books", DescribeShowSac, RunShowSac);
  root.Add("count", "Count the slings of a clutch", DescribeCount, RunCount);
  root.Add("witness", "Confirm the count of a clutch", DescribeWitness, RunWitness);
  AddSplitSheetCommands(
      root.Add("split", "Share a clutch out by the signed terms", DescribeSplit, RunSplit));
}

}  // namespace broodpact::cli
