#include "cli/commands/terms_help.h"

#include <algorithm>
#include <fstream>

#include <fmt/format.h>

#include "cli/show/curve.h"
#include "cli/show/show.h"
#include "cli/terminal/table.h"
#include "cli/terms/syntax.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

void DescribeSlings(Command& command, SlingOptions& options, const std::string& who) {
  command.Options("--share", who + "=weight", options.shares,
                  "Share of the slings; once a party (default: lender and borrower alike)");
  command.Options("--first", "claim", options.firsts,
                  "Slings before the shares: mira=10, mira=5%; 8..5% is at least 8, ..50 caps, @40 "
                  "asks for 40 counted, #1 is of the first sac only");
  command.Options("--later-share", "sac:" + who + "=weight", options.later_shares,
                  "Share of her sacs from that number on, where it differs");
  command.Option("--small-below", "n=" + who, options.small_below,
                 "A clutch of fewer than n goes whole to this " + who);
  command
      .Option("--method", "method", options.method,
              "How shares become whole slings (default: largest-remainder)")
      .OneOf({"largest-remainder", "sainte-lague", "dhondt", "adams", "huntington-hill"});
  command
      .Option("--carry", "how", options.carry,
              "Carry remainders over to the next clutch (default: off)")
      .OneOf({"off", "quota", "chairman"});
  command
      .Option("--sires", "rule", options.sires,
              "How the male's owner's part is divided if several males may be the sire "
              "(default: equal)")
      .OneOf({"as-written", "equal", "last", "pairings"});
}

void DescribeSacs(Command& command, SacOptions& options) {
  command.Options("--female", "animal", options.females,
                  "Female whose sacs are covered "
                  "(default: any)");
  command.Number("--sacs", "n", options.sacs, "Sacs covered (default: all until she moults)");
  command.Option("--covered-until", "day", options.until,
                 "Last day on which a sac that is laid is covered");
  command.Number("--counting-stage", "n", options.counting_stage,
                 "Moults since the egg at which slings are counted");
  command.Option("--counter", "keeper", options.counter, "Who counts");
  command.Option("--witness", "keeper", options.witness,
                 "Who confirms the count before it is shared out");
  command.Option("--no-sac", "rule", options.no_sac, "What follows if no sac comes")
      .OneOf({"nothing", "repeat", "next-sac"});
  command.Number("--no-sac-days", "n", options.no_sac_days,
                 "Days after the last pairing when no sac is expected any more");
  command.Option("--infertile", "rule", options.infertile, "What follows if a sac comes to nothing")
      .OneOf({"nothing", "repeat", "next-sac"});
}

void DescribeCare(Command& command, CareOptions& options) {
  const std::vector<std::string> bearers = {"lender", "borrower"};
  const std::vector<std::string> payers = {"sender", "receiver", "lender", "borrower"};
  command.Option("--losses", "who", options.losses, "Who bears losses before the handover")
      .OneOf({"each", "holder", "shared"});
  command.Option("--male-risk", "who", options.male_risk, "Who bears the death of the animal")
      .OneOf(bearers);
  command.Option("--risk-on-way", "who", options.risk_on_way, "Who bears its death on the way")
      .OneOf(bearers);
  command.Option("--risk-eaten", "who", options.risk_eaten, "Who bears it that it is eaten")
      .OneOf(bearers);
  command
      .Option("--risk-natural", "who", options.risk_natural,
              "Who bears its death of age or illness")
      .OneOf(bearers);
  command.Option("--death-owes", "what", options.death_owes,
                 "What the borrower owes for a death: animal, remarks, or a number of slings");
  command.Number("--pairings", "n", options.pairings, "Pairings after which it goes back");
  command.Option("--lending-on", "may", options.lending_on, "Whether the borrower lends it on")
      .OneOf({"no", "ask", "yes"});
  command.Option("--carriage", "who", options.carriage, "Who pays carriage").OneOf(payers);
  command.Option("--carriage-out", "who", options.carriage_out, "Who pays its way out")
      .OneOf(payers);
  command.Option("--carriage-back", "who", options.carriage_back, "Who pays its way back")
      .OneOf(payers);
  command.Option("--carriage-slings", "who", options.carriage_slings, "Who pays the slings' way")
      .OneOf(payers);
  command.Number("--dead-report", "hours", options.dead_report,
                 "Hours in which dead arrivals are reported");
  command.Number("--dead-replace", "days", options.dead_replace,
                 "Days in which reported dead arrivals are replaced");
  command.Option("--arbiter", "keeper", options.arbiter,
                 "Who decides where the parties disagree (default: the registrars)");
  command.Option("--remarks", "text", options.remarks, "Anything else agreed, in words");
}

}  // namespace

void DescribeTerms(Command& command, TermsOptions& options, const std::string& who) {
  DescribeSlings(command, options.slings, who);
  DescribeSacs(command, options.sac);
  DescribeCare(command, options.care);
}

TermsLookup LookupIn(const Desk& desk, const replica::View& view) {
  return {
      .keeper = [&view](std::string_view name) { return view.KeeperNamed(name); },
      .female = [&view](std::string_view name) { return view.AnimalNamed(name); },
      .day = [&desk](std::string_view text) { return OneDayOf(desk, "--covered-until", text); }};
}

void PrintFindings(const Terminal& terminal,
                   const google::protobuf::RepeatedPtrField<v1::Remark>& findings) {
  for (const v1::Remark& finding : findings) {
    if (finding.severity() == "wrong") {
      terminal.messages << Toned(terminal, Tone::kInTheWay, "Wrong: ");
    } else if (finding.severity() == "look at") {
      terminal.messages << Toned(terminal, Tone::kLookAtIt, "Look at: ");
    } else {
      terminal.messages << Toned(terminal, Tone::kSecondary, "Note: ");
    }
    terminal.messages << Clean(finding.text()) << '\n';
  }
}

absl::Status CheckFindings(const google::protobuf::RepeatedPtrField<v1::Remark>& findings) {
  const auto wrong = std::ranges::find(findings, "wrong", &v1::Remark::severity);
  if (wrong == findings.end()) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "TERMS_CONTRADICT",
              fmt::format("the terms cannot be meant so: {} Change them, or sign them all the same "
                          "with --as-is",
                          wrong->text()));
}

absl::StatusOr<shares::SizeRange> SizeRangeOf(const std::string& text) {
  const std::size_t dots = text.find("..");
  const std::string_view whole = text;
  const std::optional<std::uint32_t> from = WholeNumber(whole.substr(0, dots));
  const std::optional<std::uint32_t> to =
      dots == std::string::npos ? std::nullopt : WholeNumber(whole.substr(dots + 2));
  if (from && to && *from <= *to) return shares::SizeRange{.from = *from, .to = *to};
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              fmt::format("'{}' is no range of sizes; write FROM..TO, as in 0..200", text));
}

absl::Status PresentCurve(const Desk& desk, const v1::SplitCurve& curve, const std::string& svg) {
  if (!svg.empty()) {
    std::ofstream file(svg, std::ios::binary | std::ios::trunc);
    file << SvgOf(curve);
    file.close();
    if (!file) {
      return Fail(
          absl::StatusCode::kUnavailable, "FILE_WRITE",
          fmt::format("{} cannot be written; look at the folder, and at the space there", svg));
    }
    desk.terminal.messages << fmt::format("The curve is drawn in {}.\n", svg);
  }
  return Present(desk, curve);
}

}  // namespace broodpact::cli
