#include "client/facts/chain.h"

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::facts {
namespace {

std::string NameOf(const CommitHeader& header) {
  return fmt::format("commit {} of device {} (life {})", header.seq, ToShortText(header.device),
                     header.incarnation);
}

absl::Status Fork(const CommitHeader& header, std::string_view wrong) {
  return Fail(absl::StatusCode::kFailedPrecondition, "CHAIN_FORK",
              fmt::format("{} {}; the device was copied or restored, start a new life of it",
                          NameOf(header), wrong));
}

}  // namespace

absl::Status CheckFollows(const ChainHead& head, const Commit& commit) {
  const CommitHeader& header = commit.header;
  if (header.seq <= head.seq) return Fork(header, "comes where another stands already");
  if (header.seq - 1 > head.seq) {
    return Fail(absl::StatusCode::kFailedPrecondition, "CHAIN_HOLE",
                fmt::format("{} comes after {}; fetch the commits in between first", NameOf(header),
                            head.seq));
  }
  const Hash due = head.seq == 0 ? Hash{} : head.hash;
  if (header.prev == due) return absl::OkStatus();
  if (header.prev == Hash{}) {
    return Fail(absl::StatusCode::kFailedPrecondition, "CHAIN_HOLE",
                fmt::format("{} does not name the commit before it", NameOf(header)));
  }
  return Fork(header, "follows on another commit than the one before it");
}

}  // namespace broodpact::facts
