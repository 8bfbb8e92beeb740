#include "client/sync/server_code.h"

#include <optional>

#include "absl/status/status.h"

#include "client/base/bech32m.h"
#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/sync/address.h"

namespace broodpact::sync {
namespace {

constexpr std::size_t kTextMax = 1'024;
constexpr std::string_view kPrefix = "broodpact";

absl::Status CodeError() {
  return Fail(absl::StatusCode::kInvalidArgument, "SERVER_CODE",
              "that is no code of a server, or it is mistyped or cut short; copy it whole, from "
              "\"broodpact1\" on");
}

}  // namespace

std::string ServerCodeMessage(const ServerCode& code) {
  using namespace std::string_view_literals;
  std::string message("broodpact server v1\0"sv);
  message.append(ViewOf(code.cooperative));
  message.append(ViewOf(code.authority));
  message.append(ViewOf(code.server_key));
  message.append(code.address);
  return message;
}

std::string BuildServerCode(const ServerCode& code) {
  std::string bytes(1, kServerCodeFormat);
  bytes.append(ViewOf(code.cooperative));
  bytes.append(ViewOf(code.authority));
  bytes.append(ViewOf(code.server_key));
  bytes.append(ViewOf(code.named_by.bytes));
  bytes.append(ViewOf(code.signature));
  bytes.append(code.address);
  return EncodeBech32m(kPrefix, bytes);
}

absl::StatusOr<ServerCode> ParseServerCode(std::string_view text) {
  if (text.size() > kTextMax) return CodeError();
  std::string joined;
  for (const char c : text) {
    // Mail and paper break long lines.
    if (c != ' ' && c != '\t' && c != '\r' && c != '\n') joined.push_back(c);
  }
  const std::optional<std::string> bytes = DecodeBech32m(kPrefix, joined);
  if (!bytes || bytes->empty()) return CodeError();
  if (bytes->front() != kServerCodeFormat) {
    return Fail(
        absl::StatusCode::kInvalidArgument, "SERVER_CODE",
        "that code lets somebody in, or claims a fresh server: `broodpact join` and "
        "`broodpact server take` use it; `broodpact server name` prints one that leads there");
  }
  ByteReader reader(std::string_view(*bytes).substr(1));
  ServerCode code;
  const std::optional<Hash> cooperative = HashOfBytes(reader.Raw(code.cooperative.size()));
  const std::optional<Hash> authority = HashOfBytes(reader.Raw(code.authority.size()));
  const std::optional<PublicKey> key = PublicKeyOfBytes(reader.Raw(code.server_key.size()));
  const std::optional<IdBytes> device = IdOfBytes(reader.Raw(sizeof(IdBytes)));
  const std::optional<Signature> signature = SignatureOfBytes(reader.Raw(code.signature.size()));
  if (!reader.ok() || !cooperative || !authority || !key || !device || !signature) {
    return CodeError();
  }
  code = {.cooperative = *cooperative,
          .authority = *authority,
          .server_key = *key,
          .named_by = DeviceId{*device},
          .signature = *signature,
          .address = std::string(reader.rest())};
  if (!ParseAddress(code.address).has_value()) return CodeError();
  return code;
}

}  // namespace broodpact::sync
