#include "cli/desk.h"

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::cli {

absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToRead(const Desk& desk) {
  return replica::Replica::Open(desk.home, store::Access::kReadOnly, desk.surroundings);
}

absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToWrite(const Desk& desk) {
  return replica::Replica::Open(desk.home, store::Access::kReadWrite, desk.surroundings);
}

absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToSync(const Desk& desk) {
  return replica::Replica::OpenToSync(desk.home, desk.surroundings);
}

absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToAct(const Desk& desk) {
  BP_ASSIGN_OR_RETURN(auto replica, OpenToWrite(desk));
  BP_RETURN_IF_ERROR(replica::CheckFounded(replica->cooperative()));
  return replica;
}

replica::View ViewOf(const replica::Replica& replica) {
  return {replica.view(), replica.identity().keeper, &replica.view()};
}

absl::StatusOr<DaySpan> DayOf(const Desk& desk, std::string_view option, std::string_view text) {
  if (text.empty()) {
    const Day today = desk.surroundings.clock.Today();
    return DaySpan{.earliest = today, .latest = today};
  }
  absl::StatusOr<DaySpan> day = ParseDaySpan(text);
  if (!day.ok()) return Annotate(day.status(), option);
  return day;
}

absl::StatusOr<Day> OneDayOf(const Desk& desk, std::string_view option, std::string_view text) {
  if (text.empty()) return desk.surroundings.clock.Today();
  absl::StatusOr<Day> day = ParseDay(text);
  if (!day.ok()) return Annotate(day.status(), option);
  return day;
}

std::string Counted(std::uint64_t count, std::string_view one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

}  // namespace broodpact::cli
