#include "cli/commands/sheet.h"

#include <fstream>
#include <sstream>

#include <fmt/format.h>

#include "cli/commands/terms_help.h"
#include "cli/sheets/html.h"
#include "cli/sheets/pdf.h"
#include "cli/sheets/sheet.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr std::size_t kSheetBytesMax = 8'000'000;
constexpr char kUsualSizes[] = "0..200";

void DescribeLoanSheet(Command& command, LoanSheetOptions& options) {
  command.Note("Without a file the page goes to standard output as HTML, to be printed or kept.");
  command.Positional("loan", options.loan, "Loan, by name or id");
  command.Option("--html", "file", options.html, "Write the page into this file");
  command.Option("--pdf", "file", options.pdf, "Write a PDF document of it into this file");
  command.Option("--curve", "from..to", options.curve,
                 "Sizes of clutch in the picture of shares (default: 0..200)");
  command.AddExample("On paper, for both to keep",
                     "broodpact loan sheet rosa-26 --pdf rosa-26.pdf");
}

void DescribeSplitSheet(Command& command, SplitSheetOptions& options) {
  command.Note("Without a file the page goes to standard output as HTML, to be printed or kept.");
  command.Positional("clutch", options.clutch, "Clutch, by name or id");
  command.Option("--html", "file", options.html, "Write the page into this file");
  command.Option("--pdf", "file", options.pdf, "Write a PDF document of it into this file");
  command.AddExample("On paper, with the working",
                     "broodpact split sheet rosa-26 --pdf rosa-26.pdf");
}

constexpr char kCheckNote[] =
    "Compares the digest that the file carries, and in a page every sentence, with your replica. A "
    "paper whose file you do not have is checked by the digest beside its code.";

void DescribeLoanCheck(Command& command, CheckLoanSheetOptions& options) {
  command.Note(kCheckNote);
  command.Positional("sheet", options.sheet, "File of a sheet, HTML or PDF");
  command.AddExample("Is this what was signed?", "broodpact loan check rosa-26.pdf");
}

void DescribeSplitCheck(Command& command, CheckSplitSheetOptions& options) {
  command.Note(kCheckNote);
  command.Positional("sheet", options.sheet, "File of a sheet, HTML or PDF");
  command.AddExample("Is this how it was shared out?", "broodpact split check rosa-26.html");
}

absl::Status WriteHtml(const std::string& html, const std::string& path) {
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file << html;
  file.close();
  if (file) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kUnavailable, "FILE_WRITE",
      fmt::format("{} cannot be written; look at the folder, and at the space there", path));
}

// Writes the sheet into the files that are named; to the terminal if none is.
absl::Status Write(const Desk& desk, const Sheet& sheet, const std::string& html,
                   const std::string& pdf) {
  if (html.empty() && pdf.empty()) {
    desk.terminal.out << HtmlOf(sheet);
    return absl::OkStatus();
  }
  if (!html.empty()) {
    BP_RETURN_IF_ERROR(WriteHtml(HtmlOf(sheet), html));
    desk.terminal.messages << fmt::format("Written: {}\n", html);
  }
  if (!pdf.empty()) {
    BP_RETURN_IF_ERROR(WritePdf(sheet, pdf));
    desk.terminal.messages << fmt::format("Written: {}\n", pdf);
  }
  return absl::OkStatus();
}

absl::StatusOr<std::string> ReadSheet(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::string bytes(kSheetBytesMax + 1, '\0');
  file.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  const std::streamsize size = file.gcount();
  if (!file.is_open() || (size == 0 && file.bad())) {
    return Fail(absl::StatusCode::kNotFound, "FILE_READ",
                fmt::format("{} cannot be read; look at its name", path));
  }
  if (static_cast<std::size_t>(size) > kSheetBytesMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "FILE_TOO_LARGE",
                fmt::format("{} has more than {} bytes; it is no sheet", path, kSheetBytesMax));
  }
  bytes.resize(static_cast<std::size_t>(size));
  return bytes;
}

