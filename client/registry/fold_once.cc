// What counts does so once: whether a commit comes by itself, adopted or stated again, and in which
// order. After a server lost a part of its log, the same work comes by several ways.

#include <algorithm>
#include <string>

#include "fmt/core.h"

#include "client/base/bytes.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CountsByItself(std::uint64_t arrival) {
  return Superseded("ALREADY_ARRIVED",
                    arrival == 0 ? "this waits to arrive by itself, and counts so"
                                 : fmt::format("this has arrived by itself (arrival {}), and "
                                               "counts as it arrived",
                                               arrival),
                    arrival);
}

Finding CountsAsBranch(std::uint64_t arrival) {
  return Superseded("ALREADY_RESTATED",
                    fmt::format("this has been adopted or stated again before{}, and counts by "
                                "that",
                                arrival == 0 ? "" : fmt::format(" (arrival {})", arrival)),
                    arrival);
}

Stretch& EditStretch(Case& c) {
  if (c.state.Find<Stretch>(c.stretch) == nullptr) return c.state.Create<Stretch>(c.stretch);
  return c.state.Edit<Stretch>(c.stretch);
}

}  // namespace

IdBytes StretchOf(const facts::CommitHeader& header) {
  std::string place;
  ByteWriter writer(place);
  writer.Unsigned(header.incarnation);
  writer.Unsigned(header.seq / kStretchPlaces);
  return FirstHalf<Token>(Sha256({ViewOf(header.device.bytes), "stretch", place})).bytes;
}

Finding CheckOnce(Case& c) {
  const facts::Commit& commit = c.arrived.commit;
  const Stretch* stretch = c.state.Find<Stretch>(c.stretch);
  if (stretch == nullptr) return std::nullopt;
  const Token token = commit.token();
  const auto counted = std::find_if(stretch->counted.begin(), stretch->counted.end(),
                                    [&](const CountedCommit& one) { return one.token == token; });
  if (counted != stretch->counted.end()) return CountsByItself(counted->arrival);
  if (stretch->told == 0) return std::nullopt;
  const Branch* branch = c.state.Find<Branch>(token.bytes);
  return branch == nullptr ? std::nullopt : CountsAsBranch(branch->entry.arrival);
}

void NoteCounted(Case& c) {
  EditStretch(c).counted.push_back(
      {.token = c.arrived.commit.token(), .arrival = c.arrived.arrival});
}

Finding EnterBranch(Case& c) {
  if (Finding f = CheckOnce(c)) return f;
  const facts::Commit& told = c.arrived.commit;
  Branch& branch = c.state.Create<Branch>(told.token().bytes);
  branch.device = told.header.device;
  branch.incarnation = told.header.incarnation;
  branch.seq = told.header.seq;
  branch.commit = told.hash;
  branch.entry = c.entry;
  ++EditStretch(c).told;
  return std::nullopt;
}

}  // namespace broodpact::registry
