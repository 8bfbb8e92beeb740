#include "cli/commands/animal.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/share.h"
#include "cli/commands/words.h"
#include "cli/day_order.h"
#include "cli/show/show.h"
#include "cli/sires.h"
#include "client/replica/acts_animal.h"
#include "client/replica/acts_clash.h"

namespace broodpact::cli {
namespace {

// The day of an option that may be left out.
absl::StatusOr<std::optional<DaySpan>> MaybeDayOf(const Desk& desk, std::string_view option,
                                                  const std::string& text) {
  if (text.empty()) return std::optional<DaySpan>();
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, option, text));
  return std::optional<DaySpan>(day);
}

// A parent that may not be known.
absl::StatusOr<AnimalId> MaybeAnimal(const replica::View& view, const std::string& name) {
  if (name.empty()) return AnimalId();
  return view.AnimalNamed(name);
}

// An animal that a command is about, with the replica that it is in.
struct AnimalAtHand {
  std::unique_ptr<replica::Replica> replica;
  AnimalId id;
  v1::Ref ref;
};

absl::StatusOr<AnimalAtHand> AnimalAtHandNamed(const Desk& desk, const std::string& name) {
  BP_ASSIGN_OR_RETURN(auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId id, view.AnimalNamed(name));
  BP_ASSIGN_OR_RETURN(const v1::Animal animal, view.Animal(id));
  return AnimalAtHand{.replica = std::move(replica), .id = id, .ref = RefOf(id, animal.name())};
}

absl::Status Report(const Desk& desk, const AnimalAtHand& subject, const replica::Acted& acted,
                    std::string message) {
  return ReportAct(desk, *subject.replica, acted,
                   {.message = std::move(message), .subject = subject.ref});
}

// The loans whose dues run with an animal, as "L4, L5"; empty where none do.
absl::StatusOr<std::string> DuesText(const AnimalAtHand& subject) {
  BP_ASSIGN_OR_RETURN(const std::vector<LoanId> dues,
                      replica::DuesRunningWith(*subject.replica, subject.id));
  std::string text;
  for (const LoanId& id : dues) {
    BP_ASSIGN_OR_RETURN(const v1::Loan loan, ViewOf(*subject.replica).Loan(id));
    text += (text.empty() ? "" : ", ") + loan.name();
  }
  return text;
}

// Says so where a day is before the animal hatched.
absl::Status NoteAgainstHatching(const Desk& desk, const AnimalAtHand& subject,
                                 std::string_view what, const DaySpan& day) {
  BP_ASSIGN_OR_RETURN(const auto animal,
                      replica::Known<registry::Animal>(*subject.replica, subject.id, "animal"));
  NoteOrder(desk, "hatched", animal.hatching, what, day);
  return absl::OkStatus();
}

}  // namespace

absl::Status RunAddAnimal(const Desk& desk, const AddAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::optional<DaySpan> hatching,
                      MaybeDayOf(desk, "--hatched", options.hatched));
  BP_ASSIGN_OR_RETURN(const std::optional<DaySpan> maturity,
                      MaybeDayOf(desk, "--mature", options.mature));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const GroupId group, view.GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const AnimalId sire, MaybeAnimal(view, options.sire));
  BP_ASSIGN_OR_RETURN(const AnimalId dam, MaybeAnimal(view, options.dam));
  BP_ASSIGN_OR_RETURN(const replica::Made<AnimalId> made,
                      replica::EnterAnimal(*replica, {.animal = {},
                                                      .group = group,
                                                      .name = options.name,
                                                      .sex = SexOf(options.sex),
                                                      .sex_method = SexMethodOf(options.method),
                                                      .hatching = hatching,
                                                      .sire = sire,
                                                      .dam = dam,
                                                      .maturity = maturity}));
  NoteOrder(desk, "hatched", hatching, "mature", maturity);
  return ReportAct(desk, *replica, made.acted,
                   {.message = fmt::format("{} is entered in {}; you own and hold it.",
                                           options.name, options.group),
                    .subject = RefOf(made.id, options.name)});
}

