// Goal: whoever answers at an address and is no server of ours is told apart, in bounded time.
// Method: sockets that answer nothing, or something else. tests/server has the handshakes that
// work.

#include <string>
#include <string_view>
#include <thread>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/sync/connection.h"
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

namespace broodpact::sync {
namespace {

// Listens on a free port, and answers one connection with `words`, whatever is said.
class Stranger {
 public:
  explicit Stranger(std::string_view words) : socket_(socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof(address);
    auto* const generic = reinterpret_cast<sockaddr*>(&address);
    EXPECT_EQ(bind(socket_, generic, size), 0);
    EXPECT_EQ(listen(socket_, 1), 0);
    EXPECT_EQ(getsockname(socket_, generic, &size), 0);
    address_ = "127.0.0.1:" + std::to_string(ntohs(address.sin_port));
    thread_ = std::thread([this, words] {
      const int peer = accept(socket_, nullptr, nullptr);
      if (peer >= 0) send(peer, words.data(), words.size(), MSG_NOSIGNAL);
      close(peer);
    });
  }
  ~Stranger() {
    thread_.join();
    close(socket_);
  }
  Stranger(const Stranger&) = delete;
  Stranger& operator=(const Stranger&) = delete;

  const std::string& address() const { return address_; }

 private:
  int socket_;
  std::string address_;
  std::thread thread_;
};

TEST(FetchAuthority, SaysThatNobodyAnswers) {
  const auto pem = FetchAuthority("127.0.0.1:1", Hash{});
  EXPECT_EQ(pem.status().code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(ReasonOf(pem.status()), "SERVER_AWAY");
}

TEST(FetchAuthority, SaysTheSameOfOneWhoDoesNotSpeakTls) {
  const Stranger web("HTTP/1.0 400 Bad Request\r\n\r\n");
  EXPECT_EQ(ReasonOf(FetchAuthority(web.address(), Hash{}).status()), "SERVER_AWAY");
}

TEST(FetchAuthority, SurvivesOneWhoHangsUp) {
  const Stranger silent("");
  EXPECT_EQ(ReasonOf(FetchAuthority(silent.address(), Hash{}).status()), "SERVER_AWAY");
}

TEST(FetchAuthority, DoesNotAskForWhatIsNoAddress) {
  EXPECT_EQ(ReasonOf(FetchAuthority("nowhere", Hash{}).status()), "SERVER_AWAY");
}

}  // namespace
}  // namespace broodpact::sync
