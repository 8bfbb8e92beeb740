#include "cli/commands/sheet.h"

#include <fstream>
#include <iterator>

#include <fmt/format.h>

#include "cli/commands/terms_help.h"
#include "cli/sheets/html.h"
#include "cli/sheets/pdf.h"
#include "cli/sheets/sheet.h"
#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr char kOutHelp[] = "File to write, as name.pdf or name.html; - for HTML on the output";
constexpr char kSheetHelp[] = "Sheet: a PDF or HTML file, the text of its QR code, or -";

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

// Says whether the two digests are the same; an error if not, so that scripts can tell.
absl::Status ReportCheck(const Desk& desk, const SheetMark& mark, const v1::Ref& subject,
                         const std::string& digest) {
  v1::SheetCheck check;
  check.set_kind(std::string(WordOf(mark.kind)));
  *check.mutable_subject() = subject;
  check.set_sheet_digest(mark.digest);
  check.set_registry_digest(digest);
  check.set_same(mark.digest == digest);
  if (!check.same()) {
    return Fail(absl::StatusCode::kFailedPrecondition, "SHEET_DIFFERS",
                fmt::format("the {} sheet of {} does not say what the registry says: its digest is "
                            "{}, and here it is {}; print it again",
                            WordOf(mark.kind), subject.name(), mark.digest,
                            digest.empty() ? "none" : digest));
  }
  check.set_message(fmt::format("The {} sheet of {} says what this replica says.",
                                WordOf(mark.kind), subject.name()));
  return Present(desk, check);
}

// Holds the clauses on a page of HTML against those of the registry: its digest may have been left
// as it was. What changes with time (state, signatures) is not looked at.
absl::Status CheckClauses(const std::string& bytes, const v1::Loan& loan) {
  if (!bytes.starts_with("<!DOCTYPE html>")) return absl::OkStatus();
  for (int i = 0; i < loan.clauses_size(); ++i) {
    const std::string line = ClauseLine(i, loan.clauses(i));
    if (bytes.find(HtmlOfLine(line)) != std::string::npos) continue;
    return Fail(absl::StatusCode::kFailedPrecondition, "SHEET_DIFFERS",
                fmt::format("the agreement sheet of {} does not say what the registry says: \"{}\"",
                            loan.name(), line));
  }
  return absl::OkStatus();
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
  command.Positional("sheet", options.sheet, kSheetHelp);
  command.AddExample("Is this what we signed?", "broodpact loan check rosa-loan.pdf");
}

void DescribeCheckSplit(Command& command, CheckSheetOptions& options) {
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
  v1::Ref subject;
  subject.set_id(loan.id());
  subject.set_name(loan.name());
  if (mark.digest == loan.agreement_digest()) BP_RETURN_IF_ERROR(CheckClauses(bytes, loan));
  return ReportCheck(desk, mark, subject, loan.agreement_digest());
}

absl::Status RunCheckSplitSheet(const Desk& desk, const CheckSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, BytesOf(desk, options.sheet));
  BP_ASSIGN_OR_RETURN(const SheetMark mark,
                      MarkOfSheet(bytes, options.sheet, SheetKind::kSettlement));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(mark.subject));
  BP_ASSIGN_OR_RETURN(const v1::Split split, view.Split(id));
  return ReportCheck(desk, mark, split.clutch(), split.digest());
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
