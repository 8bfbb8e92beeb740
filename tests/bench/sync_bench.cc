// The whole job under load, with real processes: first sync of a large log into an empty replica,
// push of many offline commits, a live commit on its way, and questions. Every figure is printed
// beside its limit, measured in the same run (limit.h).
//
//   sync_bench --commits 100000 --push 10000 --live 300

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <csignal>
#include <cstdlib>
#include <iostream>
#include <mutex>
#include <optional>
#include <thread>

#include <CLI/CLI.hpp>
#include <fmt/core.h>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <grpcpp/grpcpp.h>

#include "broodpact/v1/sync_service.grpc.pb.h"
#include "client/base/check.h"
#include "client/registry/index.h"
#include "client/replica/ledger.h"
#include "client/replica/replica.h"
#include "client/replica/view.h"
#include "client/store/store.h"
#include "client/sync/connection.h"
#include "client/sync/invite_code.h"
#include "client/sync/joining.h"
#include "client/sync/session.h"
#include "tests/bench/generator.h"
#include "tests/bench/limit.h"
#include "tests/e2e/cooperative.h"

namespace broodpact::bench {
namespace {

using std::chrono::steady_clock;

struct Sizes {
  std::uint64_t commits = 100'000;
  std::uint64_t push = 10'000;
  std::uint64_t live = 300;
  std::uint32_t first_syncs = 3;
};

template <typename T>
T Must(absl::StatusOr<T> value) {
  if (!value.ok()) {
    std::cerr << value.status().ToString() << '\n';
    std::exit(1);  // NOLINT(concurrency-mt-unsafe): a bench that cannot go on
  }
  return *std::move(value);
}

void Must(const absl::Status& status) {
  if (status.ok()) return;
  std::cerr << status.ToString() << '\n';
  std::exit(1);  // NOLINT(concurrency-mt-unsafe): a bench that cannot go on
}

double SecondsOf(const std::function<void()>& what) {
  const auto start = steady_clock::now();
  what();
  return std::chrono::duration<double>(steady_clock::now() - start).count();
}

double QuantileOf(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
}

void Print(std::string_view what, double seconds, double limit_seconds) {
  fmt::print("{:<44} {:8.3f} s   limit {:7.3f} s   {:5.2f} x\n", what, seconds, limit_seconds,
             seconds / limit_seconds);
  std::fflush(stdout);
}

// What the founder of the made-up cooperative needs to talk to its server.
struct Founder {
  sync::Credentials credentials{};
  Hash authority{};
};

// The same records, all stamped with one time: the server's clock is not the generator's.
std::string Restamped(const std::string& records, std::int64_t time_ms) {
  std::string stamped;
  stamped.reserve(records.size());
  for (facts::ArrivalReader reader(records); !reader.at_end();) {
    facts::ArrivalView arrival = Must(reader.Next());
    arrival.time_ms = time_ms;
    facts::AppendArrival(stamped, arrival);
  }
  return stamped;
}

// Appends records to the store of a server that is stopped.
void Append(const std::filesystem::path& database, const std::string& records) {
  const std::unique_ptr<store::Store> store =
      Must(store::Store::Open(database, store::Access::kReadWrite));
  replica::Ledger ledger(*store);
  facts::Range range{.before = store->point()};
  Must(facts::ReadOnto(range, Restamped(records, device::SystemClock().NowMillis())));
  const double seconds =
      SecondsOf([&] { Must(ledger.Append(range, std::nullopt, store::Durability::kSynced)); });
  fmt::print("server loaded: {} arrivals checked, folded and stored in {:.3f} s\n",
             range.arrivals.size(), seconds);
  Must(store->Flush());
}

// Gives a fresh server the generated log: claims it with the founding commit, then appends the rest
// to its store while it is stopped.
Founder Load(e2e::Server& server, const GeneratedLog& log) {
  server.Start();
  const sync::InviteCode code = Must(sync::ParseInviteCode(server.claim_code()));
  facts::ArrivalReader reader(log.founding);
  const facts::ArrivalView founding = Must(reader.Next());
  const device::SecretKey tls = device::SecretKey::Generate();
  Founder founder{.credentials = {.address = server.address()}, .authority = code.authority};
  founder.credentials.authority_pem = Must(sync::FetchAuthority(server.address(), code.authority));
  founder.credentials.certificate_pem = Must(sync::Claim(
      founder.credentials, code.secret,
      {.bytes = std::string(founding.commit), .signature = *founding.signature}, tls.public_key()));
  founder.credentials.key_pem = tls.Pem();
  BP_CHECK(server.Stop() == 0);

  Append(server.data() / "database", log.records);
  server.Start();
  return founder;
}

std::string OpenCode(const GeneratedLog& log, std::size_t which, const e2e::Server& server,
                     const Hash& authority) {
  return sync::BuildInviteCode({.cooperative = log.cooperative,
                                .authority = authority,
                                .secret = log.open_secrets.at(which),
                                .address = server.address()});
}

// How many arrivals a follower has folded, to be waited for.
class Arrivals {
 public:
  void Set(std::uint64_t count) {
    const std::lock_guard lock(mutex_);
    count_ = count;
    changed_.notify_all();
  }
  void WaitFor(std::uint64_t count) {
    std::unique_lock lock(mutex_);
    BP_CHECK(changed_.wait_for(lock, std::chrono::seconds(30), [&] { return count_ >= count; }));
  }

