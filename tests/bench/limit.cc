#include "tests/bench/limit.h"

#include <algorithm>
#include <chrono>
#include <memory>
#include <vector>

#include <google/protobuf/arena.h>
#include <rocksdb/db.h>
#include <rocksdb/write_batch.h>

#include "broodpact/v1/commit.pb.h"
#include "client/base/check.h"
#include "client/base/hash.h"
#include "client/facts/arrival.h"
#include <fcntl.h>
#include <unistd.h>

namespace broodpact::bench {
namespace {

class Stopwatch {
 public:
  double Seconds() const {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
  }

 private:
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

std::vector<std::string_view> CommitsIn(const std::string& records) {
  std::vector<std::string_view> commits;
  for (facts::ArrivalReader reader(records); !reader.at_end();) {
    const auto arrival = reader.Next();
    BP_CHECK(arrival.ok());
    commits.push_back(arrival->commit);
  }
  return commits;
}

double TimeHashing(const std::vector<std::string_view>& commits) {
  const Stopwatch watch;
  unsigned sum = 0;
  for (const std::string_view commit : commits) sum += Sha256(commit)[0];
  BP_CHECK(sum > 0 || commits.empty());
  return watch.Seconds();
}

double TimeParsing(const std::vector<std::string_view>& commits) {
  const Stopwatch watch;
  for (const std::string_view bytes : commits) {
    v1::Commit commit;
    BP_CHECK(commit.ParseFromArray(bytes.data(), static_cast<int>(bytes.size())));
  }
  return watch.Seconds();
}

double TimeWriting(const std::vector<std::string_view>& commits,
                   const std::filesystem::path& scratch) {
  rocksdb::Options options;
  options.create_if_missing = true;
  rocksdb::DB* opened = nullptr;
  BP_CHECK(rocksdb::DB::Open(options, scratch.string(), &opened).ok());
  const std::unique_ptr<rocksdb::DB> db(opened);
  const Stopwatch watch;
  constexpr std::size_t kBatch = 1'000;
  for (std::size_t first = 0; first < commits.size(); first += kBatch) {
    rocksdb::WriteBatch batch;
    const std::size_t last = std::min(first + kBatch, commits.size());
    for (std::size_t i = first; i < last; ++i) {
      std::string key(8, '\0');
      for (int b = 0; b < 8; ++b)
        key[static_cast<std::size_t>(b)] = static_cast<char>(i >> (56 - 8 * b));
      BP_CHECK(batch.Put(key, rocksdb::Slice(commits[i].data(), commits[i].size())).ok());
    }
    rocksdb::WriteOptions write;
    write.sync = last == commits.size();
    BP_CHECK(db->Write(write, &batch).ok());
  }
  return watch.Seconds();
}

}  // namespace

Limit MeasureLimit(const std::string& records, const std::filesystem::path& scratch) {
  const std::vector<std::string_view> commits = CommitsIn(records);
  Limit best;
  for (int round = 0; round < 3; ++round) {
    const Limit limit{.hashing = TimeHashing(commits),
                      .parsing = TimeParsing(commits),
                      .writing = TimeWriting(commits, scratch)};
    std::filesystem::remove_all(scratch);
    if (round == 0 || limit.total() < best.total()) best = limit;
  }
  return best;
}

double MedianSync(const std::filesystem::path& folder, std::size_t bytes) {
  const std::filesystem::path path = folder / "sync-probe";
  const int file = open(path.c_str(), O_CREAT | O_WRONLY | O_TRUNC, 0600);
  BP_CHECK(file >= 0);
  const std::string block(bytes, 'x');
  std::vector<double> seconds;
  for (int i = 0; i < 201; ++i) {
    const Stopwatch watch;
    BP_CHECK(write(file, block.data(), block.size()) == static_cast<ssize_t>(block.size()));
    BP_CHECK(fdatasync(file) == 0);
    seconds.push_back(watch.Seconds());
  }
  close(file);
  std::filesystem::remove(path);
  std::nth_element(seconds.begin(), seconds.begin() + 100, seconds.end());
  return seconds[100];
}

}  // namespace broodpact::bench
