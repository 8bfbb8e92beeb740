#pragma once

// A bundle: a file of commits, for exchange without a network.
//
//   bundle   = "broodpact bundle 1\n" block{1 ..} end
//   block    = kind(1) size(4) packed check(8)      kind: a letter; size: bytes of packed
//   packed   = zstd of the block's bytes, of which there are at most 4,194,304
//   end      = 'E' 0(4) check(8)
//   check    = the first 8 bytes of SHA-256(check before, kind, size, packed); before the first
//              block: zeros
//
// Numbers of fixed size are big-endian; what is in a block is in the encoding of base/bytes.h. Each
// check covers all that is before it, so whatever was read is whole and in order, and a file that
// was cut short is good up to the cut. A check is against mistakes, not against people: commits and
// heads carry signatures.
//
//   'H' first, once:  cooperative(32) writer's device(16) time
//   'F' once:         arrivals log-hash(32) { device(16) incarnation seq hash(32) }*
//                     Where that is more than a block, several in a row, alike but for the chains:
//                     each has some of them. Who reads the first alone is only sent too much.
//   'P' at most once: the losses that the server has told: epochs (sync/epoch.h); before any 'S'
//   'S' any number:   epoch arrivals log-hash(32) tree-root(32) time signature(64) server-key(32)
//   'L' any number:   arrivals before, then arrival records (facts/arrival.h); in order of the log
//   'M' any number:   { commit as a text, signature(64) }*; commits of one chain in its order
//
// Kinds that a reader does not know are passed over. Memory is bounded by one block, whatever the
// file holds.

#include <cstdint>
#include <istream>
#include <optional>
#include <ostream>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/chain.h"
#include "client/facts/commit.h"
#include "client/sync/epoch.h"
#include "client/sync/head.h"

namespace broodpact::sync {

inline constexpr std::size_t kBundleBlockBytesMax = 4'194'304;

// Whose bundle it is.
struct BundleHeader {
  Hash cooperative{};
  DeviceId writer{};
  std::int64_t time_ms = 0;

  friend bool operator==(const BundleHeader&, const BundleHeader&) = default;
};

// What its writer has: arrivals, and the newest commit of each chain, delivered or not.
struct BundleFrontier {
  facts::LogPoint point{};
  std::vector<std::pair<facts::ChainId, facts::ChainHead>> chains{};

  friend bool operator==(const BundleFrontier&, const BundleFrontier&) = default;
};

// A part of the log.
struct BundleLog {
  std::uint64_t arrivals_before = 0;
  std::string records{};

  friend bool operator==(const BundleLog&, const BundleLog&) = default;
};

// Writes a bundle block by block.
class BundleWriter {
 public:
  // Writes the beginning. `out` is binary, and outlives the writer.
  BundleWriter(std::ostream& out, const BundleHeader& header);

  // As one block, or as several where it does not fit into one.
  void Add(const BundleFrontier& frontier);
  void Add(const Epochs& epochs);
  void Add(const Head& head);
  // At most kBundleBlockBytesMax.
  void Add(const BundleLog& log);
  void Add(const std::vector<facts::SignedCommit>& mail);

  // Writes the end. Whether all was written is for `out` to say.
  void Finish();

 private:
  void Write(char kind, std::string_view bytes);
  void WriteBlock(char kind, std::string_view packed);

  std::ostream& out_;
  std::string check_;
};

// One block, as read: one of these is present, or none where its kind is a newer one.
struct BundleBlock {
  std::optional<BundleHeader> header{};
  std::optional<BundleFrontier> frontier{};  // or a part of it: the chains may go on in the next
  Epochs epochs{};                           // their signatures have not been checked
  std::optional<Head> head{};                // its signature has not been checked
  std::optional<BundleLog> log{};
  std::vector<facts::SignedCommit> mail{};
};

// Reads a bundle block by block. Nothing that it returns has been believed: signatures are the
// caller's to check.
class BundleReader {
 public:
  // `in` is binary, and outlives the reader.
  explicit BundleReader(std::istream& in) : in_(in) {}

  // The next block; nothing after the end.
  // Errors: INVALID_ARGUMENT with reason BUNDLE_FORM (no bundle, or of a newer version); DATA_LOSS
  // with reason BUNDLE_CUT (it ends before its end), BUNDLE_DAMAGED (a check or a block does not
  // hold); RESOURCE_EXHAUSTED with reason BUNDLE_TOO_LARGE (a block unpacks to more than
  // kBundleBlockBytesMax). What was returned before stays good.
  absl::StatusOr<std::optional<BundleBlock>> Next();

 private:
  absl::Status ReadBeginning();
  // What a block of this kind says, once its check holds.
  absl::StatusOr<std::optional<BundleBlock>> BlockIn(char kind, std::string_view packed);

  std::istream& in_;
  std::string check_;
  bool begun_ = false;
  bool ended_ = false;
  bool has_header_ = false;
  bool has_epochs_ = false;
  bool has_head_ = false;
};

}  // namespace broodpact::sync