 private:
  std::mutex mutex_;  // guards count_
  std::condition_variable changed_;
  std::uint64_t count_ = 0;
};

// The founder's device, on a stream of its own.
class Writer {
 public:
  Writer(const sync::Credentials& credentials, const Hash& cooperative, const std::string& seed)
      : key_(device::SecretKey::OfSeed(seed)),
        cooperative_(cooperative),
        stub_(v1::SyncService::NewStub(
            Must(sync::Connect(credentials, device::SystemClock().NowMillis())))),
        stream_(stub_->Sync(&context_)) {
    // From the server's head on: this writer wants no chunks but the acknowledgements.
    v1::SyncRequest hello;
    hello.mutable_hello()->set_cooperative_id(std::string(ViewOf(cooperative)));
    hello.mutable_hello()->set_incarnation(1);
    BP_CHECK(stream_->Write(hello));
    v1::SyncResponse welcome;
    BP_CHECK(stream_->Read(&welcome) && welcome.has_welcome());
    head_ = {.seq = welcome.welcome().chain_seq(),
             .hash = *HashOfBytes(welcome.welcome().chain_hash())};
    arrivals_ = welcome.welcome().head().arrivals();
    reader_ = std::jthread([this] {
      for (v1::SyncResponse response; stream_->Read(&response);) {
      }
    });
  }
  ~Writer() {
    context_.TryCancel();
    reader_.join();
    stream_->Finish();
  }
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;

  std::uint64_t arrivals() const { return arrivals_; }

  void Push(std::uint64_t number) {
    const facts::CommitHeader header{.cooperative = cooperative_,
                                     .device = DeviceOf(key_.public_key()),
                                     .incarnation = 1,
                                     .seq = head_.seq + 1,
                                     .prev = head_.hash,
                                     .clock_ms = 1};
    const std::string bytes = facts::BuildCommit(
        header, {facts::GroupEntry{.group = device::FreshId<GroupId>(device::SystemRandomness()),
                                   .name = fmt::format("live-{:05}", number),
                                   .taxon = "Exemplum vivum"}});
    const Hash hash = Sha256(bytes);
    v1::SyncRequest request;
    request.mutable_push()->add_commits(bytes);
    request.mutable_push()->set_signature(std::string(ViewOf(facts::SignCommit(key_, hash))));
    BP_CHECK(stream_->Write(request));
    head_ = {.seq = header.seq, .hash = hash};
    ++arrivals_;
  }

