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

std::unique_ptr<rocksdb::DB> EmptyDatabase(const std::filesystem::path& scratch) {
  rocksdb::Options options;
  options.create_if_missing = true;
  rocksdb::DB* opened = nullptr;
  BP_CHECK(rocksdb::DB::Open(options, scratch.string(), &opened).ok());
  return std::unique_ptr<rocksdb::DB>(opened);
}

struct Pair {
  std::string key;
  std::string value;
};

double TimeWriting(const std::vector<Pair>& pairs, std::size_t batch_size, Syncs syncs,
                   const std::filesystem::path& scratch) {
  const std::unique_ptr<rocksdb::DB> db = EmptyDatabase(scratch);
  const Stopwatch watch;
  for (std::size_t first = 0; first < pairs.size(); first += batch_size) {
    rocksdb::WriteBatch batch;
    const std::size_t last = std::min(first + batch_size, pairs.size());
    for (std::size_t i = first; i < last; ++i) {
      BP_CHECK(batch.Put(pairs[i].key, pairs[i].value).ok());
    }
    rocksdb::WriteOptions write;
    write.sync = syncs == Syncs::kEveryBatch || last == pairs.size();
    BP_CHECK(db->Write(write, &batch).ok());
  }
  return watch.Seconds();
}

// The commits under their places in the log.
std::vector<Pair> PairsOf(const std::vector<std::string_view>& commits) {
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < commits.size(); ++i) {
    std::string key(8, '\0');
    for (std::size_t b = 0; b < key.size(); ++b) key[b] = static_cast<char>(i >> (56 - 8 * b));
    pairs.push_back({.key = std::move(key), .value = std::string(commits[i])});
  }
  return pairs;
}

// All that a database holds. The keys of two parts may be the same, so each gets its part's number.
std::vector<Pair> PairsIn(const std::filesystem::path& database) {
  std::vector<std::string> names;
  BP_CHECK(rocksdb::DB::ListColumnFamilies({}, database.string(), &names).ok());
  std::vector<rocksdb::ColumnFamilyDescriptor> parts;
  for (const std::string& name : names) parts.emplace_back(name, rocksdb::ColumnFamilyOptions());
  std::vector<rocksdb::ColumnFamilyHandle*> handles;
  rocksdb::DB* opened = nullptr;
  rocksdb::DBOptions reading;
  // As the database was written: without it, RocksDB 7.8 fails an assertion over log files that
  // are tracked and still there.
  reading.track_and_verify_wals_in_manifest = true;
  BP_CHECK(rocksdb::DB::OpenForReadOnly(reading, database.string(), parts, &handles, &opened).ok());
  const std::unique_ptr<rocksdb::DB> db(opened);
  std::vector<Pair> pairs;
  for (rocksdb::ColumnFamilyHandle* handle : handles) {
    rocksdb::ReadOptions everything;
    everything.total_order_seek = true;
    const std::unique_ptr<rocksdb::Iterator> iterator(db->NewIterator(everything, handle));
    for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
      std::string key(1, static_cast<char>(handle->GetID()));
      key.append(iterator->key().data(), iterator->key().size());
      pairs.push_back({.key = std::move(key), .value = iterator->value().ToString()});
    }
  }
  for (rocksdb::ColumnFamilyHandle* handle : handles) delete handle;
  return pairs;
}

}  // namespace

Limit MeasureLimit(const std::string& records, std::size_t batch, Syncs syncs,
                   const std::filesystem::path& scratch) {
  const std::vector<std::string_view> commits = CommitsIn(records);
  const std::vector<Pair> pairs = PairsOf(commits);
  Limit best;
  for (int round = 0; round < 3; ++round) {
    const Limit limit{.hashing = TimeHashing(commits),
                      .parsing = TimeParsing(commits),
                      .writing = TimeWriting(pairs, batch, syncs, scratch)};
    std::filesystem::remove_all(scratch);
    if (round == 0 || limit.total() < best.total()) best = limit;
  }
  return best;
}

double MeasureRawWrite(const std::filesystem::path& database,
                       const std::filesystem::path& scratch) {
  constexpr std::size_t kBatch = 1'000;
  const double seconds = TimeWriting(PairsIn(database), kBatch, Syncs::kLastBatch, scratch);
  std::filesystem::remove_all(scratch);
  return seconds;
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
