// Any messages as what a server sends in a session: each is taken or refused with a reason, and
// what is handed over stays within its bounds. Never a crash.
//
// The bytes are [length, two bytes, the lower first][SyncResponse] again and again.

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/sync/inbox.h"
#include "client/sync/receiver.h"
#include "client/sync/session.h"
#include "tests/fuzz/pieces.h"

namespace session = broodpact::sync;  // "sync" is a function of the system

namespace {

void TakeNews(session::Inbox& inbox) {
  while (inbox.HasNews()) {
    const session::News news = inbox.Take();
    BP_CHECK(news.heard.size() <= session::kHeadsWaitingMax);
    if (!news.received) continue;
    const broodpact::facts::Range& range = news.received->range;
    BP_CHECK(range.after.arrivals == range.before.arrivals + range.arrivals.size());
    BP_CHECK(range.bytes.size() == range.arrivals.size());
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string_view bytes(reinterpret_cast<const char*>(data), size);
  session::Inbox inbox;
  session::Receiver receiver({}, {}, inbox);
  while (bytes.size() >= 2) {
    const std::string_view message = broodpact::fuzz::TakePiece(bytes);
    broodpact::v1::SyncResponse response;
    if (!response.ParseFromArray(message.data(), static_cast<int>(message.size()))) continue;
    const absl::Status status = receiver.Receive(response);
    TakeNews(inbox);
    if (status.ok()) continue;
    BP_CHECK(!broodpact::ReasonOf(status).empty());
    return 0;  // an error ends the stream
  }
  return 0;
}
