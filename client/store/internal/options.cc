#include "client/store/internal/options.h"

#include <cstdarg>
#include <memory>
#include <string>

#include "rocksdb/env.h"
#include "rocksdb/filter_policy.h"
#include "rocksdb/slice_transform.h"
#include "rocksdb/table.h"

#include "client/registry/index.h"

namespace broodpact::store {
namespace {

constexpr std::size_t kMiB = std::size_t{1024} * 1024;

// One cache for all parts: a client reads a few hundred subjects at a time, and a server's hot
// subjects fit too. A 4 MiB cache made random reads twenty times slower, a 64 MiB one no faster.
constexpr std::size_t kBlockCacheBytes = 16 * kMiB;

// Bits a key of the bloom filters: one miss in a hundred reads a block.
constexpr int kBloomBits = 10;

// Takes no notes. RocksDB's own notes would cost every opening a file, would be renamed by readers
// under the writer, and end the process by an assertion when the disk is full.
class SilentLogger final : public rocksdb::Logger {
 public:
  using rocksdb::Logger::Logv;
  void Logv(const char* /*format*/, va_list /*arguments*/) override {}
};

// Filters index entries by the name that they are asked for: the fold asks for every animal that is
// entered whether its name is free, and nearly always it is.
class NameFilter final : public rocksdb::SliceTransform {
 public:
  const char* Name() const override { return "broodpact.NameFilter"; }
  rocksdb::Slice Transform(const rocksdb::Slice& entry) const override {
    return {entry.data(), registry::NameBytesOf({entry.data(), entry.size()})};
  }
  bool InDomain(const rocksdb::Slice& entry) const override {
    return registry::NameBytesOf({entry.data(), entry.size()}) > 0;
  }
};

// Share of a write buffer that its own bloom filter takes: ten bits for each of the 120 bytes and
// more that a key and a value take in it. It is zeroed at every opening, so not more than that.
constexpr double kBufferBloomShare = 0.01;

struct PartChoices {
  std::size_t write_buffer_bytes = 0;
  std::size_t block_bytes = std::size_t{4} * 1024;
  rocksdb::CompressionType compression = rocksdb::kLZ4Compression;
  bool bloom = false;
};

PartChoices ChoicesOf(Part part) {
  switch (part) {
    case Part::kLog:
      // Hashes, ids and signatures do not compress, and the values are blocks already.
      return {.write_buffer_bytes = 32 * kMiB,
              .block_bytes = std::size_t{16} * 1024,
              .compression = rocksdb::kNoCompression};
    case Part::kVerdicts:
    case Part::kMeta:
      return {.write_buffer_bytes = 4 * kMiB};
    case Part::kChains:
      return {.write_buffer_bytes = 8 * kMiB, .bloom = true};
    case Part::kState:
    case Part::kIndex:
      // The fold asks for many subjects and names that do not exist yet: the filter answers those.
      return {.write_buffer_bytes = 64 * kMiB, .bloom = true};
    case Part::kPending:
      return {.write_buffer_bytes = 8 * kMiB};
  }
  return {};
}

rocksdb::ColumnFamilyOptions PartOptions(Part part, const std::shared_ptr<rocksdb::Cache>& cache) {
  const PartChoices choices = ChoicesOf(part);
  rocksdb::BlockBasedTableOptions table;
  table.block_cache = cache;
  table.block_size = choices.block_bytes;
  // Debian's build computes the default checksum, CRC-32C, without the processor's instruction.
  table.checksum = rocksdb::kXXH3;
  table.whole_key_filtering = part != Part::kIndex;
  if (choices.bloom) table.filter_policy.reset(rocksdb::NewBloomFilterPolicy(kBloomBits));

  rocksdb::ColumnFamilyOptions options;
  options.table_factory.reset(rocksdb::NewBlockBasedTableFactory(table));
  options.compression = choices.compression;
  // What is asked for is mostly new, and what is new lies in the buffer: without a filter of its
  // own, each question walks a skip list of a hundred thousand keys.
  if (part == Part::kState) {
    options.memtable_whole_key_filtering = true;
    options.memtable_prefix_bloom_size_ratio = kBufferBloomShare;
  }
  if (part == Part::kIndex) {
    options.prefix_extractor = std::make_shared<NameFilter>();
    options.memtable_prefix_bloom_size_ratio = kBufferBloomShare;
  }
  options.write_buffer_size = choices.write_buffer_bytes;
  // A first sync fills buffers faster than one background thread empties them: it may run ahead.
  options.max_write_buffer_number = 4;
  // Files whose ranges do not fit together are an error at once, not a wrong answer later.
  options.force_consistency_checks = true;
  return options;
}

}  // namespace

rocksdb::DBOptions DatabaseOptions(Access access) {
  rocksdb::DBOptions options;
  options.create_if_missing = access == Access::kReadWrite;
  options.create_missing_column_families = access == Access::kReadWrite;
  options.paranoid_checks = true;

  // A torn last record is what a crash leaves: it was never acknowledged. Damage before the tail
  // is an error; the default mode would drop all that follows it, and say nothing.
  options.wal_recovery_mode = rocksdb::WALRecoveryMode::kTolerateCorruptedTailRecords;
  // A log file that was synced and is gone, or shorter, is an error at opening too.
  options.track_and_verify_wals_in_manifest = true;
  // One short command is one short log file. To flush each at the next opening would cost several
  // files and syncs a command; Store flushes when there is enough (see Store::~Store).
  options.avoid_flush_during_recovery = true;
  options.avoid_flush_during_shutdown = false;
  // Bounds what an opening replays after a crash in the middle of bulk writes.
  options.max_total_wal_size = 128 * kMiB;

  // An opening costs a command of a keeper milliseconds: no sizes and statistics of files, no
  // timer threads, and few threads for opening few files.
  options.skip_stats_update_on_db_open = true;
  options.skip_checking_sst_file_sizes_on_db_open = true;
  options.stats_dump_period_sec = 0;
  options.stats_persist_period_sec = 0;
  options.max_file_opening_threads = 1;
  // A reader opens all files at once, so that it keeps those that the writer beside it deletes.
  options.max_open_files = access == Access::kReadWrite ? 256 : -1;

  // State and index, the largest parts, are flushed side by side at the end of a first sync.
  options.max_background_flushes = 2;
  options.max_background_compactions = 1;
  // One thread writes: it need not share the work on the buffers, nor be able to.
  options.allow_concurrent_memtable_write = false;
  options.enable_write_thread_adaptive_yield = false;

  options.info_log = std::make_shared<SilentLogger>();
  return options;
}

std::vector<rocksdb::ColumnFamilyDescriptor> PartDescriptors() {
  const std::shared_ptr<rocksdb::Cache> cache = rocksdb::NewLRUCache(kBlockCacheBytes);
  std::vector<rocksdb::ColumnFamilyDescriptor> descriptors;
  for (std::size_t i = 0; i < kPartNames.size(); ++i) {
    descriptors.emplace_back(std::string(kPartNames.at(i)), PartOptions(Part{i}, cache));
  }
  descriptors.emplace_back(rocksdb::kDefaultColumnFamilyName, PartOptions(Part::kMeta, cache));
  return descriptors;
}

}  // namespace broodpact::store