 private:
  device::SecretKey key_;
  Hash cooperative_;
  grpc::ClientContext context_;
  std::unique_ptr<v1::SyncService::Stub> stub_;
  std::unique_ptr<grpc::ClientReaderWriter<v1::SyncRequest, v1::SyncResponse>> stream_;
  std::jthread reader_;
  facts::ChainHead head_;
  std::uint64_t arrivals_ = 0;
};

class Bench {
 public:
  explicit Bench(const Sizes& sizes)
      : sizes_(sizes), folder_("broodpact-bench"), server_(folder_.path() / "server") {}

  void Run() {
    fmt::print("generating {} commits\n", sizes_.commits);
    log_ = Generate({.commits = sizes_.commits, .open_invitations = sizes_.first_syncs});
    limit_ = MeasureLimit(log_.founding + log_.records, 1'000, Syncs::kLastBatch,
                          folder_.path() / "limit");
    fmt::print("{} commits, {} animals, {:.0f} bytes a commit\n", log_.arrivals, log_.animals,
               static_cast<double>(log_.commit_bytes) / static_cast<double>(log_.arrivals));
    fmt::print("limit: hash {:.3f} s, parse {:.3f} s, write {:.3f} s\n", limit_.hashing,
               limit_.parsing, limit_.writing);
    founder_ = Load(server_, log_);
    FirstSync();
    ColdStarts();
    Questions();
    Push();
    Live();
    server_.Stop();
  }

 private:
  replica::Surroundings surroundings() const {
    return {device::SystemClock(), device::SystemRandomness()};
  }
  std::unique_ptr<replica::Replica> Open(const std::filesystem::path& home, store::Access access) {
    return Must(replica::Replica::Open(replica::Home(home), access, surroundings()));
  }

  void FirstSync() {
    std::vector<double> rounds;
    for (std::uint32_t i = 0; i < sizes_.first_syncs; ++i) {
      const std::string code = OpenCode(log_, i, server_, founder_.authority);
      keeper_.emplace(folder_.path(), fmt::format("nela-{}", i));
      rounds.push_back(SecondsOf([&] { keeper_->Do({"join", code}); }));
    }
    const double seconds = QuantileOf(rounds, 0.5);
    Print("first sync, whole process, median", seconds, limit_.total());
    const double all_keys =
        MeasureRawWrite(keeper_->home() / "replica" / "db", folder_.path() / "limit");
    Print("  with state and indexes in the limit", seconds,
          limit_.hashing + limit_.parsing + all_keys);
  }

  void ColdStarts() {
    for (const std::vector<std::string>& words : std::vector<std::vector<std::string>>{
             {"status"}, {"keeper", "list"}, {"find", "male", "--group", log_.busiest_group}}) {
      std::vector<double> seconds;
      for (int i = 0; i < 21; ++i) seconds.push_back(SecondsOf([&] { keeper_->Do(words); }));
      Print(fmt::format("cold start: {}", fmt::join(words, " ")), QuantileOf(seconds, 0.5), 0.040);
    }
  }

  void Questions() {
    const auto replica = Open(keeper_->home(), store::Access::kReadOnly);
    const replica::View view(replica->view(), replica->identity().keeper, &replica->view());
    replica::MaleQuery query{.day = replica->clock().Today()};
    query.group = Must(view.GroupNamed(log_.busiest_group));
    if (!log_.some_female.empty()) query.female = Must(view.AnimalNamed(log_.some_female));
    std::vector<double> seconds;
    int found = 0;
    for (int i = 0; i < 51; ++i) {
      seconds.push_back(SecondsOf([&] { found = Must(view.FindMales(query)).matches_size(); }));
    }
    Print(fmt::format("find male, in the process, {} found", found), QuantileOf(seconds, 0.5),
          0.010);
    seconds.clear();
    for (int i = 0; i < 51; ++i) {
      seconds.push_back(SecondsOf([&] {
        std::vector<std::string> entries = Must(replica->store().IndexEntries("g", 500));
        std::vector<registry::SubjectKey> keys;
        for (const std::string& entry : entries) {
          keys.push_back({registry::Kind::kAnimal, registry::IdOfEntry(entry)});
        }
        BP_CHECK(keys.size() == 500 && Must(replica->store().Subjects(keys)).size() == 500);
      }));
    }
    Print("500 rows by an index", QuantileOf(seconds, 0.5), 0.003);
  }

