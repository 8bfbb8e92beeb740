#include "client/replica/home.h"

#include <algorithm>
#include <charconv>
#include <map>
#include <system_error>

#include <fmt/format.h>

#include "client/base/hash.h"
#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/sync/address.h"

namespace broodpact::replica {
namespace {

constexpr char kKeeperFile[] = "keeper";
constexpr char kInstallFile[] = "install";
constexpr char kLastFile[] = "last";
constexpr char kServerFile[] = "server";
constexpr char kAuthorityFile[] = "authority.pem";
constexpr char kCertificateFile[] = "client.pem";
constexpr char kCertificateKeyFile[] = "client.key";

absl::Status Damaged(const std::filesystem::path& folder, std::string_view what) {
  return Fail(absl::StatusCode::kDataLoss, "HOME_DAMAGED",
              fmt::format("{} in {}; put the folder back from a backup", what, folder.string()));
}

// A small file; nothing if it is not there.
absl::StatusOr<std::optional<std::string>> ReadIfThere(const std::filesystem::path& file) {
  absl::StatusOr<std::string> bytes = device::ReadPrivateFile(file);
  if (bytes.ok()) return std::optional<std::string>(*std::move(bytes));
  if (ReasonOf(bytes.status()) == "FILE_MISSING") return std::optional<std::string>();
  return bytes.status();
}

// The lines "name value" of a file; a later line of the same name stands.
std::map<std::string, std::string> LinesOf(std::string_view text) {
  std::map<std::string, std::string> lines;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    const std::string_view line = text.substr(0, end);
    const std::size_t space = line.find(' ');
    if (space != std::string_view::npos) {
      lines[std::string(line.substr(0, space))] = std::string(line.substr(space + 1));
    }
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
  }
  return lines;
}

template <typename Number>
std::optional<Number> NumberOf(std::string_view text) {
  Number number = 0;
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, number);
  if (error != std::errc() || rest != end || number == 0) return std::nullopt;
  return number;
}

}  // namespace

std::filesystem::path Home::sealing_key_file(const DeviceId& device) const {
  return folder_ / fmt::format("sealing.{}.key", ToText(device));
}

std::vector<std::filesystem::path> Home::sealing_key_files() const {
  std::vector<std::filesystem::path> files;
  std::error_code ignored;  // in a folder that cannot be read there is nothing to open with
  for (std::filesystem::directory_iterator entry(folder_, ignored), end; !ignored && entry != end;
       entry.increment(ignored)) {
    const std::string name = entry->path().filename().string();
    if (name.starts_with("sealing.") && name.ends_with(".key")) files.push_back(entry->path());
  }
  std::ranges::sort(files);
  return files;
}

bool Home::started() const {
  std::error_code ignored;  // a folder that cannot be looked into has no keeper for us
  return std::filesystem::exists(folder_ / kKeeperFile, ignored);
}

absl::StatusOr<Identity> Home::ReadIdentity() const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> text, ReadIfThere(folder_ / kKeeperFile));
  if (!text) {
    return Fail(
        absl::StatusCode::kFailedPrecondition, "NOT_STARTED",
        fmt::format("there is no keeper in {}; `broodpact start` makes one", folder_.string()));
  }
  std::map<std::string, std::string> lines = LinesOf(*text);
  const std::optional<IdBytes> keeper = ParseIdText(lines["keeper"]);
  const std::optional<std::uint32_t> incarnation = NumberOf<std::uint32_t>(lines["incarnation"]);
  const std::optional<std::string> key_bytes = HexToBytes(lines["device"]);
  const std::optional<PublicKey> key =
      key_bytes ? PublicKeyOfBytes(*key_bytes) : std::optional<PublicKey>();
  if (!keeper || !incarnation || !key || lines["name"].empty()) {
    return Damaged(folder_, "the file 'keeper' cannot be read");
  }
  return Identity{.keeper = KeeperId{*keeper},
                  .keeper_name = lines["name"],
                  .region = lines["region"],
                  .incarnation = *incarnation,
                  .device_key = *key};
}

