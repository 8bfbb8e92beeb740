#include "client/base/hash.h"

#include <algorithm>
#include <memory>

#include <openssl/evp.h>

#include "client/base/check.h"

namespace broodpact {
namespace {

struct FreeContext {
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};

// The algorithm, looked up once: OpenSSL's one-shot calls look it up by name each time, which
// costs as much as hashing a commit. Kept as long as the process.
const EVP_MD* Algorithm() {
  static const EVP_MD* const algorithm = EVP_MD_fetch(nullptr, "SHA256", nullptr);
  BP_CHECK(algorithm != nullptr);
  return algorithm;
}

// One context a thread, used again and again: making one costs as much as hashing a commit, and a
// context must not be shared. It holds nothing between two hashes, so the result depends on the
// bytes alone.
EVP_MD_CTX* Context() {
  thread_local const std::unique_ptr<EVP_MD_CTX, FreeContext> context(EVP_MD_CTX_new());
  BP_CHECK(context != nullptr);
  return context.get();
}

template <typename Parts>
Hash HashOf(const Parts& parts) {
  EVP_MD_CTX* const context = Context();
  BP_CHECK(EVP_DigestInit_ex2(context, Algorithm(), nullptr) == 1);
  for (const std::string_view part : parts) {
    BP_CHECK(EVP_DigestUpdate(context, part.data(), part.size()) == 1);
  }
  Hash hash;
  unsigned size = 0;
  BP_CHECK(EVP_DigestFinal_ex(context, hash.data(), &size) == 1);
  BP_CHECK(size == hash.size());
  return hash;
}

std::optional<unsigned> ValueOfDigit(char c) {
  if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
  if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a') + 10;
  if (c >= 'A' && c <= 'F') return static_cast<unsigned>(c - 'A') + 10;
  return std::nullopt;
}

}  // namespace

Hash Sha256(std::string_view bytes) {
  return HashOf(std::array{bytes});
}

Hash Sha256(std::initializer_list<std::string_view> parts) {
  return HashOf(parts);
}

std::optional<Hash> HashOfBytes(std::string_view bytes) {
  Hash hash;
  if (bytes.size() != hash.size()) return std::nullopt;
  std::copy(bytes.begin(), bytes.end(), hash.begin());
  return hash;
}

std::string ToHex(const Hash& hash) {
  return BytesToHex(ViewOf(hash));
}

std::string BytesToHex(std::string_view bytes) {
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  text.reserve(bytes.size() * 2);
  for (const char c : bytes) {
    const auto byte = static_cast<std::uint8_t>(c);
    text.push_back(kDigits[byte >> 4]);
    text.push_back(kDigits[byte & 15]);
  }
  return text;
}

std::optional<std::string> HexToBytes(std::string_view text) {
  if (text.size() % 2 != 0) return std::nullopt;
  std::string bytes;
  bytes.reserve(text.size() / 2);
  for (std::size_t i = 0; i < text.size(); i += 2) {
    const auto high = ValueOfDigit(text[i]);
    const auto low = ValueOfDigit(text[i + 1]);
    if (!high || !low) return std::nullopt;
    bytes.push_back(static_cast<char>(*high << 4 | *low));
  }
  return bytes;
}

}  // namespace broodpact
