#include "cli/commands/member.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/care.h"
#include "cli/commands/words.h"
#include "cli/show/show.h"
#include "cli/terminal/progress.h"
#include "client/base/status.h"
#include "client/sync/invite_code.h"

namespace broodpact::cli {
namespace {

constexpr std::size_t kCodeBytesMax = 4'096;  // far above any code; bounds what is read

void DescribeStart(Command& command, StartOptions& options) {
  command.Note(
      "Makes a keeper and a device of this folder, with a secret key of its own. Works with no "
      "server and no cooperative; then found one, or join one.");
  command.Option("--name", "name", options.name, "Your name in the cooperative").Required();
  command.Option("--region", "region", options.region,
                 "Coarse region, two letters as in ISO 3166-1; never an address");
  command.AddExample("Begin as mira", "broodpact start --name mira --region PL");
}

void DescribeFound(Command& command, FoundOptions& options) {
  command.Note("You become its first registrar. Its id is the hash of this one commit.");
  command.Positional("name", options.name, "Name of the cooperative");
  command.AddExample("Found one", "broodpact found \"Colima circle\"");
}

void DescribeInvite(Command& command, InviteOptions& options) {
  command.Note(
      "The code alone goes to standard output. It is a secret, good for one device: hand it over "
      "so that nobody else reads it. It works once the invitation has reached the server.");
  command.Option("--role", "role", options.role, "Role (default: keeper)")
      .OneOf({"keeper", "registrar", "observer"});
  command.Option("--for", "name", options.for_keeper, "Whom it is meant for, as a reminder");
  command.AddExample("Invite a keeper, and deliver the invitation",
                     "broodpact invite --for tomas > code && broodpact sync");
}

void DescribeJoin(Command& command, JoinOptions& options) {
  command.Note(
      "The code is a secret: give it on standard input, so that it stays out of the history of "
      "your shell and of the list of processes. A code of broodpact device invite makes this a "
      "further device of its keeper; nothing has to be started before. Where the log is long, the "
      "server has a snapshot of the registry; if devices of three keepers at least attest it, this "
      "replica starts from it at once, and the next syncs fetch the history and check it. Until "
      "then it is the word of that server and of those devices.");
  command.Flag("--whole", options.whole, "Fetch and check the whole log first, from no snapshot");
  command.Positional("code", options.code, "Code of an invitation; \"-\" reads standard input")
      .required = false;
  command.AddExample("Join with the code in a file", "broodpact join - < code");
}

// One line, without what surrounds the code.
std::string ReadCode(std::istream& in) {
  std::string line;
  char c = 0;
  while (line.size() < kCodeBytesMax && in.get(c) && c != '\n') line += c;
  const std::size_t first = line.find_first_not_of(" \t\r");
  if (first == std::string::npos) return {};
  return line.substr(first, line.find_last_not_of(" \t\r") - first + 1);
}

// A name is of a folder for good, so another name takes another folder. The code is not spent.
absl::Status WithWayOut(const absl::Status& joined, const Desk& desk) {
  if (ReasonOf(joined) != "NAME_TAKEN") return joined;
  return Fail(joined.code(), "NAME_TAKEN",
              fmt::format("the cooperative has a keeper of your name already; begin in another "
                          "folder with another name (broodpact start --home <folder> --name "
                          "<name>), and join there with this same code; {} can be removed",
                          desk.home.folder().string()));
}

// Says something that is so now, as the message that acts print too.
absl::Status Say(const Desk& desk, const std::string& message, const v1::Ref& subject,
                 const std::string& next) {
  v1::ActResult result;
  result.set_message(message);
  *result.mutable_subject() = subject;
  result.set_next(next);
  if (desk.terminal.format == Format::kJson) return PrintJson(desk.terminal, result);
  desk.terminal.out << Clean(message) << '\n';
  desk.terminal.out.flush();
  if (!next.empty()) {
    desk.terminal.messages << Toned(desk.terminal, Tone::kSecondary, "Next: " + next) << '\n';
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status RunStart(const Desk& desk, const StartOptions& options) {
  BP_RETURN_IF_ERROR(
      replica::Replica::Start(desk.home, options.name, options.region, desk.surroundings));
  BP_ASSIGN_OR_RETURN(const replica::Identity identity, desk.home.ReadIdentity());
  return Say(desk, fmt::format("You are {} here, with a key of your own.", identity.keeper_name),
             RefOf(identity.keeper, identity.keeper_name),
             "broodpact found <name>, or broodpact join -");
}

absl::Status RunFound(const Desk& desk, const FoundOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica->Found(options.name));
  v1::Ref cooperative;
  cooperative.set_id(ToHex(replica->cooperative()));
  cooperative.set_name(options.name);
  return ReportAct(desk, *replica, acted,
                   {.message = fmt::format("{} is founded; you are its registrar.", options.name),
                    .subject = cooperative,
                    .next = "give it a server: broodpact join - with the code that a fresh "
                            "broodpact-server prints"});
}

std::string CodeFrom(const Desk& desk, const std::string& given) {
  if (!given.empty() && given != "-") return given;
  if (desk.terminal.messages_are_tty) desk.terminal.messages << "Code: " << std::flush;
  return ReadCode(desk.in);
}

absl::Status RunInvite(const Desk& desk, const InviteOptions& options) {
  const std::string role = options.role.empty() ? "keeper" : options.role;
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  BP_ASSIGN_OR_RETURN(const std::string code, replica->Invite(RoleOf(role), options.for_keeper));
  return ReportCode(desk, *replica, code, role);
}

absl::Status ReportCode(const Desk& desk, const replica::Replica& replica, const std::string& code,
                        const std::string& what) {
  const std::size_t undelivered = replica.undelivered().size();
  if (desk.terminal.format == Format::kJson) {
    v1::InviteResult result;
    result.set_code(code);
    result.set_role(what);
    result.set_undelivered(static_cast<std::uint32_t>(undelivered));
    return PrintJson(desk.terminal, result);
  }
  desk.terminal.out << code << '\n';
  desk.terminal.out.flush();
  desk.terminal.messages << "This code lets one device in as " << what
                         << ". It is a secret: hand it over in person or by private message.\n";
  if (undelivered > 0) {
    desk.terminal.messages << Toned(desk.terminal, Tone::kLookAtIt,
                                    "It does not work yet: the invitation has not reached the "
                                    "server. Next: broodpact sync")
                           << '\n';
  }
  return absl::OkStatus();
}

namespace {

// A code of a further device says who its keeper is: there is nothing to start by hand.
absl::Status StartForDevice(const Desk& desk, const std::string& code) {
  const absl::StatusOr<sync::InviteCode> invite = sync::ParseInviteCode(code);
  // What is wrong with the code is said when it is used.
  if (!invite.ok() || invite->keeper.empty() || desk.home.started()) return absl::OkStatus();
  return replica::Replica::Start(desk.home, invite->keeper_name, "", desk.surroundings);
}

}  // namespace

absl::Status RunJoin(const Desk& desk, const JoinOptions& options) {
  const std::string code = CodeFrom(desk, options.code);
  if (code.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "INVITE_CODE",
                "no code was given; pipe it in, as in: broodpact join - < code");
  }
  BP_RETURN_IF_ERROR(StartForDevice(desk, code));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  if (desk.terminal.messages_are_tty) desk.terminal.messages << "Asking the server ...\n";
  Progress progress(desk.terminal);
  replica::JoinOptions how;
  if (options.whole) how.first = replica::FirstSync::kWhole;
  how.on_part = [&](std::uint64_t parts, std::uint64_t all) {
    progress.Show("Fetching the snapshot: part", parts, all);
  };
  how.tell = [&](const std::string& note) {
    progress.Clear();
    desk.terminal.messages << "Note: " << Clean(note) << '\n';
  };
  BP_RETURN_IF_ERROR(WithWayOut(replica->Join(code, how), desk));
  replica::Synced synced;  // what comes in beside is told by the next sync
  for (const std::string& note : CareAfterSync(desk, *replica, {}, synced)) {
    desk.terminal.messages << "Note: " << Clean(note) << '\n';
  }
  BP_RETURN_IF_ERROR(TellRepair(desk, *replica));
  v1::Ref cooperative;
  cooperative.set_id(ToHex(replica->cooperative()));
  const absl::StatusOr<v1::Cooperative> known = ViewOf(*replica).Cooperative();
  cooperative.set_name(known.ok() ? known->name() : cooperative.id().substr(0, kIdShortSize));
  return Say(desk, fmt::format("This device belongs to {} now.", cooperative.name()), cooperative,
             "broodpact status");
}

void AddMemberCommands(Command& root) {
  root.Add("start", "Begin: make a keeper and a device here", DescribeStart, RunStart);
  root.Add("found", "Found a cooperative", DescribeFound, RunFound);
  root.Add("invite", "Write an invitation for one device", DescribeInvite, RunInvite);
  root.Add("join", "Join a cooperative by a code", DescribeJoin, RunJoin);
}

}  // namespace broodpact::cli
