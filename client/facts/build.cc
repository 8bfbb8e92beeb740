#include "client/facts/internal/build.h"

#include <type_traits>
#include <variant>

#include "broodpact/v1/commit.pb.h"
#include "client/base/check.h"
#include "client/facts/commit.h"

namespace broodpact::facts {
namespace {

using internal::FieldOf;

void BuildStatement(const Statement& from, v1::Statement& to) {
  std::visit(
      [&to](const auto& kind) {
        if constexpr (std::is_same_v<decltype(kind), const Unknown&>) {
          // Kept and relayed with the bytes of its commit: nobody writes it anew.
          BP_CHECK(false);
        } else {
          internal::Build(kind, to);
        }
      },
      from);
}

}  // namespace

std::string BuildCommit(const CommitHeader& header, const std::vector<Statement>& statements) {
  v1::Commit commit;
  if (header.cooperative != Hash{}) commit.set_cooperative_id(FieldOf(header.cooperative));
  commit.set_device_id(FieldOf(header.device));
  commit.set_incarnation(header.incarnation);
  commit.set_seq(header.seq);
  if (header.prev != Hash{}) commit.set_prev(FieldOf(header.prev));
  commit.set_seen_arrivals(header.seen.arrivals);
  if (header.seen.arrivals > 0) commit.set_seen_hash(FieldOf(header.seen.log_hash));
  commit.set_clock_ms(header.clock_ms);
  for (const Statement& statement : statements) BuildStatement(statement, *commit.add_statements());
  return commit.SerializeAsString();
}

}  // namespace broodpact::facts
