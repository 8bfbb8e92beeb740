#include "cli/commands/sheet.h"

#include <fstream>
#include <iterator>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/terms_help.h"
#include "cli/sheets/compare.h"
#include "cli/sheets/html.h"
#include "cli/sheets/pdf.h"
#include "cli/sheets/sheet.h"
#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr char kOutHelp[] = "File to write, as name.pdf or name.html; - for HTML on the output";
constexpr char kSheetHelp[] = "Sheet: a PDF or HTML file, the text of its QR code, or -";

constexpr char kCheckNote[] =
    "A page of HTML is held line by line against the sheet that this replica makes. Of a PDF and "
    "of a code, the code alone is held against it, and what has to stand on the paper is printed: "
    "compare that by eye.";

constexpr char kUsualSizes[] = "0..200";

// A sheet is a page or two; a longer file is something else.
constexpr std::size_t kSheetBytesMax = 16'000'000;

absl::Status FileFault(const std::string& file, std::string_view reason, std::string_view what) {
  return Fail(absl::StatusCode::kUnavailable, reason,
              fmt::format("{} cannot be {}; look at the folder and its rights", file, what));
}

absl::Status WriteSheet(const Desk& desk, const Sheet& sheet, const std::string& out) {
  const bool pdf = out.ends_with(".pdf");
  if (!pdf && out != "-" && !out.ends_with(".html")) {
    return Fail(
        absl::StatusCode::kInvalidArgument, "USAGE",
        fmt::format("'{}' ends neither in .pdf nor in .html: the name says what to write", out));
  }
  const std::string made = ToText(desk.surroundings.clock.Today());
  BP_ASSIGN_OR_RETURN(const std::string bytes, pdf ? PdfOf(sheet, made) : HtmlOf(sheet));
  if (out == "-") {
    desk.terminal.out << bytes;
    return absl::OkStatus();
  }
  std::ofstream file(out, std::ios::binary | std::ios::trunc);
  file << bytes;
  file.close();
  if (!file) return FileFault(out, "FILE_WRITE", "written");
  v1::SheetCheck check;
  check.set_kind(std::string(WordOf(sheet.mark.kind)));
  check.mutable_subject()->set_id(sheet.mark.subject);
  check.mutable_subject()->set_name(sheet.title);
  check.set_sheet_digest(sheet.mark.digest);
  check.set_registry_digest(sheet.mark.digest);
  check.set_same(true);
  check.set_message(fmt::format("{} is written to {}.", sheet.title, out));
  return Present(desk, check);
}

absl::StatusOr<std::string> BytesOf(const Desk& desk, const std::string& sheet) {
  if (sheet == "-") {
    return std::string(std::istreambuf_iterator<char>(desk.in), std::istreambuf_iterator<char>());
  }
  if (sheet.starts_with("broodpact:")) return sheet;
  std::ifstream file(sheet, std::ios::binary);
  if (!file) return FileFault(sheet, "FILE_READ", "read");
  std::string bytes;
  for (char c = 0; bytes.size() < kSheetBytesMax && file.get(c);) bytes.push_back(c);
  return bytes;
}

// Errors: INVALID_ARGUMENT with reason SHEET_FORM.
absl::StatusOr<SheetMark> MarkOfSheet(const std::string& bytes, const std::string& sheet,
                                      SheetKind kind) {
  const std::optional<SheetMark> mark = MarkIn(bytes);
  if (mark && mark->kind == kind) return *mark;
  return Fail(
      absl::StatusCode::kInvalidArgument, "SHEET_FORM",
      mark ? fmt::format("{} is {} sheet; broodpact {} check reads it", sheet,
                         mark->kind == SheetKind::kAgreement ? "an agreement" : "a settlement",
                         mark->kind == SheetKind::kAgreement ? "loan" : "split")
           : fmt::format("{} carries no mark of a sheet; give the file, or what its QR code "
                         "says",
                         sheet));
}

