#include "client/device/secret_bytes.h"

#include <algorithm>
#include <string>

#include "absl/cleanup/cleanup.h"
#include <openssl/crypto.h>

#include "client/base/check.h"

namespace broodpact::device {

SecretBytes::~SecretBytes() {
  OPENSSL_cleanse(bytes_.data(), bytes_.size());
}

std::optional<SecretBytes> SecretBytes::OfBytes(std::string_view bytes) {
  SecretBytes secret;
  if (bytes.size() != secret.bytes_.size()) return std::nullopt;
  std::copy(bytes.begin(), bytes.end(), secret.bytes_.begin());
  return secret;
}

SecretBytes SecretBytes::Fresh(Randomness& randomness) {
  std::string bytes = randomness.Bytes(std::tuple_size_v<decltype(bytes_)>);
  const absl::Cleanup wipe = [&bytes] { OPENSSL_cleanse(bytes.data(), bytes.size()); };
  const auto secret = OfBytes(bytes);
  BP_CHECK(secret.has_value());
  return *secret;
}

std::string_view SecretBytes::view() const {
  return {reinterpret_cast<const char*>(bytes_.data()), bytes_.size()};
}

bool operator==(const SecretBytes& a, const SecretBytes& b) {
  return CRYPTO_memcmp(a.bytes_.data(), b.bytes_.data(), a.bytes_.size()) == 0;
}

}  // namespace broodpact::device