  void Push() {
    std::string records;
    {
      const auto replica = Open(keeper_->home(), store::Access::kReadWrite);
      const replica::View view(replica->view(), replica->identity().keeper, &replica->view());
      const GroupId group = Must(view.GroupNamed(log_.busiest_group));
      for (std::uint64_t i = 0; i < sizes_.push; ++i) {
        Must(replica->Act({facts::AnimalEntry{.animal = device::FreshId<AnimalId>(randomness()),
                                              .group = group,
                                              .name = fmt::format("offline-{:05}", i),
                                              .sex = facts::Sex::kFemale}}));
      }
      for (const store::PendingCommit& pending : Must(replica->store().Pending())) {
        facts::AppendArrival(
            records,
            {.commit = pending.commit.bytes, .time_ms = 1, .signature = pending.commit.signature});
      }
    }
    // A push is acknowledged when it is durable.
    const Limit limit =
        MeasureLimit(records, sync::kPushCommitsMax, Syncs::kEveryBatch, folder_.path() / "limit");
    Print(fmt::format("push of {} offline commits, whole process", sizes_.push),
          SecondsOf([&] { keeper_->Do({"sync"}); }), limit.total());
  }

  static device::Randomness& randomness() { return device::SystemRandomness(); }

  // A follower in this process, and a writer that pushes one commit after the other over a stream
  // of its own: from the push to the follower's durable fold.
  void Live() {
    const auto replica = Open(keeper_->home(), store::Access::kReadWrite);
    Arrivals seen;
    std::stop_source stop;
    std::jthread follower([&] {
      sync::Options options;
      options.mode = sync::Mode::kFollow;
      options.now_ms = device::SystemClock().NowMillis();
      options.stop = stop.get_token();
      options.on_progress = [&](const sync::Progress& progress) { seen.Set(progress.arrivals); };
      Must(replica->Sync(options));
    });
    Writer writer(founder_.credentials, log_.cooperative, FounderSeed(1));
    seen.WaitFor(writer.arrivals());
    std::vector<double> seconds;
    for (std::uint64_t i = 0; i < sizes_.live; ++i) {
      const std::uint64_t next = writer.arrivals() + 1;
      seconds.push_back(SecondsOf([&] {
        writer.Push(i);
        seen.WaitFor(next);
      }));
    }
    stop.request_stop();
    follower.join();
    const double syncs = 2 * MedianSync(folder_.path(), 1'024);
    Print("live commit, median, beyond two fsyncs", QuantileOf(seconds, 0.5) - syncs, 0.002);
    Print("live commit, p99, beyond two fsyncs", QuantileOf(seconds, 0.99) - syncs, 0.008);
  }

  Sizes sizes_;
  e2e::Folder folder_;
  e2e::Server server_;
  GeneratedLog log_;
  Limit limit_;
  Founder founder_;
  std::optional<e2e::Keeper> keeper_;
};

}  // namespace
}  // namespace broodpact::bench

int main(int argc, char** argv) {
  CLI::App app("Times the main job with real processes, against the limit of the same run");
  broodpact::bench::Sizes sizes;
  app.add_option("--commits", sizes.commits, "Commits on the server")->capture_default_str();
  app.add_option("--push", sizes.push, "Offline commits to push")->capture_default_str();
  app.add_option("--live", sizes.live, "Live commits to time")->capture_default_str();
  app.add_option("--first-syncs", sizes.first_syncs, "First syncs to time")
      ->check(CLI::PositiveNumber)
      ->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  broodpact::bench::Bench(sizes).Run();
  return 0;
}
