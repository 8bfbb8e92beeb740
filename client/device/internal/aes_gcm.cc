#include "client/device/internal/aes_gcm.h"

#include <limits>
#include <memory>

#include <openssl/crypto.h>
#include <openssl/evp.h>

#include "client/base/check.h"

namespace broodpact::device {
namespace {

struct FreeContext {
  void operator()(EVP_CIPHER_CTX* context) const { EVP_CIPHER_CTX_free(context); }
};

using ContextHandle = std::unique_ptr<EVP_CIPHER_CTX, FreeContext>;

std::uint8_t* BytesOf(std::string& text) {
  return reinterpret_cast<std::uint8_t*>(text.data());
}

const std::uint8_t* BytesOf(std::string_view text) {
  return reinterpret_cast<const std::uint8_t*>(text.data());
}

int SizeOf(std::string_view text) {
  BP_CHECK(text.size() <= static_cast<std::size_t>(std::numeric_limits<int>::max()));
  return static_cast<int>(text.size());
}

enum class Direction : int { kDecrypt = 0, kEncrypt = 1 };

// A context that has seen key, nonce (12 bytes is what GCM takes unless told otherwise) and
// `associated`. OpenSSL wipes it when it frees it.
ContextHandle Begin(Direction direction, const SecretBytes& key, const GcmNonce& nonce,
                    std::string_view associated) {
  ContextHandle context(EVP_CIPHER_CTX_new());
  BP_CHECK(context != nullptr);
  BP_CHECK(EVP_CipherInit_ex2(context.get(), EVP_aes_256_gcm(), key.bytes().data(), nonce.data(),
                              static_cast<int>(direction), nullptr) == 1);
  int size = 0;
  if (!associated.empty()) {
    BP_CHECK(EVP_CipherUpdate(context.get(), nullptr, &size, BytesOf(associated),
                              SizeOf(associated)) == 1);
  }
  return context;
}

// Runs `in` through the context, to as many bytes at `out`.
void Run(EVP_CIPHER_CTX* context, std::string_view in, std::uint8_t* out) {
  if (in.empty()) return;
  int size = 0;
  BP_CHECK(EVP_CipherUpdate(context, out, &size, BytesOf(in), SizeOf(in)) == 1);
  BP_CHECK(size == SizeOf(in));
}

}  // namespace

std::string EncryptGcm(const SecretBytes& key, const GcmNonce& nonce, std::string_view associated,
                       std::string_view text) {
  const ContextHandle context = Begin(Direction::kEncrypt, key, nonce, associated);
  std::string encrypted(text.size() + kGcmTagBytes, '\0');
  Run(context.get(), text, BytesOf(encrypted));
  std::uint8_t* const tag = BytesOf(encrypted) + text.size();
  int size = 0;
  BP_CHECK(EVP_CipherFinal_ex(context.get(), tag, &size) == 1 && size == 0);
  BP_CHECK(EVP_CIPHER_CTX_ctrl(context.get(), EVP_CTRL_AEAD_GET_TAG, int{kGcmTagBytes}, tag) == 1);
  return encrypted;
}

std::optional<std::string> DecryptGcm(const SecretBytes& key, const GcmNonce& nonce,
                                      std::string_view associated, std::string_view encrypted) {
  if (encrypted.size() < kGcmTagBytes) return std::nullopt;
  const std::string_view body = encrypted.substr(0, encrypted.size() - kGcmTagBytes);
  std::string tag(encrypted.substr(body.size()));
  const ContextHandle context = Begin(Direction::kDecrypt, key, nonce, associated);
  std::string text(body.size(), '\0');
  Run(context.get(), body, BytesOf(text));
  BP_CHECK(EVP_CIPHER_CTX_ctrl(context.get(), EVP_CTRL_AEAD_SET_TAG, int{kGcmTagBytes},
                               tag.data()) == 1);
  int size = 0;
  std::array<std::uint8_t, kGcmTagBytes> nothing{};
  if (EVP_CipherFinal_ex(context.get(), nothing.data(), &size) == 1) return text;
  OPENSSL_cleanse(text.data(), text.size());
  return std::nullopt;
}

}  // namespace broodpact::device
