// What the commands on animals take.

#include "cli/commands/animal.h"
#include "cli/commands/share.h"

namespace broodpact::cli {
namespace {

constexpr char kWhichAnimal[] = "Animal, by name or id";
constexpr char kAnimalDayHelp[] =
    "Day it happened, as 2026-11-25, 2026-11 or 2026-11-25~ (default: today)";

void DescribeAdd(Command& command, AddAnimalOptions& options) {
  command.Note("You become its owner and its holder. A parent that is not known is left out.");
  command.Positional("name", options.name, "Short name, not taken by another of yours");
  command.Option("--group", "group", options.group, "Breeding group").Required();
  command.Option("--sex", "sex", options.sex, "Sex (default: unknown)")
      .OneOf({"female", "male", "unknown"});
  command.Option("--method", "method", options.method, "How the sex was told")
      .OneOf({"shed-skin", "ventral", "adult-form"});
  command.Option("--hatched", "day", options.hatched, "Day it hatched; 2019 will do");
  command.Option("--mature", "day", options.mature, "Day it became mature");
  command.Option("--sire", "animal", options.sire, "Its father");
  command.Option("--dam", "animal", options.dam, "Its mother");
  command.AddExample("A mature male of a group",
                     "broodpact animal add bh-m-07 --group hamorii-colima --sex male "
                     "--method adult-form --mature 2026-10-02");
  command.AddExample("A female with known parents",
                     "broodpact animal add rosa --group hamorii-colima --sex female --hatched 2019 "
                     "--sire old-m --dam old-f");
}

void DescribeList(Command& command, ListAnimalsOptions& options) {
  command.Option("--group", "group", options.group, "Only of this group");
  command.Option("--keeper", "keeper", options.keeper, "Only what this keeper owns or holds");
  command.Flag("--mine", options.mine, "Only what you own or hold");
  command.Number("--limit", "n", options.limit, "At most so many (default: 500)").AtLeast(1);
  command.Option("--after", "animal", options.after, "Go on after this one");
  command.AddExample("What you own or hold", "broodpact animal list --mine");
  command.AddExample("All of a group", "broodpact animal list --group hamorii-colima");
}

void DescribeShow(Command& command, ShowAnimalOptions& options) {
  command.Positional("animal", options.animal, kWhichAnimal);
  command.AddExample("All that is known of an animal", "broodpact animal show bh-m-07");
  command.AddExample("One of another keeper, with the same name as yours",
                     "broodpact animal show mira/rosa");
}

void DescribeMoult(Command& command, MoultOptions& options) {
  command.Note(
      "A female sheds the stored sperm with her skin: pairings before a moult do not count for "
      "sacs after it, also when the moult is entered late.");
  command.Positional("animal", options.animal, kWhichAnimal);
  command.Option("--on", "day", options.on, kAnimalDayHelp);
  command.Number("--number", "n", options.number, "Moults since the egg, hatching being 0");
  command.AddExample("It moulted today", "broodpact animal moult rosa");
  command.AddExample("It moulted about the third of May",
                     "broodpact animal moult rosa --on 2026-05-03~");
}

void DescribeMatured(Command& command, MaturedOptions& options) {
  command.Positional("animal", options.animal, kWhichAnimal);
  command.Option("--on", "day", options.on, kAnimalDayHelp);
  command.Option("--sex", "sex", options.sex, "Sex, as the adult form shows it")
      .OneOf({"female", "male"});
  command.AddExample("A male's ultimate moult",
                     "broodpact animal matured bh-m-07 --sex male --on 2026-10-02");
}

void DescribeSexed(Command& command, SexedOptions& options) {
  command.Note("This is a claim with your name on it. A later claim may reverse it; both stay.");
  command.Positional("animal", options.animal, kWhichAnimal);
  command.Positional("sex", options.sex, "Sex").OneOf({"female", "male", "unknown"});
  command.Option("--method", "method", options.method, "How it was told")
      .OneOf({"shed-skin", "ventral", "adult-form"});
  command.Option("--on", "day", options.on, kAnimalDayHelp);
  command.AddExample("Read in a shed skin",
                     "broodpact animal sexed rosa female --method shed-skin");
}

void DescribeDied(Command& command, DiedOptions& options) {
  command.Positional("animal", options.animal, kWhichAnimal);
  command.Option("--on", "day", options.on, kAnimalDayHelp);
  command.Option("--cause", "text", options.cause, "Cause, in your words");
  command.AddExample("A male that has had his time",
                     "broodpact animal died bh-m-07 --cause \"old age\"");
}

void DescribeGive(Command& command, GiveAnimalOptions& options) {
  command.Note(
      "This changes the owner for good; to lend an animal see broodpact loan offer. What you hold "
      "goes with it. The dues under which a female was mated run with her: say so with --with-due, "
      "and she changes hands when the other keeper accepts them.");
  command.Positional("animal", options.animal, kWhichAnimal);
  command.Option("--to", "keeper", options.to, "Keeper who gets it").Required();
  command.Flag("--with-due", options.with_due, "Disclose the dues, and carry them over");
  command.AddExample("Give a female away", "broodpact animal give rosa --to tomas");
  command.AddExample("Give a mated one away with her due",
                     "broodpact animal give rosa --to tomas --with-due");
}

}  // namespace

void AddAnimalCommands(Command& root) {
  Command& animal = root.AddGroup("animal", "Enter animals and what happens to them");
  animal.Add("add", "Enter an animal", DescribeAdd, RunAddAnimal);
  animal.Add("list", "List animals", DescribeList, RunListAnimals);
  animal.Add("show", "Show one animal", DescribeShow, RunShowAnimal);
  animal.Add("moult", "Record a moult", DescribeMoult, RunMoult);
  animal.Add("matured", "Record that an animal became mature", DescribeMatured, RunMatured);
  animal.Add("sexed", "Claim the sex of an animal", DescribeSexed, RunSexed);
  animal.Add("died", "Record a death", DescribeDied, RunDied);
  animal.Add("give", "Give an animal away for good", DescribeGive, RunGiveAnimal);
  AddAcceptCommand(animal);
}

}  // namespace broodpact::cli