absl::Status SheetDiffers(const SheetMark& mark, const std::string& name,
                          const std::string& difference) {
  return Fail(absl::StatusCode::kFailedPrecondition, "SHEET_DIFFERS",
              fmt::format("the {} sheet of {} does not say what the registry says: {}; print it "
                          "again and compare",
                          WordOf(mark.kind), name, difference));
}

// The bytes of a sheet as a page that can be read; nothing where they are no HTML.
std::optional<std::string_view> PageIn(std::string_view bytes) {
  if (!bytes.starts_with("<!DOCTYPE html>")) return std::nullopt;
  return bytes;
}

// What a reader has to find on a sheet that this program cannot read: the sections that stay, a
// line each.
std::vector<std::string> EssentialsOf(const Sheet& sheet) {
  std::vector<std::string> lines;
  for (const SheetSection& section : sheet.sections) {
    if (section.passing != Passing::kStays) continue;
    lines.insert(lines.end(), section.lines.begin(), section.lines.end());
    for (const std::vector<std::string>& row : section.table.rows) {
      lines.push_back(fmt::format("{}", fmt::join(row, ", ")));
    }
  }
  return lines;
}

// Of a sheet that cannot be read, its digest is known, and the rest of it is for the eye.
absl::Status ReportCodeAlone(const Desk& desk, const Sheet& here, v1::SheetCheck check) {
  check.set_message(
      fmt::format("The code of this sheet is that of {} of {} here. What is printed around it was "
                  "not compared: compare it by eye.",
                  here.mark.kind == SheetKind::kAgreement ? "the agreement" : "the settlement",
                  check.subject().name()));
  BP_RETURN_IF_ERROR(Present(desk, check));
  if (desk.terminal.format == Format::kJson) return absl::OkStatus();
  for (const std::string& line : EssentialsOf(here)) desk.terminal.out << Clean(line) << '\n';
  return absl::OkStatus();
}

// Holds a sheet against the one that this replica makes of the same subject; an error where they
// differ, so that scripts can tell. `page` is nothing where only the mark can be compared.
absl::Status ReportCheck(const Desk& desk, std::optional<std::string_view> page,
                         const SheetMark& mark, const Sheet& here, const v1::Ref& subject) {
  v1::SheetCheck check;
  check.set_kind(std::string(WordOf(mark.kind)));
  *check.mutable_subject() = subject;
  check.set_sheet_digest(mark.digest);
  check.set_registry_digest(here.mark.digest);
  check.set_same(mark.digest == here.mark.digest);
  if (!check.same()) {
    return SheetDiffers(mark, subject.name(),
                        fmt::format("its digest is {}, and here it is {}", mark.digest,
                                    here.mark.digest.empty() ? "none" : here.mark.digest));
  }
  if (!page) return ReportCodeAlone(desk, here, std::move(check));
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> difference, DifferenceOf(*page, here));
  if (difference) return SheetDiffers(mark, subject.name(), *difference);
  check.set_message(fmt::format(
      "The {} sheet of {} says what this replica says; \"{}\" is of its day and was not compared.",
      WordOf(mark.kind), subject.name(), kOfTheDay));
  return Present(desk, check);
}

// The shares of clutches of the sizes that the page draws; none where it draws none.
absl::StatusOr<v1::SplitCurve> CurveOfPage(const replica::View& view, const LoanId& loan,
                                           std::optional<std::string_view> page) {
  const std::optional<shares::SizeRange> sizes = SizesIn(page.value_or(""));
  if (!sizes) return v1::SplitCurve();
  return view.CurveOfLoan(loan, *sizes);
}

void DescribeLoanSheet(Command& command, LoanSheetOptions& options) {
  command.Note(
      "Parties, clauses, digest and who signed when, on a page to print and keep. The QR code "
      "carries the digest, so that anybody with a replica can check the page.");
  command.Positional("loan", options.loan, "Loan, by name or id");
  command.Option("--out", "file", options.out, kOutHelp).Required();
  command.Option("--curve", "from..to", options.curve,
                 "Sizes of clutch in the picture of shares, in HTML (default: 0..200)");
  command.AddExample("Print what was agreed", "broodpact loan sheet rosa-loan --out rosa-loan.pdf");
}

