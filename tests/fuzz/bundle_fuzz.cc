// Any bytes as a bundle, and any blocks whose checks hold: blocks, then an end or an error with a
// reason. Never a crash, and never more in memory than one block.
//
// The bytes are read as a file, and as [length, two bytes, the lower first][kind][a block's bytes]
// again and again: what somebody writes who means no good.

#include <cstddef>
#include <cstdint>
#include <sstream>
#include <string>
#include <string_view>

#include "client/base/check.h"
#include "client/base/hash.h"
#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/sync/bundle.h"
#include "client/sync/chunk.h"
#include "tests/fuzz/pieces.h"

namespace session = broodpact::sync;  // "sync" is a function of the system

namespace {

void CheckBlock(const session::BundleBlock& block) {
  BP_CHECK(block.epochs.size() <= session::kEpochsMax);
  std::size_t bytes = 0;
  for (const auto& commit : block.mail) bytes += commit.bytes.size();
  BP_CHECK(bytes <= session::kBundleBlockBytesMax);
  if (!block.log) return;
  broodpact::facts::ArrivalReader arrivals(block.log->records);
  while (!arrivals.at_end()) {
    const auto arrival = arrivals.Next();
    if (arrival.ok()) continue;
    BP_CHECK(!broodpact::ReasonOf(arrival.status()).empty());
    return;
  }
}

void Read(const std::string& file) {
  std::istringstream in(file);
  session::BundleReader reader(in);
  while (true) {
    const auto block = reader.Next();
    if (!block.ok()) {
      BP_CHECK(!broodpact::ReasonOf(block.status()).empty());
      return;
    }
    if (!*block) return;
    CheckBlock(**block);
  }
}

// The frame of bundle.h around a block.
void AppendBlock(std::string& file, std::string& check, char kind, std::string_view packed) {
  std::string frame(1, kind);
  for (int shift = 24; shift >= 0; shift -= 8) {
    frame.push_back(static_cast<char>((packed.size() >> shift) & 0xFFU));
  }
  check = std::string(broodpact::ViewOf(broodpact::Sha256({check, frame, packed})).substr(0, 8));
  file.append(frame).append(packed).append(check);
}

std::string FileOf(std::string_view blocks) {
  std::string file = "broodpact bundle 1\n";
  std::string check(8, '\0');
  while (blocks.size() >= 2) {
    const std::string_view piece = broodpact::fuzz::TakePiece(blocks);
    if (piece.empty() || piece.front() == 'E') continue;
    AppendBlock(file, check, piece.front(), session::PackRecords(piece.substr(1)));
  }
  AppendBlock(file, check, 'E', "");
  return file;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  Read(bytes);
  Read(FileOf(bytes));
  return 0;
}
