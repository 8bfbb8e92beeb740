// Any bytes as a commit: an error with a reason, or a commit that can be built and read again to
// the same values. Never a crash.

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <variant>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/facts/commit.h"

namespace facts = broodpact::facts;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto commit = facts::ParseCommit({reinterpret_cast<const char*>(data), size});
  if (!commit.ok()) {
    BP_CHECK(!broodpact::ReasonOf(commit.status()).empty());
    return 0;
  }
  // An unknown kind cannot be built anew.
  const auto is_unknown = [](const facts::Statement& statement) {
    return std::holds_alternative<facts::Unknown>(statement);
  };
  if (std::ranges::any_of(commit->statements, is_unknown)) return 0;
  const auto again = facts::ParseCommit(facts::BuildCommit(commit->header, commit->statements));
  BP_CHECK(again.ok());
  BP_CHECK(again->header == commit->header && again->statements == commit->statements);
  return 0;
}
