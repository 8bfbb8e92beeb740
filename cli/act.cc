#include "cli/act.h"

#include <fmt/format.h>

#include "cli/terminal/json.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

// Before there is a server, syncing is no next step.
bool HasServer(const replica::Replica& replica) {
  const auto credentials = replica.home().ReadCredentials();
  return credentials.ok() && credentials->has_value();
}

}  // namespace

absl::Status ReportAct(const Desk& desk, const replica::Replica& replica,
                       const replica::Acted& acted, const Said& said) {
  const Terminal& terminal = desk.terminal;
  const bool can_sync = HasServer(replica);
  v1::ActResult result;
  result.set_message(said.message);
  *result.mutable_subject() = said.subject;
  result.set_commit(ToHex(acted.commit));
  *result.mutable_verdict() = replica::VerdictMessage(acted.verdict);
  result.set_next(!said.next.empty() ? said.next : can_sync ? "broodpact sync" : "");
  result.set_undelivered(static_cast<std::uint32_t>(acted.undelivered));
  if (terminal.format == Format::kJson) return PrintJson(terminal, result);

  terminal.out << Clean(said.message) << '\n';
  terminal.out.flush();  // so that it comes before what follows on the messages
  if (!acted.verdict.message.empty()) {
    terminal.messages << Toned(terminal, Tone::kLookAtIt, "Note: ") << Clean(acted.verdict.message)
                      << '\n';
  }
  std::string rest;
  if (can_sync && acted.undelivered > 0) {
    rest = fmt::format("Not on the server yet: {}. ", Counted(acted.undelivered, "commit"));
  }
  if (!result.next().empty()) rest += "Next: " + result.next();
  if (!rest.empty()) {
    terminal.messages << Toned(terminal, Tone::kSecondary, Clean(rest)) << '\n';
  }
  return absl::OkStatus();
}

}  // namespace broodpact::cli
