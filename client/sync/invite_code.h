#pragma once

// The code that lets somebody in: all that a newcomer needs, on one line that can be read out,
// mailed or printed. Bech32m with the prefix "broodpact", over: 1 byte format (1), 32 bytes
// cooperative id (zeros: the code claims a fresh server), 32 bytes SHA-256 of the server's
// authority certificate (DER), 16 bytes secret, then the address, "host:port". Format 2 lets a
// further device of a keeper in: before the address it has 16 bytes keeper id, 1 byte length of the
// keeper's name, and the name.

#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"

namespace broodpact::sync {

inline constexpr std::size_t kSecretSize = 16;

struct InviteCode {
  Hash cooperative{};     // zeros: claims a fresh server for a cooperative founded elsewhere
  Hash authority{};       // SHA-256 of the certificate (DER) that all of this server's hang on
  std::string secret{};   // 16 bytes, good for one use
  std::string address{};  // "host:port"
  // Of a further device: its keeper. Empty: a newcomer's code.
  KeeperId keeper{};
  std::string keeper_name{};
};

std::string BuildInviteCode(const InviteCode& code);

// Errors: INVALID_ARGUMENT with reason INVITE_CODE (mistyped, cut short) or INVITE_CODE_NEWER.
absl::StatusOr<InviteCode> ParseInviteCode(std::string_view text);

// The seed of the invitation's key pair: SHA-256("broodpact invite v1", 0, cooperative, secret).
Hash InviteSeed(const Hash& cooperative, std::string_view secret);

}  // namespace broodpact::sync
