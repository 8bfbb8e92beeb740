#include "cli/commands/clash.h"

#include <algorithm>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/words.h"
#include "cli/show/show.h"
#include "cli/terms/syntax.h"
#include "client/replica/acts_clash.h"

namespace broodpact::cli {
namespace {

constexpr char kWhichClash[] = "Clash, by id; broodpact clashes has them";

// A clash that a command is about, with the replica that it is in.
struct ClashAtHand {
  std::unique_ptr<replica::Replica> replica;
  ClashId id;
  registry::Clash clash;
};

absl::StatusOr<ClashAtHand> ClashAtHandNamed(const Desk& desk, const std::string& name) {
  BP_ASSIGN_OR_RETURN(auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const ClashId id, ViewOf(*replica).ClashNamed(name));
  BP_ASSIGN_OR_RETURN(registry::Clash clash,
                      replica::Known<registry::Clash>(*replica, id, "clash"));
  return ClashAtHand{.replica = std::move(replica), .id = id, .clash = std::move(clash)};
}

// The clutch that a clash is about.
// Errors: FAILED_PRECONDITION with reason SETTLEMENT_FORM.
absl::StatusOr<registry::Clutch> ClutchOf(const ClashAtHand& subject) {
  if (subject.clash.subject_kind != registry::Kind::kClutch) {
    return Fail(absl::StatusCode::kFailedPrecondition, "SETTLEMENT_FORM",
                "that clash is about no clutch: settle it by words alone");
  }
  return replica::Known<registry::Clutch>(*subject.replica, ClutchId{subject.clash.subject},
                                          "clutch");
}

// A count by its token, or by the keeper who stated the last one of theirs.
absl::StatusOr<Token> CountNamed(const ClashAtHand& subject, const std::string& text) {
  if (text.empty()) return Token();
  if (const std::optional<Token> token = TokenOf(text)) return *token;
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ClutchOf(subject));
  BP_ASSIGN_OR_RETURN(const KeeperId keeper, ViewOf(*subject.replica).KeeperNamed(text));
  const auto by_keeper = [&](const registry::CountRecord& count) {
    return count.entry.keeper == keeper;
  };
  const auto found = std::find_if(clutch.counts.rbegin(), clutch.counts.rend(), by_keeper);
  if (found != clutch.counts.rend()) return found->token;
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_COUNT",
              fmt::format("{} has not counted this clutch; sac show has the counts", text));
}

absl::Status ShareForm(const std::string& text, std::string_view form) {
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              fmt::format("'{}' is not {}", text, form));
}

// "mira=40": a keeper and a number of slings.
struct Part {
  KeeperId keeper{};
  std::uint32_t slings = 0;
};
absl::StatusOr<Part> PartOf(const replica::View& view, const std::string& text,
                            std::string_view form) {
  const std::size_t equals = text.find('=');
  if (equals == std::string::npos) return ShareForm(text, form);
  const std::optional<std::uint32_t> slings = WholeNumber(text.substr(equals + 1));
  if (!slings) return ShareForm(text, form);
  BP_ASSIGN_OR_RETURN(const KeeperId keeper, view.KeeperNamed(text.substr(0, equals)));
  return Part{.keeper = keeper, .slings = *slings};
}

// The shares in the order of the clutch's parties; who is not named gets none.
absl::StatusOr<std::vector<facts::SplitShare>> SharesOf(const ClashAtHand& subject,
                                                        const std::vector<std::string>& texts) {
  std::vector<facts::SplitShare> shares;
  if (texts.empty()) return shares;
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ClutchOf(subject));
  for (const registry::PartyShare& party : clutch.parties) {
    shares.push_back({.keeper = party.receiver, .slings = 0, .lot = {}});
  }
  const replica::View view = ViewOf(*subject.replica);
  for (const std::string& text : texts) {
    BP_ASSIGN_OR_RETURN(const Part part, PartOf(view, text, "a share such as mira=40"));
    const auto found = std::ranges::find(shares, part.keeper, &facts::SplitShare::keeper);
    if (found == shares.end()) {
      return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                  fmt::format("'{}' names a keeper who has no share of this clutch", text));
    }
    found->slings = part.slings;
  }
  return shares;
}

