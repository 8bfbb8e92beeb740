// Single subjects.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

// Reads a subject that must be there.
template <typename Subject, typename AnyId>
absl::StatusOr<Subject> ReadKnown(const registry::Source& source, const AnyId& id) {
  BP_ASSIGN_OR_RETURN(std::optional<Subject> subject, registry::Read<Subject>(source, id));
  if (subject) return *std::move(subject);
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
              fmt::format("there is no {} {}", KindWord(Subject::kKind), ToShortText(id)));
}

// The message, unless something that it needs could not be read.
template <typename Message>
absl::StatusOr<Message> Whole(Message message, const Messages& writer) {
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace

absl::StatusOr<v1::Cooperative> View::Cooperative() const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                      source_.Subject(registry::kCooperativeKey));
  if (!bytes) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                "no cooperative is known here yet; `broodpact found` or `broodpact join`");
  }
  const std::optional<registry::Cooperative> cooperative =
      registry::Decode<registry::Cooperative>(*bytes);
  if (!cooperative) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                "the cooperative cannot be read; `broodpact rebuild` restores it from the commits");
  }
  v1::Cooperative message;
  message.set_id(ToHex(cooperative->id));
  message.set_name(cooperative->name);
  message.set_keepers(Narrow(cooperative->keepers));
  message.set_groups(Narrow(cooperative->groups));
  message.set_animals(Narrow(cooperative->animals));
  message.set_loans(Narrow(cooperative->loans));
  message.set_clutches(Narrow(cooperative->clutches));
  return message;
}

absl::StatusOr<v1::Keeper> View::Keeper(const KeeperId& id) const {
  BP_ASSIGN_OR_RETURN(const auto keeper, ReadKnown<registry::Keeper>(source_, id));
  Messages writer(source_, provisional_);
  return Whole(writer.Of(keeper), writer);
}

absl::StatusOr<v1::Group> View::Group(const GroupId& id) const {
  BP_ASSIGN_OR_RETURN(const auto group, ReadKnown<registry::Group>(source_, id));
  Messages writer(source_, provisional_);
  return Whole(writer.Of(group), writer);
}

absl::StatusOr<v1::Animal> View::Animal(const AnimalId& id) const {
  BP_ASSIGN_OR_RETURN(const auto animal, ReadKnown<registry::Animal>(source_, id));
  Messages writer(source_, provisional_);
  return Whole(writer.Of(animal, Detail::kWhole), writer);
}

absl::StatusOr<v1::Loan> View::Loan(const LoanId& id) const {
  BP_ASSIGN_OR_RETURN(const auto loan, ReadKnown<registry::Loan>(source_, id));
  Messages writer(source_, provisional_);
  return Whole(writer.Of(loan), writer);
}

absl::StatusOr<v1::Clutch> View::Clutch(const ClutchId& id) const {
  BP_ASSIGN_OR_RETURN(const auto clutch, ReadKnown<registry::Clutch>(source_, id));
  Messages writer(source_, provisional_);
  v1::Clutch message = writer.Of(clutch);
  for (v1::StoryLine& line : writer.StoryOf(clutch)) *message.add_story() = std::move(line);
  return Whole(std::move(message), writer);
}

absl::StatusOr<v1::Lot> View::Lot(const LotId& id) const {
  BP_ASSIGN_OR_RETURN(const auto lot, ReadKnown<registry::Lot>(source_, id));
  Messages writer(source_, provisional_);
  v1::Lot message = writer.Of(lot);
  for (v1::StoryLine& line : writer.StoryOf(lot)) *message.add_story() = std::move(line);
  return Whole(std::move(message), writer);
}

absl::StatusOr<v1::Clash> View::Clash(const ClashId& id) const {
  BP_ASSIGN_OR_RETURN(const auto clash, ReadKnown<registry::Clash>(source_, id));
  Messages writer(source_, provisional_);
  return Whole(writer.Of(clash), writer);
}

}  // namespace broodpact::replica
