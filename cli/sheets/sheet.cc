#include "cli/sheets/sheet.h"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

#include "cli/show/curve.h"
#include "client/base/id.h"

namespace broodpact::cli {
namespace {

constexpr std::string_view kPrefix = "broodpact:";
constexpr std::size_t kDigestSize = 64;

// Before the smallest and the largest size.
constexpr std::string_view kPictureHeading = "What each gets of clutches of ";

bool IsHex(char c) {
  return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
}

// Takes `word` off the front of `text`.
bool TakeWord(std::string_view& text, std::string_view word) {
  if (!text.starts_with(word)) return false;
  text.remove_prefix(word.size());
  return true;
}

// The mark that `text` begins with, behind the prefix.
std::optional<SheetMark> MarkAt(std::string_view text) {
  SheetMark mark;
  if (TakeWord(text, "agreement:")) {
    mark.kind = SheetKind::kAgreement;
  } else if (TakeWord(text, "settlement:")) {
    mark.kind = SheetKind::kSettlement;
  } else {
    return std::nullopt;
  }
  mark.subject = text.substr(0, kIdTextSize);
  if (!ParseIdText(mark.subject)) return std::nullopt;
  text.remove_prefix(kIdTextSize);
  if (!TakeWord(text, ":")) return std::nullopt;
  mark.digest = text.substr(0, kDigestSize);
  if (mark.digest.size() != kDigestSize || !std::ranges::all_of(mark.digest, IsHex)) {
    return std::nullopt;
  }
  return mark;
}

// Takes a whole number off the front of `text`.
std::optional<std::uint32_t> TakeNumber(std::string_view& text) {
  std::uint32_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc()) return std::nullopt;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  return number;
}

// What stands for a signature that is not there.
constexpr char kUnsigned[] = "not yet";

std::string OrDash(const std::string& text) {
  return text.empty() ? "-" : text;
}

SheetSection Findings(const v1::Loan& loan) {
  SheetSection section{.heading = "What is remarkable about it"};
  for (const v1::Remark& finding : loan.findings()) {
    section.lines.push_back(fmt::format("{}: {}", finding.severity(), finding.text()));
  }
  return section;
}

void DrawCurve(const v1::SplitCurve& curve, Sheet& sheet) {
  const int sizes = curve.slings_counted_size();
  sheet.svg_heading =
      fmt::format("{}{} to {}", kPictureHeading, sizes == 0 ? 0 : curve.slings_counted(0),
                  sizes == 0 ? 0 : curve.slings_counted(sizes - 1));
  sheet.svg = SvgOf(curve);
}

SheetSection CountsOf(const v1::Clutch& clutch) {
  SheetSection section{.heading = "The counts",
                       .table = {.header = {"Counted on", "By", "Living", "Dead", "State"},
                                 .last_before = {"standing", "rival", "replaced", "set aside"}},
                       .passing = Passing::kGrows};
  for (const v1::CountEvent& count : clutch.counts()) {
    section.table.rows.push_back({count.day(), count.keeper().name(),
                                  std::to_string(count.slings_living()),
                                  std::to_string(count.slings_dead()), count.state()});
  }
  return section;
}

SheetSection StandingOf(const v1::Clutch& clutch, const v1::Split& split) {
  SheetSection section{.heading = std::string(kOfTheDay), .passing = Passing::kMoves};
  const v1::Accounts& books = clutch.accounts();
  section.lines.push_back(
      fmt::format("{} hatched = {} living + {} dead + {} raised + {} unaccounted.",
                  books.slings_hatched(), books.slings_living(), books.slings_dead(),
                  books.slings_raised(), books.slings_unaccounted()));
  for (const std::string& warning : split.warnings()) {
    section.lines.push_back(fmt::format("Look at: {}.", warning));
  }
  return section;
}

}  // namespace

std::string_view WordOf(SheetKind kind) {
  return kind == SheetKind::kAgreement ? "agreement" : "settlement";
}

std::string TextOf(const SheetMark& mark) {
  return fmt::format("{}{}:{}:{}", kPrefix, WordOf(mark.kind), mark.subject, mark.digest);
}

std::optional<SheetMark> MarkIn(std::string_view bytes) {
  for (std::size_t at = bytes.find(kPrefix); at != std::string_view::npos;
       at = bytes.find(kPrefix, at + 1)) {
    if (auto mark = MarkAt(bytes.substr(at + kPrefix.size()))) return mark;
  }
  return std::nullopt;
}

