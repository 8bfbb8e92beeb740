#pragma once

// The code that leads members to another server: one line, to be read out, mailed or printed. It is
// no secret. Bech32m with the prefix "broodpact", over: 1 byte format (3), 32 bytes cooperative id,
// 32 bytes SHA-256 of the server's authority certificate (DER), 32 bytes the key that the server
// signs its log with, 16 bytes id of the device that names the server, 64 bytes its signature, then
// the address, "host:port".

#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"

namespace broodpact::sync {

// The first byte; codes that let somebody in have others.
inline constexpr char kServerCodeFormat = 3;

struct ServerCode {
  Hash cooperative{};
  Hash authority{};
  PublicKey server_key{};
  DeviceId named_by{};
  Signature signature{};
  std::string address{};
};

// The bytes that the naming device signs: "broodpact server v1", a zero byte, then cooperative,
// authority, server key and address.
std::string ServerCodeMessage(const ServerCode& code);

std::string BuildServerCode(const ServerCode& code);

// Does not verify the signature: whose it is to be, the registry says.
// Errors: INVALID_ARGUMENT with reason SERVER_CODE (mistyped, cut short, another kind of code).
absl::StatusOr<ServerCode> ParseServerCode(std::string_view text);

}  // namespace broodpact::sync
