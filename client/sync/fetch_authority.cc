// FetchAuthority of connection.h: the one moment when a server is not known yet. The handshake
// accepts any certificate; what makes the answer good is the fingerprint in the invite code.

#include <array>
#include <cerrno>
#include <chrono>
#include <memory>
#include <optional>
#include <string>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/status.h"
#include "client/sync/address.h"
#include "client/sync/certificate.h"
#include "client/sync/connection.h"
#include "client/sync/openssl.h"
#include <netdb.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

namespace broodpact::sync {
namespace {

using Instant = std::chrono::steady_clock::time_point;

// Our servers send two certificates. More is no server of ours.
constexpr int kChainMax = 8;

absl::Status AwayError(const std::string& address) {
  return Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY",
              fmt::format("no server answers at {}; check the network and try again", address));
}

absl::Status OtherError(const std::string& address) {
  return Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER",
              fmt::format("somebody else answers at {}: not the server that the invite code is of; "
                          "ask for a new code",
                          address));
}

class Socket {
 public:
  explicit Socket(int descriptor) : descriptor_(descriptor) {}
  ~Socket() {
    if (descriptor_ >= 0) close(descriptor_);
  }
  Socket(Socket&& other) noexcept : descriptor_(other.descriptor_) { other.descriptor_ = -1; }
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;
  Socket& operator=(Socket&&) = delete;

  int descriptor() const { return descriptor_; }

  // Waits until the socket is ready for `events`. False after `deadline`.
  bool Wait(short events, Instant deadline) const {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
        deadline - std::chrono::steady_clock::now());
    if (left.count() <= 0) return false;
    pollfd poll_for{.fd = descriptor_, .events = events, .revents = 0};
    return poll(&poll_for, 1, static_cast<int>(left.count())) == 1;
  }

 private:
  int descriptor_;
};

// A connected socket that does not block; nothing if none of the host's addresses answers.
std::optional<Socket> ConnectTo(const Address& address, Instant deadline) {
  addrinfo hints{};
  hints.ai_socktype = SOCK_STREAM;
  addrinfo* found = nullptr;
  if (getaddrinfo(address.host.c_str(), std::to_string(address.port).c_str(), &hints, &found) !=
      0) {
    return std::nullopt;
  }
  const std::unique_ptr<addrinfo, decltype(&freeaddrinfo)> owner(found, &freeaddrinfo);
  for (const addrinfo* each = found; each != nullptr; each = each->ai_next) {
    Socket socket_to(socket(each->ai_family, each->ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC, 0));
    if (socket_to.descriptor() < 0) continue;
    if (connect(socket_to.descriptor(), each->ai_addr, each->ai_addrlen) == 0) return socket_to;
    if (errno != EINPROGRESS || !socket_to.Wait(POLLOUT, deadline)) continue;
    int error = 0;
    socklen_t size = sizeof(error);
    if (getsockopt(socket_to.descriptor(), SOL_SOCKET, SO_ERROR, &error, &size) == 0 &&
        error == 0) {
      return socket_to;
    }
  }
  return std::nullopt;
}

// Moves what TLS wants to say to the socket. Not through OpenSSL's own socket BIO: its writes raise
// SIGPIPE when the peer is gone.
bool SendPending(BIO* outgoing, const Socket& socket_to, Instant deadline) {
  std::array<char, 4'096> buffer{};
  while (BIO_ctrl_pending(outgoing) > 0) {
    const int size = BIO_read(outgoing, buffer.data(), static_cast<int>(buffer.size()));
    for (int sent = 0; sent < size;) {
      const ssize_t part = send(socket_to.descriptor(), buffer.data() + sent,
                                static_cast<std::size_t>(size - sent), MSG_NOSIGNAL);
      if (part > 0) {
        sent += static_cast<int>(part);
      } else if (errno != EAGAIN || !socket_to.Wait(POLLOUT, deadline)) {
        return false;
      }
    }
  }
  return true;
}

bool Receive(BIO* incoming, const Socket& socket_to, Instant deadline) {
  if (!socket_to.Wait(POLLIN, deadline)) return false;
  std::array<char, 4'096> buffer{};
  const ssize_t size = recv(socket_to.descriptor(), buffer.data(), buffer.size(), 0);
  return size > 0 &&
         BIO_write(incoming, buffer.data(), static_cast<int>(size)) == static_cast<int>(size);
}

bool Handshake(SSL* tls, const Socket& socket_to, Instant deadline) {
  BIO* const incoming = BIO_new(BIO_s_mem());
  BIO* const outgoing = BIO_new(BIO_s_mem());
  SSL_set_bio(tls, incoming, outgoing);  // owns both from here on
  while (true) {
    const int result = SSL_connect(tls);
    if (!SendPending(outgoing, socket_to, deadline)) return false;
    if (result == 1) return true;
    if (SSL_get_error(tls, result) != SSL_ERROR_WANT_READ) return false;
    if (!Receive(incoming, socket_to, deadline)) return false;
  }
}

// The authority's certificate in the peer's chain, if its leaf hangs on it. The handshake has
// proved that the peer holds the leaf's key.
X509* AuthorityIn(const SSL* tls, const Hash& fingerprint) {
  X509* const leaf = SSL_get0_peer_certificate(tls);
  const STACK_OF(X509)* const chain = SSL_get_peer_cert_chain(tls);
  if (leaf == nullptr || chain == nullptr || sk_X509_num(chain) > kChainMax) return nullptr;
  for (int i = 0; i < sk_X509_num(chain); ++i) {
    X509* const authority = sk_X509_value(chain, i);
    if (FingerprintOf(authority) != fingerprint) continue;
    return X509_verify(leaf, X509_get0_pubkey(authority)) == 1 ? authority : nullptr;
  }
  return nullptr;
}

}  // namespace

absl::StatusOr<std::string> FetchAuthority(const std::string& address, const Hash& fingerprint) {
  const std::optional<Address> parsed = ParseAddress(address);
  if (!parsed.has_value()) return AwayError(address);
  const Instant deadline = std::chrono::steady_clock::now() + std::chrono::seconds(kConnectSeconds);
  const std::optional<Socket> socket_to = ConnectTo(*parsed, deadline);
  if (!socket_to.has_value()) return AwayError(address);

  const TlsContextOwner context(SSL_CTX_new(TLS_client_method()));
  if (context == nullptr) return AwayError(address);
  SSL_CTX_set_min_proto_version(context.get(), TLS1_3_VERSION);
  SSL_CTX_set_verify(context.get(), SSL_VERIFY_NONE, nullptr);
  const TlsOwner tls(SSL_new(context.get()));
  constexpr std::array<unsigned char, 3> kHttp2{2, 'h', '2'};
  if (tls == nullptr || SSL_set_alpn_protos(tls.get(), kHttp2.data(), kHttp2.size()) != 0 ||
      !Handshake(tls.get(), *socket_to, deadline)) {
    return AwayError(address);
  }
  X509* const authority = AuthorityIn(tls.get(), fingerprint);
  if (authority == nullptr) return OtherError(address);
  return PemOf(authority);
}

}  // namespace broodpact::sync
