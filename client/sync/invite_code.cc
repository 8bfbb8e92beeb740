#include "client/sync/invite_code.h"

#include <algorithm>
#include <cctype>
#include <optional>

#include "absl/status/status.h"

#include "client/base/bech32m.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/base/text.h"
#include "client/sync/address.h"
#include "client/sync/server_code.h"

namespace broodpact::sync {
namespace {

constexpr char kFormat = 1;
constexpr char kDeviceFormat = 2;
constexpr std::size_t kHashSize = 32;
constexpr std::size_t kAddressAt = 1 + kHashSize + kHashSize + kSecretSize;
// Longer than any code: an address has at most kAddressBytesMax bytes.
constexpr std::size_t kTextMax = 1'024;
constexpr std::string_view kPrefix = "broodpact";

absl::Status CodeError() {
  return Fail(absl::StatusCode::kInvalidArgument, "INVITE_CODE",
              "the invite code is mistyped or cut short; copy it whole, from \"broodpact1\" on");
}

// The code as it was built: mail and paper break long lines.
std::string WithoutSpace(std::string_view text) {
  std::string joined;
  joined.reserve(text.size());
  for (const char c : text) {
    if (c != ' ' && c != '\t' && c != '\r' && c != '\n') joined.push_back(c);
  }
  return joined;
}

// Takes keeper and name off the front of `rest`; false if they are not there.
bool TakeKeeper(std::string_view& rest, InviteCode& code) {
  if (rest.size() <= sizeof(IdBytes) + 1) return false;
  code.keeper = KeeperId{IdOfBytes(rest.substr(0, sizeof(IdBytes))).value_or(IdBytes{})};
  const std::size_t name_size = static_cast<unsigned char>(rest[sizeof(IdBytes)]);
  rest.remove_prefix(sizeof(IdBytes) + 1);
  if (rest.size() <= name_size) return false;
  code.keeper_name = rest.substr(0, name_size);
  rest.remove_prefix(name_size);
  return !code.keeper.empty() && CheckName("name of the keeper", code.keeper_name).ok();
}

}  // namespace

std::string BuildInviteCode(const InviteCode& code) {
  BP_CHECK(code.secret.size() == kSecretSize);
  const bool of_device = !code.keeper.empty();
  BP_CHECK(code.keeper_name.size() <= kNameBytesMax);
  std::string bytes(1, of_device ? kDeviceFormat : kFormat);
  bytes.append(ViewOf(code.cooperative));
  bytes.append(ViewOf(code.authority));
  bytes.append(code.secret);
  if (of_device) {
    bytes.append(ViewOf(code.keeper.bytes));
    bytes.push_back(static_cast<char>(code.keeper_name.size()));
    bytes.append(code.keeper_name);
  }
  bytes.append(code.address);
  return EncodeBech32m(kPrefix, bytes);
}

absl::StatusOr<InviteCode> ParseInviteCode(std::string_view text) {
  if (text.size() > kTextMax) return CodeError();
  const std::optional<std::string> bytes = DecodeBech32m(kPrefix, WithoutSpace(text));
  if (!bytes.has_value() || bytes->empty()) return CodeError();
  const bool of_device = bytes->front() == kDeviceFormat;
  if (bytes->front() == kServerCodeFormat) {
    return Fail(absl::StatusCode::kInvalidArgument, "INVITE_CODE",
                "that code leads to a server; `broodpact server move` goes over to it");
  }
  if (bytes->front() != kFormat && !of_device) {
    return Fail(absl::StatusCode::kInvalidArgument, "INVITE_CODE_NEWER",
                "the invite code is of a newer version; update broodpact first");
  }
  if (bytes->size() <= kAddressAt) return CodeError();
  const std::string_view view = *bytes;
  InviteCode code;
  code.cooperative = HashOfBytes(view.substr(1, kHashSize)).value_or(Hash{});
  code.authority = HashOfBytes(view.substr(1 + kHashSize, kHashSize)).value_or(Hash{});
  code.secret = view.substr(1 + 2 * kHashSize, kSecretSize);
  std::string_view rest = view.substr(kAddressAt);
  if (of_device && !TakeKeeper(rest, code)) return CodeError();
  code.address = rest;
  if (!ParseAddress(code.address).has_value()) return CodeError();
  return code;
}

Hash InviteSeed(const Hash& cooperative, std::string_view secret) {
  using namespace std::string_view_literals;
  return Sha256({"broodpact invite v1\0"sv, ViewOf(cooperative), secret});
}

}  // namespace broodpact::sync