std::optional<shares::SizeRange> SizesIn(std::string_view page) {
  const std::size_t at = page.find(kPictureHeading);
  if (at == std::string_view::npos) return std::nullopt;
  std::string_view text = page.substr(at + kPictureHeading.size());
  const std::optional<std::uint32_t> from = TakeNumber(text);
  if (!from || !TakeWord(text, " to ")) return std::nullopt;
  const std::optional<std::uint32_t> to = TakeNumber(text);
  if (!to || *to < *from) return std::nullopt;
  return shares::SizeRange{.from = *from, .to = *to};
}

Sheet AgreementSheet(const v1::Loan& loan, const v1::SplitCurve& curve) {
  Sheet sheet{.mark = {.kind = SheetKind::kAgreement,
                       .subject = loan.id(),
                       .digest = loan.agreement_digest()},
              .title = fmt::format("Agreement: loan {}", loan.name())};
  SheetSection what{.heading = "What is lent"};
  what.lines.push_back(fmt::format("{} is lent by {} to {}, {}.", loan.animal().name(),
                                   loan.lender().name(), loan.borrower().name(),
                                   loan.return_day().empty()
                                       ? "until the pairing is done"
                                       : fmt::format("until {}", loan.return_day())));
  sheet.sections.push_back(std::move(what));

  SheetSection clauses{.heading = "What is agreed"};
  for (int i = 0; i < loan.clauses_size(); ++i) {
    clauses.lines.push_back(fmt::format("{}. {}", i + 1, loan.clauses(i)));
  }
  sheet.sections.push_back(std::move(clauses));
  if (loan.findings_size() > 0) sheet.sections.push_back(Findings(loan));

  SheetSection parties{.heading = "Parties and signatures",
                       .table = {.header = {"Keeper", "Role", "Signed in the registry"},
                                 .last_before = {kUnsigned}}};
  for (const v1::LoanSigner& signer : loan.signers()) {
    parties.table.rows.push_back(
        {signer.keeper().name(), OrDash(signer.role()),
         signer.signature_time().empty() ? kUnsigned : signer.signature_time()});
  }
  sheet.sections.push_back(std::move(parties));
  sheet.sections.push_back({.heading = std::string(kOfTheDay),
                            .lines = {fmt::format("State of the loan: {}.", loan.state())},
                            .passing = Passing::kMoves});
  sheet.note = fmt::format("Check this sheet against your replica: broodpact loan check <file>");
  if (curve.lines_size() > 0) DrawCurve(curve, sheet);
  return sheet;
}

Sheet SettlementSheet(const v1::Clutch& clutch, const v1::Split& split) {
  Sheet sheet{
      .mark = {.kind = SheetKind::kSettlement, .subject = clutch.id(), .digest = split.digest()},
      .title = fmt::format("Settlement: clutch {}", clutch.name())};
  SheetSection what{.heading = "The clutch"};
  what.lines.push_back(fmt::format(
      "Laid by {} on {}{}.", clutch.female().name(), clutch.laying_day(),
      clutch.loan().id().empty() ? ", shared by no agreement"
                                 : fmt::format(", shared by loan {}", clutch.loan().name())));
  sheet.sections.push_back(std::move(what));

  SheetSection parts{.heading = "Who gets how many",
                     .table = {.header = {"Keeper", "Slings", "Lot"}}};
  for (const v1::SplitPart& part : split.parts()) {
    parts.table.rows.push_back({part.keeper().name(), std::to_string(part.slings()),
                                OrDash(part.lot().id().substr(0, kIdShortSize))});
  }
  sheet.sections.push_back(std::move(parts));

  // A share that is given up or passed on later adds a line.
  SheetSection working{.heading = "The working", .passing = Passing::kGrows};
  for (const std::string& line : split.working()) working.lines.push_back(line);
  sheet.sections.push_back(std::move(working));
  sheet.sections.push_back(CountsOf(clutch));

  SheetSection handovers{.heading = "Handovers and what became of the slings",
                         .table = {.header = {"Day", "What", "Says"}},
                         .passing = Passing::kGrows};
  for (const v1::StoryLine& line : clutch.story()) {
    handovers.table.rows.push_back({line.day(), line.sentence(), line.keeper().name()});
  }
  sheet.sections.push_back(std::move(handovers));
  sheet.sections.push_back(StandingOf(clutch, split));
  sheet.note = "Check this sheet against your replica: broodpact split check <file>";
  return sheet;
}

}  // namespace broodpact::cli