// "mira=4@f3kq": slings of a lot that become a keeper's.
absl::StatusOr<std::vector<facts::LotMove>> MovesOf(const ClashAtHand& subject,
                                                    const std::vector<std::string>& texts) {
  constexpr std::string_view kForm = "an award such as mira=4@f3kq";
  std::vector<facts::LotMove> moves;
  const replica::View view = ViewOf(*subject.replica);
  for (const std::string& text : texts) {
    const std::size_t at = text.find('@');
    if (at == std::string::npos) return ShareForm(text, kForm);
    BP_ASSIGN_OR_RETURN(const Part part, PartOf(view, text.substr(0, at), kForm));
    BP_ASSIGN_OR_RETURN(const LotId lot, view.LotNamed(text.substr(at + 1)));
    moves.push_back({.lot = lot, .keeper = part.keeper, .slings = part.slings, .new_lot = {}});
  }
  return moves;
}

// What became of a clash after somebody proposed or signed a settlement.
absl::Status ReportSettlement(const Desk& desk, const ClashAtHand& subject,
                              const replica::Acted& acted) {
  BP_ASSIGN_OR_RETURN(const v1::Clash clash, ViewOf(*subject.replica).Clash(subject.id));
  const v1::Ref ref = RefOf(subject.id, "");
  if (clash.state() == "settled") {
    return ReportAct(desk, *subject.replica, acted,
                     {.message = fmt::format("The clash about {} is settled: {}.", clash.subject(),
                                             clash.outcome()),
                      .subject = ref});
  }
  const auto& unsigned_by = clash.settlements().rbegin()->missing();
  std::string missing;
  for (const v1::Ref& keeper : unsigned_by) {
    missing += (missing.empty() ? "" : " and ") + keeper.name();
  }
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format(
           "Signed. The clash about {} is settled when {} signed too.", clash.subject(),
           missing.empty()
               ? "all have"
               : fmt::format("{} {}", missing, unsigned_by.size() == 1 ? "has" : "have")),
       .subject = ref,
       .next = fmt::format("broodpact clash sign {} (by {})", ref.name(), missing)});
}

void DescribeObject(Command& command, ObjectOptions& options) {
  command.Note(
      "The objection is open until you withdraw it, all parties settle it, or a registrar who is "
      "no party decides. It holds nothing up: slings grow on meanwhile, and a settlement can "
      "still move them.");
  command.Positional("clutch", options.clutch, "Clutch, by name or id");
  command.Option("--to", "what", options.to, "What you object to (default: count)")
      .OneOf({"count", "split"});
  command.Option("--count", "token", options.count,
                 "Object to this count (default: the one that stands)");
  command.Option("--reason", "text", options.reason, "Why, in your words").Required();
  command.Option("--on", "day", options.on, "Day, as 2026-11-25 (default: today)");
  command.AddExample("You saw more of them",
                     "broodpact object rosa-26 --reason \"there were 84 in the box\"");
  command.AddExample("You agreed otherwise",
                     "broodpact object rosa-26 --to split --reason \"we said 30 for mira\"");
}

void DescribeShow(Command& command, ShowClashOptions& options) {
  command.Positional("clash", options.clash, kWhichClash);
  command.AddExample("What it is about, and what was proposed", "broodpact clash show k4re");
}

void DescribeSettle(Command& command, SettleClashOptions& options) {
  command.Note(
      "A settlement binds who signs it: it takes effect when all parties have. A registrar who is "
      "no party decides alone, and nobody is judge in their own cause.");
  command.Positional("clash", options.clash, kWhichClash);
  command.Option("--words", "text", options.words, "What is agreed or decided").Required();
  command.Option("--count", "keeper", options.count,
                 "The count that stands: whose it is, or its token");
  command.Options("--share", "keeper=n", options.shares,
                  "Share out so, otherwise than by the terms; all that is not shared out");
  command.Options("--award", "keeper=n@lot", options.awards,
                  "Slings of a lot that become this keeper's");
  command.AddExample(
      "The second count is right",
      "broodpact clash settle k4re --count tomas --words \"counted again together\"");
  command.AddExample("Share out as was agreed by word",
                     "broodpact clash settle k4re --share mira=30 --share tomas=51 "
                     "--words \"as we said\"");
  command.AddExample("Make up for four",
                     "broodpact clash settle k4re --award mira=4@f3kq --words \"four too few\"");
}

void DescribeSign(Command& command, SignClashOptions& options) {
  command.Positional("clash", options.clash, kWhichClash);
  command.Option("--settlement", "token", options.settlement,
                 "Settlement, by token (default: the last one proposed)");
  command.AddExample("Agree to what was proposed", "broodpact clash sign k4re");
}

