// broodpact count, broodpact split.

#include <set>
#include <string>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/clutch.h"
#include "cli/commands/terms_help.h"
#include "cli/show/show.h"
#include "client/replica/acts_clutch.h"
#include "client/replica/acts_terms.h"

namespace broodpact::cli {
namespace {

constexpr char kCountCaution[] =
    "Counting opens the sac: hairs irritate, so protect your eyes; for a bite seek medical help.";

// Of a command that is run, both are there: they are required.
std::uint32_t LivingOf(const CountOptions& options) {
  return options.living.value_or(0);
}

std::uint32_t DeadOf(const CountOptions& options) {
  return options.dead.value_or(0);
}

absl::Status CheckTotal(const CountOptions& options) {
  const std::uint64_t living = LivingOf(options);
  const std::uint64_t dead = DeadOf(options);
  if (!options.total || living + dead == *options.total) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "COUNTS_DO_NOT_ADD_UP",
              fmt::format("{} living and {} dead make {}, not {}; count again, nothing is recorded",
                          living, dead, living + dead, *options.total));
}

absl::Status NotStanding(const CountOptions& options,
                         const std::optional<registry::CountRecord>& standing) {
  const std::string what =
      standing ? fmt::format("the count of {} living stands (token {})", standing->slings_living,
                             BytesToHex(broodpact::ViewOf(standing->token.bytes)))
               : "no count stands";
  return Fail(absl::StatusCode::kAborted, "COUNT_RIVAL",
              fmt::format("clutch {} has no standing count {}: {}; look at sac show, agree, and "
                          "count again; nothing is recorded",
                          options.clutch, options.replaces, what));
}

// The count that the new one replaces: as said, or the one that stands; none for the first.
absl::StatusOr<Token> ReplacedBy(const replica::Replica& replica, const CountOptions& options,
                                 const ClutchId& clutch) {
  BP_ASSIGN_OR_RETURN(const auto standing, replica::StandingCount(replica, clutch));
  if (!options.replaces.empty()) {
    const std::optional<std::string> bytes = HexToBytes(options.replaces);
    const std::optional<IdBytes> id = bytes ? IdOfBytes(*bytes) : std::nullopt;
    if (!id) {
      return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                  fmt::format("'{}' is no token; sac show --json has the tokens of counts, 32 "
                              "hexadecimal digits each",
                              options.replaces));
    }
    if (standing && standing->token == Token{*id}) return standing->token;
    return NotStanding(options, standing);
  }
  if (!standing) return Token();
  if (options.again) return standing->token;
  return Fail(absl::StatusCode::kFailedPrecondition, "ALREADY_COUNTED",
              fmt::format("clutch {} was counted on {}: {} living, {} dead; to replace that count "
                          "say --again",
                          options.clutch, ToText(standing->day), standing->slings_living,
                          standing->slings_dead));
}

// Whether somebody else still has to record the split.
std::string NextAfterCount(const v1::Clutch& clutch) {
  if (clutch.state() == "shared out") return "";
  return fmt::format("broodpact split {} --preview", clutch.name());
}

// What a split is tried with, by the options.
replica::WhatIf WhatIfOf(const SplitOptions& options) {
  return {
      .slings = options.count, .method = MethodOf(options.method), .carry = CarryOf(options.carry)};
}

absl::Status Preview(const Desk& desk, const SplitOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  const replica::WhatIf what_if = WhatIfOf(options);
  bool recorded = false;
  if (!options.curve.empty()) {
    BP_ASSIGN_OR_RETURN(const shares::SizeRange range, SizeRangeOf(options.curve));
    BP_ASSIGN_OR_RETURN(const v1::SplitCurve curve, view.SplitCurve(id, range, what_if));
    BP_RETURN_IF_ERROR(PresentCurve(desk, curve, options.svg));
  } else {
    const bool as_it_is = !what_if.slings && !what_if.method && !what_if.carry;
    BP_ASSIGN_OR_RETURN(const v1::Split split,
                        as_it_is ? view.Split(id) : view.SplitIf(id, what_if));
    BP_RETURN_IF_ERROR(Present(desk, split));
    recorded = split.recorded();
  }
  if (!recorded && desk.terminal.format != Format::kJson) {
    desk.terminal.messages << "Nothing is recorded: this was a preview.\n";
  }
  return absl::OkStatus();
}