absl::Status Home::WriteIdentity(const Identity& identity) const {
  return device::WritePrivateFile(
      folder_ / kKeeperFile,
      fmt::format("keeper {}\nname {}\nregion {}\nincarnation {}\ndevice {}\n",
                  ToText(identity.keeper), identity.keeper_name, identity.region,
                  identity.incarnation, ToHex(identity.device_key)));
}

absl::StatusOr<std::optional<std::string>> Home::ReadInstall() const {
  return ReadIfThere(folder_ / kInstallFile);
}

absl::Status Home::WriteInstall(std::string_view number) const {
  return device::WritePrivateFile(folder_ / kInstallFile, number);
}

absl::StatusOr<std::optional<OwnPlace>> Home::ReadLast() const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> text, ReadIfThere(folder_ / kLastFile));
  if (!text) return std::optional<OwnPlace>();
  std::map<std::string, std::string> lines = LinesOf(*text);
  const auto incarnation = NumberOf<std::uint32_t>(lines["incarnation"]);
  const auto seq = NumberOf<std::uint64_t>(lines["seq"]);
  const std::optional<std::string> bytes = HexToBytes(lines["hash"]);
  const std::optional<Hash> hash = bytes ? HashOfBytes(*bytes) : std::optional<Hash>();
  if (!incarnation || !seq || !hash) return std::optional<OwnPlace>();
  return OwnPlace{.incarnation = *incarnation, .seq = *seq, .hash = *hash};
}

absl::Status Home::WriteLast(const OwnPlace& place) const {
  return device::WritePrivateFile(
      folder_ / kLastFile, fmt::format("incarnation {}\nseq {}\nhash {}\n", place.incarnation,
                                       place.seq, ToHex(place.hash)));
}

absl::StatusOr<std::optional<sync::Credentials>> Home::ReadCredentials() const {
  BP_ASSIGN_OR_RETURN(std::optional<std::string> address, ReadIfThere(folder_ / kServerFile));
  if (!address) return std::optional<sync::Credentials>();
  BP_ASSIGN_OR_RETURN(std::optional<std::string> authority, ReadIfThere(folder_ / kAuthorityFile));
  BP_ASSIGN_OR_RETURN(std::optional<std::string> certificate,
                      ReadIfThere(folder_ / kCertificateFile));
  BP_ASSIGN_OR_RETURN(std::optional<std::string> key, ReadIfThere(folder_ / kCertificateKeyFile));
  // That the server is the one that was joined, nothing here can say again.
  if (!authority) {
    return Fail(absl::StatusCode::kDataLoss, "HOME_DAMAGED",
                fmt::format("the certificate of the server's authority is missing in {}; ask a "
                            "registrar for the code of the server (`broodpact server name`): "
                            "`broodpact server move CODE` writes it anew",
                            folder_.string()));
  }
  while (!address->empty() && address->back() == '\n') address->pop_back();
  if (!sync::ParseAddress(*address)) {
    return Damaged(folder_, "the file 'server' has no address");
  }
  return std::optional<sync::Credentials>({.address = *std::move(address),
                                           .authority_pem = *std::move(authority),
                                           .certificate_pem = std::move(certificate).value_or(""),
                                           .key_pem = std::move(key).value_or("")});
}

absl::Status Home::WriteCredentials(const sync::Credentials& credentials) const {
  BP_RETURN_IF_ERROR(device::WritePrivateFile(folder_ / kAuthorityFile, credentials.authority_pem));
  BP_RETURN_IF_ERROR(device::WritePrivateFile(folder_ / kCertificateKeyFile, credentials.key_pem));
  BP_RETURN_IF_ERROR(
      device::WritePrivateFile(folder_ / kCertificateFile, credentials.certificate_pem));
  // The address comes last: with it, the replica has joined.
  return device::WritePrivateFile(folder_ / kServerFile, credentials.address + "\n");
}

}  // namespace broodpact::replica
