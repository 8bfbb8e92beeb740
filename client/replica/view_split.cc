// The split of a clutch: as recorded, or as its terms imply.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"
#include "client/replica/occasion.h"
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
  BP_ASSIGN_OR_RETURN(facts::Agreement agreement, facts::ParseAgreement(loan->agreement));
  return std::optional<facts::Terms>(std::move(agreement.terms));
}

// What a split of a clutch is computed from.
struct Basis {
  std::optional<facts::Terms> terms{};  // nothing: no agreement covers it
  shares::Occasion occasion{};
};

// The basis of a split that is recorded or, if `what_if`, of one that might be.
absl::StatusOr<Basis> BasisOf(const registry::Clutch& clutch, const registry::Source& source,
                              const WhatIf* what_if, Messages& writer) {
  Basis basis;
  BP_ASSIGN_OR_RETURN(basis.terms, TermsOf(clutch, writer));
  if (!basis.terms) return basis;
  if (what_if != nullptr) {
    facts::Apportioning& apportioning = basis.terms->apportioning;
    // Another method is tried clutch by clutch, as its shares are not what carried over.
    if (what_if->method) {
      apportioning.method = *what_if->method;
      apportioning.carry = facts::Carry::kOff;
    }
    apportioning.carry = what_if->carry.value_or(apportioning.carry);
  }
  if (clutch.shared_out) {
    basis.occasion = clutch.occasion;
    return basis;
  }
  BP_ASSIGN_OR_RETURN(basis.occasion, OccasionOf(source, clutch, *basis.terms));
  return basis;
}

// Parts and working, from the terms or from who owns the mother.
absl::Status WriteShares(const registry::Clutch& clutch, const Basis& basis, Messages& writer,
                         v1::Split& message) {
  const std::uint32_t counted = message.slings_counted();
  if (!basis.terms) {
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = writer.refs().Ref(clutch.owner);
    part.set_slings(counted);
    message.add_working(
        fmt::format("no agreement covers this clutch: all {} go to {}, the "
                    "mother's owner when it was laid",
                    Slings(counted), writer.refs().Name(clutch.owner)));
    return absl::OkStatus();
  }
  BP_ASSIGN_OR_RETURN(const shares::Split split,
                      shares::SplitOf(*basis.terms, counted, basis.occasion));
  message.set_carried_slings(basis.occasion.carried_slings);
  std::vector<std::string> names;
  for (std::size_t i = 0; i < split.keepers.size(); ++i) {
    names.push_back(writer.refs().Name(split.keepers[i]));
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = writer.refs().Ref(split.keepers[i]);
    part.set_slings(split.slings[i]);
  }
  for (const shares::Step& step : split.working) {
    message.add_working(shares::Sentence(step, *basis.terms, names));
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

// The count that a split shares out, or would.
absl::StatusOr<std::uint32_t> SlingsToShare(const registry::Clutch& clutch) {
  const auto count = std::ranges::find_if(clutch.counts, [&](const registry::CountRecord& one) {
    return clutch.shared_out ? one.token == clutch.split_count
                             : one.state == registry::CountState::kStanding;
  });
  if (count != clutch.counts.end()) return count->slings_living;
  return Fail(absl::StatusCode::kFailedPrecondition, "CLUTCH_NOT_COUNTED",
              fmt::format("clutch {} is not counted; `broodpact count {}` records a count",
                          NameOf(clutch), NameOf(clutch)));
}

// The split of so many slings on that basis, without what is recorded of it.
absl::StatusOr<v1::Split> Written(const registry::Clutch& clutch, std::uint32_t slings,
                                  const Basis& basis, Messages& writer) {
  v1::Split message;
  *message.mutable_clutch() = writer.refs().Ref(clutch.id);
  message.set_slings_counted(slings);
  BP_RETURN_IF_ERROR(WriteShares(clutch, basis, writer, message));
  for (std::string& warning : writer.WarningsOf(clutch)) message.add_warnings(std::move(warning));
  return message;
}

}  // namespace

v1::SplitCurve CurveMessage(const shares::Curve& curve, const std::vector<std::string>& names) {
  v1::SplitCurve message;
  for (const std::uint32_t size : curve.sizes) message.add_slings_counted(size);
  for (std::size_t i = 0; i < curve.keepers.size(); ++i) {
    v1::CurveLine& line = *message.add_lines();
    line.mutable_keeper()->set_id(ToText(curve.keepers[i]));
    line.mutable_keeper()->set_name(names[i]);
    for (const std::uint32_t slings : curve.slings[i]) line.add_slings(slings);
  }
  return message;
}

absl::StatusOr<v1::Split> View::Split(const ClutchId& id) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  BP_ASSIGN_OR_RETURN(const std::uint32_t slings, SlingsToShare(clutch));
  Messages writer(source_, provisional_);
  BP_ASSIGN_OR_RETURN(const Basis basis, BasisOf(clutch, source_, nullptr, writer));
  BP_ASSIGN_OR_RETURN(v1::Split message, Written(clutch, slings, basis, writer));
  if (clutch.shared_out) WriteRecorded(clutch, writer, message);
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

absl::StatusOr<v1::Split> View::SplitIf(const ClutchId& id, const WhatIf& what_if) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  std::optional<std::uint32_t> slings = what_if.slings;
  if (!slings) {
    BP_ASSIGN_OR_RETURN(slings, SlingsToShare(clutch));
  }
  Messages writer(source_, provisional_);
  BP_ASSIGN_OR_RETURN(const Basis basis, BasisOf(clutch, source_, &what_if, writer));
  BP_ASSIGN_OR_RETURN(v1::Split message, Written(clutch, *slings, basis, writer));
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

absl::StatusOr<v1::SplitCurve> View::SplitCurve(const ClutchId& id, const shares::SizeRange& range,
                                                const WhatIf& what_if) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  Messages writer(source_, provisional_);
  BP_ASSIGN_OR_RETURN(Basis basis, BasisOf(clutch, source_, &what_if, writer));
  if (!basis.terms) {
    basis.terms.emplace();
    basis.terms->parties = {{.keeper = clutch.owner}};
    basis.terms->shares = {{.party = 0, .weight = 1}};
  }
  BP_ASSIGN_OR_RETURN(const shares::Curve curve,
                      shares::CurveOf(*basis.terms, range, basis.occasion));
  std::vector<std::string> names;
  for (const KeeperId& keeper : curve.keepers) names.push_back(writer.refs().Name(keeper));
  v1::SplitCurve message = CurveMessage(curve, names);
  *message.mutable_clutch() = writer.refs().Ref(clutch.id);
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace broodpact::replica