// The mark of a sheet of this kind.
absl::StatusOr<SheetMark> MarkIn(const std::string& bytes, const std::string& path,
                                 SheetKind kind) {
  const std::optional<SheetMark> mark = FindMark(bytes);
  if (!mark) {
    return Fail(absl::StatusCode::kInvalidArgument, "SHEET_UNKNOWN",
                fmt::format("{} is no sheet of ours: it carries no digest", path));
  }
  if (mark->kind == kind) return *mark;
  return Fail(absl::StatusCode::kInvalidArgument, "SHEET_UNKNOWN",
              fmt::format("{} is a sheet of a {}; check it by broodpact {} check", path,
                          WordOf(mark->kind), WordOf(mark->kind)));
}

absl::Status Differs(std::string message) {
  return Fail(absl::StatusCode::kFailedPrecondition, "SHEET_DIFFERS", message);
}

// Holds a file against the sheet that the replica would print now.
absl::Status Compare(const std::string& bytes, const SheetMark& mark, const Sheet& sheet) {
  if (mark.digest != sheet.digest) {
    return Differs(
        fmt::format("the sheet carries digest {}..., and the registry has {}...; it is "
                    "of something else, or of an earlier state: print it again",
                    mark.digest.substr(0, 12), sheet.digest.substr(0, 12)));
  }
  if (!bytes.starts_with("<!DOCTYPE html>")) return absl::OkStatus();
  for (const SheetSection& section : sheet.sections) {
    for (const std::string& sentence : section.sentences) {
      if (bytes.find(EscapedHtml(sentence)) != std::string::npos) continue;
      return Differs(
          fmt::format("the sheet does not say what the registry says: \"{}\"", sentence));
    }
  }
  return absl::OkStatus();
}

void SayGood(const Desk& desk, const Sheet& sheet, const std::string& state) {
  desk.terminal.out << fmt::format("The sheet is what the registry has: {} ({}), digest {}.\n",
                                   sheet.title, state, sheet.digest.substr(0, 12));
}

absl::StatusOr<Sheet> SplitSheet(const replica::View& view, const ClutchId& id) {
  BP_ASSIGN_OR_RETURN(const v1::Split split, view.Split(id));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, view.Clutch(id));
  return SheetOf(split, clutch);
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
  return Write(desk, SheetOf(loan, curve), options.html, options.pdf);
}

absl::Status RunSplitSheet(const Desk& desk, const SplitSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const Sheet sheet, SplitSheet(view, id));
  return Write(desk, sheet, options.html, options.pdf);
}

absl::Status RunCheckLoanSheet(const Desk& desk, const CheckLoanSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, ReadSheet(options.sheet));
  BP_ASSIGN_OR_RETURN(const SheetMark mark, MarkIn(bytes, options.sheet, SheetKind::kLoan));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LoanId id, view.LoanNamed(mark.id));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(id));
  const Sheet sheet = SheetOf(loan, v1::SplitCurve());
  BP_RETURN_IF_ERROR(Compare(bytes, mark, sheet));
  SayGood(desk, sheet, loan.state());
  return absl::OkStatus();
}

absl::Status RunCheckSplitSheet(const Desk& desk, const CheckSplitSheetOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, ReadSheet(options.sheet));
  BP_ASSIGN_OR_RETURN(const SheetMark mark, MarkIn(bytes, options.sheet, SheetKind::kSplit));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(mark.id));
  BP_ASSIGN_OR_RETURN(const Sheet sheet, SplitSheet(view, id));
  BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, view.Clutch(id));
  BP_RETURN_IF_ERROR(Compare(bytes, mark, sheet));
  SayGood(desk, sheet, clutch.state());
  return absl::OkStatus();
}

void AddLoanSheetCommands(Command& loan) {
  loan.Add("sheet", "Print the agreement of a loan on a sheet", DescribeLoanSheet, RunLoanSheet);
  loan.Add("check", "Check a sheet against the registry", DescribeLoanCheck, RunCheckLoanSheet);
}

void AddSplitSheetCommands(Command& split) {
  split.Add("sheet", "Print a split with its working on a sheet", DescribeSplitSheet,
            RunSplitSheet);
  split.Add("check", "Check a sheet against the registry", DescribeSplitCheck, RunCheckSplitSheet);
}

}  // namespace broodpact::cli