absl::Status ShowPicking(const Desk& desk, const SplitOptions& options) {
  if (options.preview || options.count || !options.curve.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "--picking goes without --preview, --count and --curve: it is of the split as it "
                "stands");
  }
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const v1::PickingOrder order, view.Picking(id));
  return Present(desk, order);
}

// Whether options that only a preview has are given without one.
absl::Status CheckSplitOptions(const SplitOptions& options) {
  constexpr auto kInvalid = absl::StatusCode::kInvalidArgument;
  if (!options.svg.empty() && options.curve.empty()) {
    return Fail(kInvalid, "USAGE", "--svg goes with --curve: it is the curve that is drawn");
  }
  if (options.preview || !options.curve.empty()) return absl::OkStatus();
  if (options.count) {
    return Fail(kInvalid, "USAGE",
                "--count goes with --preview: what is recorded is the count that stands");
  }
  if (!options.method.empty() || !options.carry.empty()) {
    return Fail(kInvalid, "USAGE",
                "--method and --carry go with --preview: what is recorded goes by the terms");
  }
  return absl::OkStatus();
}

// What is so after the split, in one sentence.
std::string SplitText(const v1::Split& split) {
  std::set<std::string> keepers;
  for (const v1::SplitPart& part : split.parts()) {
    if (part.slings() > 0) keepers.insert(part.keeper().id());
  }
  return fmt::format("Shared out: {} to {}.", Counted(split.slings_counted(), "sling"),
                     Counted(keepers.size(), "keeper"));
}

}  // namespace

absl::Status RunCount(const Desk& desk, const CountOptions& options) {
  if (options.again && !options.replaces.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "--again and --replaces contradict each other; say one of them");
  }
  BP_RETURN_IF_ERROR(CheckTotal(options));
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const Token replaced, ReplacedBy(*replica, options, id));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::RecordCount(*replica, {.clutch = id,
                                                      .day = day,
                                                      .slings_living = LivingOf(options),
                                                      .slings_dead = DeadOf(options),
                                                      .moult_count = options.moults.value_or(0),
                                                      .count_token = replaced}));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, ViewOf(*replica).Clutch(id));
  Caution(desk.terminal, kCountCaution);
  return ReportAct(
      desk, *replica, acted,
      {.message = fmt::format("Clutch {} is counted: {} living and {} dead on {}.", clutch.name(),
                              LivingOf(options), DeadOf(options), ToText(day)),
       .subject = RefOf(id, clutch.name()),
       .next = NextAfterCount(clutch)});
}

absl::Status RunSplit(const Desk& desk, const SplitOptions& options) {
  if (options.picking) return ShowPicking(desk, options);
  BP_RETURN_IF_ERROR(CheckSplitOptions(options));
  if (options.preview || !options.curve.empty()) return Preview(desk, options);
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::RecordSplit(*replica, id));
  BP_ASSIGN_OR_RETURN(const v1::Split split, ViewOf(*replica).Split(id));
  if (desk.terminal.format != Format::kJson) Print(desk.terminal, split);
  return ReportAct(desk, *replica, acted, {.message = SplitText(split), .subject = split.clutch()});
}

absl::Status RunWitness(const Desk& desk, const WitnessOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const ClutchId id, ViewOf(*replica).ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::WitnessCount(*replica, id, day));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, ViewOf(*replica).Clutch(id));
  return ReportAct(desk, *replica, acted,
                   {.message = fmt::format("The count of clutch {} is confirmed.", clutch.name()),
                    .subject = RefOf(id, clutch.name()),
                    .next = NextAfterCount(clutch)});
}

}  // namespace broodpact::cli