absl::Status RunListAnimals(const Desk& desk, const ListAnimalsOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  replica::AnimalFilter filter;
  if (options.limit) filter.count_max = *options.limit;
  if (options.mine) filter.keeper = view.self();
  if (!options.group.empty()) {
    BP_ASSIGN_OR_RETURN(filter.group, view.GroupNamed(options.group));
  }
  if (!options.keeper.empty()) {
    BP_ASSIGN_OR_RETURN(filter.keeper, view.KeeperNamed(options.keeper));
  }
  if (!options.after.empty()) {
    BP_ASSIGN_OR_RETURN(filter.after, view.AnimalNamed(options.after));
  }
  BP_ASSIGN_OR_RETURN(const v1::AnimalList list, view.Animals(filter));
  BP_RETURN_IF_ERROR(Present(desk, list));
  if (!list.next_page().empty() && desk.terminal.format != Format::kJson) {
    desk.terminal.messages << "There are more; go on with --after " << ShortId(list.next_page())
                           << '\n';
  }
  return absl::OkStatus();
}

absl::Status RunShowAnimal(const Desk& desk, const ShowAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId id, view.AnimalNamed(options.animal));
  BP_ASSIGN_OR_RETURN(const v1::Animal animal, view.Animal(id));
  return Present(desk, animal);
}

absl::Status RunMoult(const Desk& desk, const MoultOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const AnimalAtHand subject, AnimalAtHandNamed(desk, options.animal));
  BP_ASSIGN_OR_RETURN(const SiresByClutch sires, SiresOf(*subject.replica, subject.id));
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::RecordMoult(
          *subject.replica,
          {.animal = subject.id, .day = day, .moult_count = options.number.value_or(0)}));
  BP_RETURN_IF_ERROR(NoteAgainstHatching(desk, subject, "moulted", day));
  BP_ASSIGN_OR_RETURN(const SiresByClutch sires_now, SiresOf(*subject.replica, subject.id));
  NoteSires(desk, sires, sires_now);
  return Report(desk, subject, acted,
                fmt::format("{} moulted on {}.", subject.ref.name(), ToText(day)));
}

absl::Status RunMatured(const Desk& desk, const MaturedOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const AnimalAtHand subject, AnimalAtHandNamed(desk, options.animal));
  std::optional<facts::Sex> sex;
  if (!options.sex.empty()) sex = SexOf(options.sex);
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::RecordMaturity(*subject.replica, {.animal = subject.id, .day = day}, sex));
  BP_RETURN_IF_ERROR(NoteAgainstHatching(desk, subject, "mature", day));
  return Report(desk, subject, acted,
                fmt::format("{} is mature since {}.", subject.ref.name(), ToText(day)));
}

absl::Status RunSexed(const Desk& desk, const SexedOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const AnimalAtHand subject, AnimalAtHandNamed(desk, options.animal));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::ClaimSex(*subject.replica, {.animal = subject.id,
                                                           .sex = SexOf(options.sex),
                                                           .method = SexMethodOf(options.method),
                                                           .day = day}));
  return Report(desk, subject, acted,
                fmt::format("The sex of {} is {}, as you say.", subject.ref.name(), options.sex));
}

absl::Status RunDied(const Desk& desk, const DiedOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const AnimalAtHand subject, AnimalAtHandNamed(desk, options.animal));
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::RecordDeath(*subject.replica,
                           {.animal = subject.id, .day = day, .cause = options.cause}));
  BP_RETURN_IF_ERROR(NoteAgainstHatching(desk, subject, "died", day));
  BP_ASSIGN_OR_RETURN(const auto animal,
                      replica::Known<registry::Animal>(*subject.replica, subject.id, "animal"));
  NoteOrder(desk, "mature", animal.maturity, "died", day);
  return Report(desk, subject, acted,
                fmt::format("{} died on {}.", subject.ref.name(), ToText(day)));
}

absl::Status RunGiveAnimal(const Desk& desk, const GiveAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const AnimalAtHand subject, AnimalAtHandNamed(desk, options.animal));
  const replica::View view = ViewOf(*subject.replica);
  BP_ASSIGN_OR_RETURN(const KeeperId receiver, view.KeeperNamed(options.to));
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(receiver));
  BP_ASSIGN_OR_RETURN(const std::string loans, DuesText(subject));
  if (!loans.empty()) {
    BP_RETURN_IF_ERROR(ConfirmDue(desk, subject.ref.name(), loans, options.with_due));
  }
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::GiveAnimal(*subject.replica, subject.id, receiver));
  if (loans.empty()) {
    return Report(desk, subject, acted,
                  fmt::format("{} belongs to {} now.", subject.ref.name(), keeper.name()));
  }
  return Report(desk, subject, acted,
                fmt::format("{} is offered to {} with the due of loan {}; she is yours until {} "
                            "accepts.",
                            subject.ref.name(), keeper.name(), loans, keeper.name()));
}

}  // namespace broodpact::cli
