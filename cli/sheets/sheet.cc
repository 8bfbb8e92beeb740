#include "cli/sheets/sheet.h"

#include <algorithm>
#include <regex>

#include <fmt/format.h>

#include "cli/show/curve.h"
#include "client/base/hash.h"

namespace broodpact::cli {
namespace {

constexpr std::string_view kMarkBegin = "broodpact-sheet ";
constexpr std::size_t kMarkBytesMax = 128;

std::string PartyText(const v1::LoanSigner& signer) {
  if (signer.role().empty()) return signer.keeper().name();
  return fmt::format("{} ({})", signer.keeper().name(), signer.role());
}

SheetSection Signatures(const v1::Loan& loan) {
  SheetSection section{.heading = "Signatures"};
  for (const v1::LoanSigner& signer : loan.signers()) {
    section.fields.emplace_back(PartyText(signer), signer.signature_time().empty()
                                                       ? "not signed"
                                                       : "signed " + signer.signature_time());
  }
  return section;
}

SheetSection Clauses(const v1::Loan& loan) {
  return {.heading = "Agreed",
          .fields = {},
          .sentences = {loan.clauses().begin(), loan.clauses().end()}};
}

SheetSection Slings(const v1::Split& split) {
  SheetSection section{.heading = split.recorded() ? "Slings" : "Slings, if it is shared out so"};
  for (const v1::SplitPart& part : split.parts()) {
    section.fields.emplace_back(part.keeper().name(), std::to_string(part.slings()));
  }
  return section;
}

SheetSection Handovers(const v1::Clutch& clutch) {
  SheetSection section{.heading = "Lots"};
  for (const v1::Lot& lot : clutch.lots()) {
    std::string where =
        fmt::format("{} of {}, with {}", lot.slings(), lot.owner().name(), lot.holder().name());
    if (!lot.receiver().id().empty()) {
      where += fmt::format(", on the way to {}", lot.receiver().name());
    }
    section.fields.emplace_back(lot.id().substr(0, 8), where);
  }
  return section;
}

}  // namespace

std::string_view WordOf(SheetKind kind) {
  switch (kind) {
    case SheetKind::kLoan:
      return "loan";
    case SheetKind::kSplit:
      return "split";
  }
  return "";
}

Sheet SheetOf(const v1::Loan& loan, const v1::SplitCurve& curve) {
  Sheet sheet{.kind = SheetKind::kLoan,
              .title = fmt::format("Agreement on loan {}", loan.name()),
              .id = loan.id(),
              .digest = loan.agreement_digest()};
  sheet.sections.push_back({.heading = "Loan",
                            .fields = {{"animal", loan.animal().name()},
                                       {"lender", loan.lender().name()},
                                       {"borrower", loan.borrower().name()},
                                       {"due back", loan.return_day()},
                                       {"state", loan.state()}}});
  sheet.sections.push_back(Clauses(loan));
  sheet.sections.push_back(Signatures(loan));
  if (curve.lines_size() > 0) sheet.svg = SvgOf(curve);
  return sheet;
}

Sheet SheetOf(const v1::Split& split, const v1::Clutch& clutch) {
  Sheet sheet{.kind = SheetKind::kSplit,
              .title = fmt::format("Settlement of clutch {}", clutch.name()),
              .id = clutch.id(),
              .digest = DigestOf(split)};
  sheet.sections.push_back({.heading = "Clutch",
                            .fields = {{"mother", clutch.female().name()},
                                       {"laid", clutch.laying_day()},
                                       {"loan", clutch.loan().name()},
                                       {"slings counted", std::to_string(split.slings_counted())},
                                       {"state", clutch.state()}}});
  sheet.sections.push_back(Slings(split));
  sheet.sections.push_back({.heading = "Working",
                            .fields = {},
                            .sentences = {split.working().begin(), split.working().end()}});
  if (clutch.lots_size() > 0) sheet.sections.push_back(Handovers(clutch));
  return sheet;
}

std::string DigestOf(const v1::Split& split) {
  std::string text =
      fmt::format("broodpact split v1\n{}\n{}\n", split.clutch().id(), split.slings_counted());
  for (const v1::SplitPart& part : split.parts()) {
    text += fmt::format("{} {}\n", part.keeper().id(), part.slings());
  }
  return ToHex(Sha256(text));
}

std::string MarkText(const SheetMark& mark) {
  return fmt::format("{}{} {} {}", kMarkBegin, WordOf(mark.kind), mark.id, mark.digest);
}

SheetMark MarkOf(const Sheet& sheet) {
  return {.kind = sheet.kind, .id = sheet.id, .digest = sheet.digest};
}

std::optional<SheetMark> FindMark(std::string_view bytes) {
  static const std::regex form("^broodpact-sheet (loan|split) ([a-z2-7]{26}) ([0-9a-f]{64})");
  const std::size_t at = bytes.find(kMarkBegin);
  if (at == std::string_view::npos) return std::nullopt;
  // The pattern sees no more than a mark is long: a hostile file costs no more than its reading.
  const std::string text(bytes.substr(at, kMarkBytesMax));
  std::smatch match;
  if (!std::regex_search(text, match, form)) return std::nullopt;
  return SheetMark{.kind = match[1] == "loan" ? SheetKind::kLoan : SheetKind::kSplit,
                   .id = match[2],
                   .digest = match[3]};
}

}  // namespace broodpact::cli
