// Any bytes as a code, as it is typed, and as what a well-typed code holds: an error with a reason,
// or a code that is written again as the same text. Never a crash.

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "client/base/bech32m.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/sync/invite_code.h"
#include "client/sync/server_code.h"

namespace session = broodpact::sync;  // "sync" is a function of the system

namespace {

// As a code is written: small letters, and no space, which mail and paper put in.
std::string AsWritten(std::string_view text) {
  std::string written;
  for (const char c : text) {
    if (c == ' ' || c == '\t' || c == '\r' || c == '\n') continue;
    written.push_back(static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c));
  }
  return written;
}

void Try(std::string_view text) {
  const auto invite = session::ParseInviteCode(text);
  if (invite.ok()) {
    BP_CHECK(session::BuildInviteCode(*invite) == AsWritten(text));
  } else {
    BP_CHECK(!broodpact::ReasonOf(invite.status()).empty());
  }
  const auto server = session::ParseServerCode(text);
  if (server.ok()) {
    BP_CHECK(session::BuildServerCode(*server) == AsWritten(text));
  } else {
    BP_CHECK(!broodpact::ReasonOf(server.status()).empty());
  }
  BP_CHECK(!(invite.ok() && server.ok()));
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  Try(bytes);
  Try(broodpact::EncodeBech32m("broodpact", bytes));
  return 0;
}