void DescribeWithdraw(Command& command, WithdrawClashOptions& options) {
  command.Note("An objection or a rival count is taken back by who stated it.");
  command.Positional("clash", options.clash, kWhichClash);
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.AddExample("You were mistaken", "broodpact clash withdraw k4re --reason \"my mistake\"");
}

// The count that an objection is to; empty for the split.
absl::StatusOr<Token> ObjectedCount(const ObjectOptions& options, const registry::Clutch& clutch) {
  if (options.to == "split") {
    if (options.count.empty()) return Token();
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "--count goes with --to count; leave it out");
  }
  if (!options.count.empty()) {
    if (const std::optional<Token> token = TokenOf(options.count)) return *token;
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                fmt::format("'{}' is no token; sac show --json has them", options.count));
  }
  for (const registry::CountRecord& count : clutch.counts) {
    if (count.state == registry::CountState::kStanding) return count.token;
  }
  return Fail(absl::StatusCode::kFailedPrecondition, "NOT_COUNTED",
              fmt::format("{} has no count to object to", options.clutch));
}

}  // namespace

absl::Status RunObject(const Desk& desk, const ObjectOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(options.clutch));
  BP_ASSIGN_OR_RETURN(const auto clutch, replica::Known<registry::Clutch>(*replica, id, "clutch"));
  BP_ASSIGN_OR_RETURN(const Token count, ObjectedCount(options, clutch));
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::ObjectTo(
          *replica, {.clutch = id, .count_token = count, .reason = options.reason, .day = day}));
  BP_ASSIGN_OR_RETURN(const v1::Clutch shown, ViewOf(*replica).Clutch(id));
  return ReportAct(desk, *replica, acted,
                   {.message = fmt::format("You object to the {} of {}; all parties see it.",
                                           count.empty() ? "split" : "count", shown.name()),
                    .subject = RefOf(id, shown.name()),
                    .next = "broodpact clashes"});
}

absl::Status RunShowClash(const Desk& desk, const ShowClashOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClashId id, view.ClashNamed(options.clash));
  BP_ASSIGN_OR_RETURN(const v1::Clash clash, view.Clash(id));
  return Present(desk, clash);
}

absl::Status RunSettleClash(const Desk& desk, const SettleClashOptions& options) {
  BP_ASSIGN_OR_RETURN(const ClashAtHand subject, ClashAtHandNamed(desk, options.clash));
  facts::ClashSettlement settlement{
      .clash = subject.id, .words = options.words, .count_token = {}, .shares = {}, .moves = {}};
  BP_ASSIGN_OR_RETURN(settlement.count_token, CountNamed(subject, options.count));
  BP_ASSIGN_OR_RETURN(settlement.shares, SharesOf(subject, options.shares));
  BP_ASSIGN_OR_RETURN(settlement.moves, MovesOf(subject, options.awards));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::SettleClash(*subject.replica, std::move(settlement)));
  return ReportSettlement(desk, subject, acted);
}

absl::Status RunSignClash(const Desk& desk, const SignClashOptions& options) {
  BP_ASSIGN_OR_RETURN(const ClashAtHand subject, ClashAtHandNamed(desk, options.clash));
  const std::optional<Token> token = TokenOf(options.settlement);
  if (!options.settlement.empty() && !token) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                fmt::format("'{}' is no token; clash show --json has them", options.settlement));
  }
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::SignSettlement(*subject.replica, subject.id, token.value_or(Token{})));
  return ReportSettlement(desk, subject, acted);
}

absl::Status RunWithdrawClash(const Desk& desk, const WithdrawClashOptions& options) {
  BP_ASSIGN_OR_RETURN(const ClashAtHand subject, ClashAtHandNamed(desk, options.clash));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::WithdrawClash(*subject.replica, subject.id, options.reason));
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = "Withdrawn: what stood before stands.", .subject = RefOf(subject.id, "")});
}

void AddClashCommands(Command& root) {
  root.Add("object", "Object to a count or to a split", DescribeObject, RunObject);
  Command& clash = root.AddGroup("clash", "Look at a clash, and end it");
  clash.Add("show", "Show one clash with its settlements", DescribeShow, RunShowClash);
  clash.Add("settle", "Propose how a clash ends, or decide it", DescribeSettle, RunSettleClash);
  clash.Add("sign", "Agree to a settlement", DescribeSign, RunSignClash);
  clash.Add("withdraw", "Take an objection or a rival count back", DescribeWithdraw,
            RunWithdrawClash);
}

}  // namespace broodpact::cli
