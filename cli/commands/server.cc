#include "cli/commands/server.h"

#include <string>
#include <vector>

#include "cli/act.h"
#include "cli/commands/member.h"
#include "cli/commands/sync.h"
#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

void TakeCode(Command& command, std::string& code, const std::string& what) {
  command.Positional("code", code, what + "; \"-\" reads standard input").required = false;
}

void DescribeTake(Command& command, TakeServerOptions& options) {
  command.Note(
      "When the server is gone for good: set up a fresh one, and give it to the cooperative with "
      "the code that it prints. It takes the log from this replica, each arrival at its place, as "
      "far as the server before had signed it. By a registrar who has synced late. Then name it to "
      "the others: broodpact server name.");
  TakeCode(command, options.code, "Code of the fresh server");
  command.AddExample("Put another server in the place of the one that burnt",
                     "broodpact server take - < code");
}

void DescribeName(Command& command, NameServerOptions& /*options*/) {
  command.Note(
      "Prints a code that leads members to the server of this replica, signed by this device. It "
      "is "
      "no secret: mail it to all. By a registrar.");
  command.AddExample("Lead the others to the new server", "broodpact server name > server-code");
}

void DescribeMove(Command& command, MoveServerOptions& options) {
  command.Note(
      "Goes over to another server, and syncs. What you recorded and had not delivered goes to "
      "that "
      "one; what the server before had and the new one has not is given to it, your own "
      "invitation too. Where it cannot have that any more, the command says so, and a new one "
      "(broodpact join) lets you in. The code must be signed by a registrar that this replica "
      "knows.");
  TakeCode(command, options.code, "Code of broodpact server name");
  command.AddExample("Follow the cooperative to its new server",
                     "broodpact server move - < server-code");
}

void DescribeCodes(Command& command, ServerCodesOptions& /*options*/) {
  command.Note(
      "Prints the codes by which this replica was led to servers, a line each, the latest last: "
      "where a new server does not know the one that this replica comes from, a registrar needs "
      "its code (broodpact server vouch).");
  command.AddExample("What led here", "broodpact server codes");
}

void DescribeVouch(Command& command, VouchServerOptions& options) {
  command.Note(
      "Tells the server that another one, which is gone, was of this cooperative too. Its members "
      "are believed then about what they had there, and when. Do it for a server that you know of: "
      "whoever had its keys can say of anything of his that it arrived earlier. By a registrar, "
      "with the code that led members there.");
  TakeCode(command, options.code, "Code of the server that is gone");
  command.AddExample("Believe those who come from the server that a former registrar set up",
                     "broodpact server vouch - < old-server-code");
}

absl::StatusOr<std::string> GivenCode(const Desk& desk, const std::string& given) {
  std::string code = CodeFrom(desk, given);
  if (!code.empty()) return code;
  return Fail(absl::StatusCode::kInvalidArgument, "SERVER_CODE",
              "no code was given; pipe it in, as in: broodpact server move - < server-code");
}

}  // namespace

absl::Status RunTakeServer(const Desk& desk, const TakeServerOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string code, GivenCode(desk, options.code));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  if (desk.terminal.messages_are_tty) desk.terminal.messages << "Giving the server the log ...\n";
  BP_ASSIGN_OR_RETURN(const replica::Synced synced, replica->TakeOverServer(code));
  return PresentSynced(desk, *replica, synced);
}

absl::Status RunNameServer(const Desk& desk, const NameServerOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  BP_ASSIGN_OR_RETURN(const std::string code, replica->NameServer());
  if (desk.terminal.format == Format::kJson) {
    v1::InviteResult result;
    result.set_code(code);
    result.set_role("server");
    return PrintJson(desk.terminal, result);
  }
  desk.terminal.out << code << '\n';
  desk.terminal.out.flush();
  desk.terminal.messages << "This code leads members to the server. It is no secret.\n";
  return absl::OkStatus();
}

absl::Status RunMoveServer(const Desk& desk, const MoveServerOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string code, GivenCode(desk, options.code));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  if (desk.terminal.messages_are_tty) desk.terminal.messages << "Asking the server ...\n";
  BP_ASSIGN_OR_RETURN(const replica::Synced synced, replica->MoveToServer(code));
  return PresentSynced(desk, *replica, synced);
}

absl::Status RunServerCodes(const Desk& desk, const ServerCodesOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> codes, replica->ServerCodes());
  if (desk.terminal.format == Format::kJson) {
    v1::ServerCodes result;
    result.mutable_codes()->Assign(codes.begin(), codes.end());
    return PrintJson(desk.terminal, result);
  }
  for (const std::string& code : codes) desk.terminal.out << code << '\n';
  desk.terminal.out.flush();
  if (codes.empty()) desk.terminal.messages << "No code led this replica to a server.\n";
  return absl::OkStatus();
}

absl::Status RunVouchServer(const Desk& desk, const VouchServerOptions& options) {
  BP_ASSIGN_OR_RETURN(const std::string code, GivenCode(desk, options.code));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  BP_RETURN_IF_ERROR(replica->VouchForServer(code));
  desk.terminal.messages << "The server believes members of that one now.\n";
  return absl::OkStatus();
}

void AddServerCommands(Command& root) {
  Command& server = root.AddGroup("server", "Put another server in place of one that is gone");
  server.Add("take", "Give the cooperative a fresh server", DescribeTake, RunTakeServer);
  server.Add("name", "Print the code that leads members to the server", DescribeName,
             RunNameServer);
  server.Add("move", "Go over to the server that a code names", DescribeMove, RunMoveServer);
  server.Add("codes", "Print the codes that led this replica to servers", DescribeCodes,
             RunServerCodes);
  server.Add("vouch", "Vouch for a server that is gone", DescribeVouch, RunVouchServer);
}

}  // namespace broodpact::cli
