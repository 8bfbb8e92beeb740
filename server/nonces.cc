#include "server/nonces.h"

#include <array>

#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>

#include "client/base/check.h"

namespace broodpact::server {
namespace {

constexpr std::size_t kBodySize = 16;
constexpr std::size_t kKeySize = 32;
constexpr std::size_t kTimeSize = 8;

std::string BigEndian(std::uint64_t value) {
  std::string bytes;
  for (int shift = 56; shift >= 0; shift -= 8) {
    bytes.push_back(static_cast<char>(static_cast<std::uint8_t>(value >> shift)));
  }
  return bytes;
}

std::uint64_t OfBigEndian(std::string_view bytes) {
  std::uint64_t value = 0;
  for (const char c : bytes) value = (value << 8U) | static_cast<std::uint8_t>(c);
  return value;
}

}  // namespace

Nonces::Nonces(device::Randomness& randomness)
    : randomness_(randomness), key_(randomness.Bytes(kKeySize)) {}

std::string Nonces::Make(std::int64_t now_ms) const {
  const std::string body =
      BigEndian(static_cast<std::uint64_t>(now_ms)) + randomness_.Bytes(kBodySize - kTimeSize);
  return body + Seal(body);
}

bool Nonces::IsFresh(std::string_view nonce, std::int64_t now_ms) const {
  if (nonce.size() != kNonceSize) return false;
  const std::string seal = Seal(nonce.substr(0, kBodySize));
  if (CRYPTO_memcmp(seal.data(), nonce.data() + kBodySize, seal.size()) != 0) return false;
  const auto made_ms = static_cast<std::int64_t>(OfBigEndian(nonce.substr(0, kTimeSize)));
  return made_ms <= now_ms && now_ms - made_ms <= kNonceMillis;
}

std::string Nonces::Seal(std::string_view body) const {
  std::array<unsigned char, EVP_MAX_MD_SIZE> seal{};
  unsigned int size = 0;
  BP_CHECK(HMAC(EVP_sha256(), key_.data(), static_cast<int>(key_.size()),
                reinterpret_cast<const unsigned char*>(body.data()), body.size(), seal.data(),
                &size) != nullptr);
  return {reinterpret_cast<const char*>(seal.data()), size};
}

}  // namespace broodpact::server
