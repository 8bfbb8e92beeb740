// Any messages as what a member's device sends to a server in a session: each is answered, or ends
// the stream with a reason, and nothing gets into the log but what that device has signed. Never a
// crash.
//
// The bytes are [length, two bytes, the lower first][SyncRequest] again and again. The server is
// the one of the simulation, with a cooperative whose founder sends; it stays from input to input,
// and the corpus has the few commits that he has ever signed.

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "tests/facts/any_chain.h"
#include "tests/fuzz/pieces.h"
#include "tests/simulation/server_node.h"
#include "tests/simulation/wire.h"

namespace facts = broodpact::facts;
namespace simulation = broodpact::simulation;

namespace {

// The founding, and the three moults of the corpus.
constexpr std::uint64_t kArrivalsMax = 4;

// A folder that is gone at the end.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "stream_fuzz.XXXXXX").string();
    BP_CHECK(mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  ~Folder() { std::filesystem::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

class Cooperative {
 public:
  Cooperative() : node_(folder_.path(), now_ms_) {
    BP_CHECK(node_.Start().ok());
    const facts::TrialLog log = facts::LogOfTwo(0);
    const auto entry = std::make_shared<simulation::ServerNode::Entry>();
    BP_CHECK(node_.SubmitFounding({log.commits.front(), *log.signatures.front()}, entry).ok());
    while (node_.Work()) {
    }
    BP_CHECK(entry->answer.has_value() && entry->answer->ok());
    founder_ = broodpact::DeviceOf(facts::KeyOfDevice(1).public_key());
  }

  // One session of the founder's device.
  void Hear(std::string_view bytes) {
    const std::shared_ptr<simulation::Wire> wire = node_.Connect(founder_);
    while (bytes.size() >= 2) {
      const std::string_view message = broodpact::fuzz::TakePiece(bytes);
      broodpact::v1::SyncRequest request;
      if (!request.ParseFromArray(message.data(), static_cast<int>(message.size()))) continue;
      wire->Send(request);
      GoOn(*wire);
    }
    wire->SendEnd();
    GoOn(*wire);
    wire->Break();
    node_.told().clear();
    BP_CHECK(node_.store().point().arrivals <= kArrivalsMax);
  }

 private:
  void GoOn(simulation::Wire& wire) {
    bool moved = true;
    while (moved) {
      moved = node_.Work();
      if (wire.CanDeliverUp()) {
        wire.DeliverUp();
        moved = true;
      }
      if (wire.CanConfirmWrite()) {
        wire.ConfirmWrite();
        moved = true;
      }
      if (wire.CanDeliverDown()) {
        wire.DeliverDown();
        moved = true;
      }
      if (!wire.HasArrived()) continue;
      const simulation::Down down = wire.TakeArrived();
      BP_CHECK(down.message || down.end.ok() || !broodpact::ReasonOf(down.end).empty());
    }
  }

  const std::int64_t now_ms_ = 1'795'597'200'000;
  Folder folder_;
  simulation::ServerNode node_;
  broodpact::DeviceId founder_;
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static Cooperative cooperative;
  cooperative.Hear({reinterpret_cast<const char*>(data), size});
  return 0;
}