void DescribeSplitSheet(Command& command, SplitSheetOptions& options) {
  command.Note(
      "Counts, the working, who got how many, and the handovers so far. Its digest stays the same "
      "as the slings go on living.");
  command.Positional("clutch", options.clutch, "Clutch, by name or id");
  command.Option("--out", "file", options.out, kOutHelp).Required();
  command.AddExample("Print the settlement", "broodpact split sheet rosa-26 --out rosa-26.pdf");
}

void DescribeCheckLoan(Command& command, CheckSheetOptions& options) {
  command.Note(kCheckNote);
  command.Positional("sheet", options.sheet, kSheetHelp);
  command.AddExample("Is this what we signed?", "broodpact loan check rosa-loan.pdf");
}

void DescribeCheckSplit(Command& command, CheckSheetOptions& options) {
  command.Note(kCheckNote);
  command.Positional("sheet", options.sheet, kSheetHelp);
  command.AddExample("Is this how it was shared out?", "broodpact split check rosa-26.pdf");
}

}  // namespace

absl::Status RunLoanSheet(const Desk& desk, const LoanSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LoanId id, view.LoanNamed(options.loan));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(id));
  BP_ASSIGN_OR_RETURN(const shares::SizeRange range,
                      SizeRangeOf(options.curve.empty() ? kUsualSizes : options.curve));
  BP_ASSIGN_OR_RETURN(const v1::SplitCurve curve, view.CurveOfLoan(id, range));
  return WriteSheet(desk, AgreementSheet(loan, curve), options.out);
}

absl::Status RunSplitSheet(const Desk& desk, const SplitSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, view.Clutch(id));
  BP_ASSIGN_OR_RETURN(const v1::Split split, view.Split(id));
  if (split.digest().empty()) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NOT_SHARED_OUT",
                fmt::format("clutch {} is not shared out yet; `broodpact split {}` does it",
                            clutch.name(), clutch.name()));
  }
  return WriteSheet(desk, SettlementSheet(clutch, split), options.out);
}

absl::Status RunCheckLoanSheet(const Desk& desk, const CheckSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, BytesOf(desk, options.sheet));
  BP_ASSIGN_OR_RETURN(const SheetMark mark,
                      MarkOfSheet(bytes, options.sheet, SheetKind::kAgreement));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LoanId id, view.LoanNamed(mark.subject));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(id));
  const std::optional<std::string_view> page = PageIn(bytes);
  BP_ASSIGN_OR_RETURN(const v1::SplitCurve curve, CurveOfPage(view, id, page));
  return ReportCheck(desk, page, mark, AgreementSheet(loan, curve), RefOf(id, loan.name()));
}

absl::Status RunCheckSplitSheet(const Desk& desk, const CheckSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, BytesOf(desk, options.sheet));
  BP_ASSIGN_OR_RETURN(const SheetMark mark,
                      MarkOfSheet(bytes, options.sheet, SheetKind::kSettlement));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(mark.subject));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, view.Clutch(id));
  BP_ASSIGN_OR_RETURN(const v1::Split split, view.Split(id));
  // With slings that wait for another split, the working is one of those too.
  const std::optional<std::string_view> page = split.recorded() ? PageIn(bytes) : std::nullopt;
  return ReportCheck(desk, page, mark, SettlementSheet(clutch, split), split.clutch());
}

void AddLoanSheetCommands(Command& loan) {
  loan.Add("sheet", "Write the agreement as a page to print", DescribeLoanSheet, RunLoanSheet);
  loan.Add("check", "Check a printed agreement sheet", DescribeCheckLoan, RunCheckLoanSheet);
}

void AddSplitSheetCommands(Command& split) {
  split.Add("sheet", "Write the settlement as a page to print", DescribeSplitSheet, RunSplitSheet);
  split.Add("check", "Check a printed settlement sheet", DescribeCheckSplit, RunCheckSplitSheet);
}

}  // namespace broodpact::cli
