// The split of a clutch: as recorded, or as its terms imply.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/version.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"
#include "client/shares/split.h"

namespace broodpact::replica {
namespace {

std::string NameOf(const registry::Clutch& clutch) {
  return clutch.name.empty() ? ToShortText(clutch.id) : clutch.name;
}

// The terms that share a clutch out; nothing where no loan does.
// Errors: FAILED_PRECONDITION with reason TERMS_UNSIGNED.
absl::StatusOr<std::optional<facts::Terms>> TermsOf(const registry::Clutch& clutch,
                                                    Messages& writer) {
  if (clutch.loan.empty()) return std::optional<facts::Terms>();
  const std::optional<registry::Loan> loan = writer.Find<registry::Loan>(clutch.loan);
  BP_RETURN_IF_ERROR(writer.status());
  if (!loan || loan->in_force_time_ms == 0) {
    return Fail(absl::StatusCode::kFailedPrecondition, "TERMS_UNSIGNED",
                fmt::format("loan {} has no terms that all its parties signed; `broodpact loan "
                            "show {}` says who is missing",
                            writer.refs().Name(clutch.loan), writer.refs().Name(clutch.loan)));
  }
  const registry::AgreedVersion version =
      registry::VersionOf(*loan, clutch.agreement).value_or(registry::AgreedVersion{});
  BP_ASSIGN_OR_RETURN(facts::Agreement agreement, facts::ParseAgreement(version.agreement));
  return std::optional<facts::Terms>(std::move(agreement.terms));
}

// Parts and working, from the terms or from who owns the mother.
absl::Status WriteShares(const registry::Clutch& clutch, Messages& writer, v1::Split& message) {
  BP_ASSIGN_OR_RETURN(const std::optional<facts::Terms> terms, TermsOf(clutch, writer));
  const std::uint32_t counted = message.slings_counted();
  if (!terms) {
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = writer.refs().Ref(clutch.owner);
    part.set_slings(counted);
    message.add_working(
        fmt::format("no agreement covers this clutch: all {} go to {}, the "
                    "mother's owner when it was laid",
                    Slings(counted), writer.refs().Name(clutch.owner)));
    return absl::OkStatus();
  }
  BP_ASSIGN_OR_RETURN(const shares::Split split, shares::SplitOf(*terms, counted));
  std::vector<std::string> names;
  for (std::size_t i = 0; i < terms->parties.size(); ++i) {
    const KeeperId& keeper = terms->parties[i].keeper;
    names.push_back(writer.refs().Name(keeper));
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = writer.refs().Ref(keeper);
    part.set_slings(split.slings[i]);
  }
  for (const shares::Step& step : split.working) {
    message.add_working(shares::Sentence(step, *terms, names));
  }
  return absl::OkStatus();
}

// Puts the recorded shares in place of the computed ones: the same, unless all parties signed
// otherwise.
void WriteRecorded(const registry::Clutch& clutch, Messages& writer, v1::Split& message) {
  message.set_recorded(true);
  message.clear_parts();
  for (const facts::SplitShare& share : clutch.shares) {
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = writer.refs().Ref(share.keeper);
    part.set_slings(share.slings);
    if (!share.lot.empty()) *part.mutable_lot() = writer.refs().Ref(share.lot);
  }
}

absl::StatusOr<registry::Clutch> ReadClutch(const registry::Source& source, const ClutchId& id) {
  BP_ASSIGN_OR_RETURN(std::optional<registry::Clutch> clutch,
                      registry::Read<registry::Clutch>(source, id));
  if (clutch) return *std::move(clutch);
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
              fmt::format("there is no clutch {}", ToShortText(id)));
}

absl::StatusOr<v1::Split> Written(const registry::Clutch& clutch, std::uint32_t slings,
                                  bool recorded, Messages& writer) {
  v1::Split message;
  *message.mutable_clutch() = writer.refs().Ref(clutch.id);
  message.set_slings_counted(slings);
  BP_RETURN_IF_ERROR(WriteShares(clutch, writer, message));
  if (recorded) WriteRecorded(clutch, writer, message);
  for (std::string& warning : writer.WarningsOf(clutch)) message.add_warnings(std::move(warning));
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace

absl::StatusOr<v1::Split> View::Split(const ClutchId& id) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  const auto count = std::ranges::find_if(clutch.counts, [&](const registry::CountRecord& one) {
    return clutch.shared_out ? one.token == clutch.split_count
                             : one.state == registry::CountState::kStanding;
  });
  if (count == clutch.counts.end()) {
    return Fail(absl::StatusCode::kFailedPrecondition, "CLUTCH_NOT_COUNTED",
                fmt::format("clutch {} is not counted; `broodpact count {}` records a count",
                            NameOf(clutch), NameOf(clutch)));
  }
  Messages writer(source_, provisional_);
  return Written(clutch, count->slings_living, clutch.shared_out, writer);
}

absl::StatusOr<v1::Split> View::SplitOfCount(const ClutchId& id, std::uint32_t slings) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  Messages writer(source_, provisional_);
  return Written(clutch, slings, false, writer);
}

}  // namespace broodpact::replica
