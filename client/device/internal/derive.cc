#include "client/device/internal/derive.h"

#include <array>
#include <cstddef>
#include <memory>
#include <string>

#include <openssl/core_names.h>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/kdf.h>
#include <openssl/params.h>

#include "client/base/check.h"

namespace broodpact::device {
namespace {

struct FreeOpenSsl {
  void operator()(EVP_KDF* kdf) const { EVP_KDF_free(kdf); }
  void operator()(EVP_KDF_CTX* context) const { EVP_KDF_CTX_free(context); }
};

const std::uint8_t* BytesOf(std::string_view text) {
  return reinterpret_cast<const std::uint8_t*>(text.data());
}

// OpenSSL reads its parameters only, though it takes them as if it wrote them.
OSSL_PARAM Parameter(const char* name, std::string_view bytes) {
  return OSSL_PARAM_construct_octet_string(name, const_cast<char*>(bytes.data()), bytes.size());
}

}  // namespace

void Hkdf(std::string_view secret, std::string_view salt, std::string_view info,
          std::span<std::uint8_t> out) {
  BP_CHECK(!secret.empty());
  const std::unique_ptr<EVP_KDF, FreeOpenSsl> kdf(EVP_KDF_fetch(nullptr, "HKDF", nullptr));
  BP_CHECK(kdf != nullptr);
  const std::unique_ptr<EVP_KDF_CTX, FreeOpenSsl> context(EVP_KDF_CTX_new(kdf.get()));
  BP_CHECK(context != nullptr);
  std::string digest = "SHA256";
  const std::array parameters = {
      OSSL_PARAM_construct_utf8_string(OSSL_KDF_PARAM_DIGEST, digest.data(), digest.size()),
      Parameter(OSSL_KDF_PARAM_KEY, secret),
      Parameter(OSSL_KDF_PARAM_SALT, salt),
      Parameter(OSSL_KDF_PARAM_INFO, info),
      OSSL_PARAM_construct_end(),
  };
  BP_CHECK(EVP_KDF_derive(context.get(), out.data(), out.size(), parameters.data()) == 1);
}

SecretBytes DeriveKey(const SecretBytes& secret, std::string_view salt, std::string_view info) {
  SecretBytes key;
  Hkdf(secret.view(), salt, info, key.bytes());
  return key;
}

Hash Hmac(std::string_view key, std::string_view message) {
  BP_CHECK(!key.empty());
  Hash mac{};
  std::size_t size = 0;
  BP_CHECK(EVP_Q_mac(nullptr, "HMAC", nullptr, "SHA256", nullptr, key.data(), key.size(),
                     BytesOf(message), message.size(), mac.data(), mac.size(), &size) != nullptr);
  BP_CHECK(size == mac.size());
  return mac;
}

bool IsSameMac(const Hash& a, const Hash& b) {
  return CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

}  // namespace broodpact::device
