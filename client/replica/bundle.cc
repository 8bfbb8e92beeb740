#include "client/replica/bundle.h"

#include <algorithm>
#include <functional>
#include <map>
#include <optional>
#include <ostream>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/bundle_intake.h"
#include "client/replica/internal/bundle_survey.h"
#include "client/replica/internal/delivery.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/lost_log.h"
#include "client/replica/internal/mail.h"
#include "client/replica/internal/provisional.h"
#include "client/replica/internal/rep.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kMailBlockBytes = 1'048'576;

// Goes back to the beginning of a bundle.
absl::Status Rewind(std::istream& in) {
  in.clear();
  in.seekg(0);
  if (in) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "BUNDLE_FORM",
              "the bundle cannot be read twice; copy it to a file first");
}

// Hands out the blocks from where `in` is, up to the end or to one that cannot be read: what is
// before it is good, and `fault`, if any is wanted, says why. Errors: those of `visit`.
using VisitBlock = std::function<absl::Status(const sync::BundleBlock& block)>;
absl::Status EachBlock(std::istream& in, const VisitBlock& visit, absl::Status* fault = nullptr) {
  sync::BundleReader reader(in);
  while (true) {
    const auto block = reader.Next();
    if (!block.ok() && fault != nullptr) *fault = block.status();
    if (!block.ok() || !*block) return absl::OkStatus();
    BP_RETURN_IF_ERROR(visit(**block));
  }
}

void Count(const sync::BundleBlock& block, BundleReport& report) {
  if (block.header) report.header = *block.header;
  if (block.head) ++report.heads;
  report.mail += block.mail.size();
}

// Packs commits into blocks of a bundle. One that the next vouches for stays with it.
class MailPacker {
 public:
  // `writer` outlives this.
  explicit MailPacker(sync::BundleWriter& writer) : writer_(writer) {}

  void Add(const facts::SignedCommit& commit) {
    mail_.push_back(commit);
    bytes_ += commit.bytes.size();
    ++count_;
    const bool ends_run = commit.signature != Signature{};
    if (bytes_ >= (ends_run ? kMailBlockBytes : 2 * kMailBlockBytes)) Flush();
  }

  // Returns how many there were.
  std::uint64_t Finish() {
    if (!mail_.empty()) Flush();
    return count_;
  }

 private:
  void Flush() {
    writer_.Add(mail_);
    mail_.clear();
    bytes_ = 0;
  }

  sync::BundleWriter& writer_;
  std::vector<facts::SignedCommit> mail_;
  std::size_t bytes_ = 0;
  std::uint64_t count_ = 0;
};

void CountLog(const sync::BundleLog& log, BundleReport& report) {
  facts::ArrivalReader reader(log.records);
  std::uint64_t last = log.arrivals_before;
  while (!reader.at_end() && reader.Next().ok()) ++last;
  if (last == log.arrivals_before) return;
  if (report.arrivals_first == 0) report.arrivals_first = log.arrivals_before + 1;
  report.arrivals_last = last;
}

// Whether somebody who has come so far in those chains has the commit.
bool IsIn(const std::map<facts::ChainId, facts::ChainHead>& chains, const facts::Commit& commit) {
  const auto found = chains.find(facts::ChainOf(commit.header));
  if (found == chains.end()) return false;
  const facts::ChainHead& has = found->second;
  return commit.header.seq < has.seq || facts::HeadAfter(commit) == has;
}

// Adds the chains of the blocks that go on with the frontier, up to so many in all.
void JoinRest(sync::BundleReader& reader, std::size_t chains_max, sync::BundleFrontier& frontier) {
  auto& chains = frontier.chains;
  while (chains.size() < chains_max) {
    const auto next = reader.Next();
    if (!next.ok() || !*next || !(*next)->frontier) break;
    const sync::BundleFrontier& part = *(*next)->frontier;
    if (part.point != frontier.point) break;
    chains.insert(chains.end(), part.chains.begin(), part.chains.end());
  }
  if (chains.size() > chains_max) chains.resize(chains_max);
}

}  // namespace

absl::StatusOr<BundleReport> SurveyBundle(std::istream& in) {
  BundleReport report;
  sync::BundleReader reader(in);
  while (true) {
    BP_ASSIGN_OR_RETURN(const std::optional<sync::BundleBlock> block, reader.Next());
    if (!block) return report;
    Count(*block, report);
    if (block->log) CountLog(*block->log, report);
  }
}

absl::StatusOr<sync::BundleFrontier> FrontierIn(std::istream& in, std::size_t chains_max) {
  sync::BundleReader reader(in);
  while (true) {
    BP_ASSIGN_OR_RETURN(std::optional<sync::BundleBlock> block, reader.Next());
    if (block && block->frontier) {
      sync::BundleFrontier frontier = *std::move(block->frontier);
      JoinRest(reader, chains_max, frontier);
      return frontier;
    }
    if (!block) {
      return Fail(absl::StatusCode::kInvalidArgument, "BUNDLE_FORM",
                  "the bundle does not say what its writer has; write one without --for");
    }
  }
}

absl::StatusOr<BundleReport> Replica::WriteBundle(
    std::ostream& out, const std::optional<sync::BundleFrontier>& since) const {
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  BundleReport report;
  report.header = {.cooperative = cooperative(),
                   .writer = DeviceOf(rep_->identity.device_key),
                   .time_ms = rep_->clock.NowMillis()};
  sync::BundleWriter writer(out, report.header);
  BP_ASSIGN_OR_RETURN(const sync::BundleFrontier frontier, rep_->Frontier());
  writer.Add(frontier);
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(store()));
  if (!known.epochs.empty()) writer.Add(known.epochs);
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Head> head, LastHead());
  if (head && head->point.arrivals <= store().point().arrivals) {
    writer.Add(*head);
    report.heads = 1;
    BP_RETURN_IF_ERROR(rep_->WriteLog(writer, since, head->point.arrivals, report));
  }

  std::map<facts::ChainId, facts::ChainHead> theirs;
  if (since) theirs.insert(since->chains.begin(), since->chains.end());
  MailPacker mail(writer);
  // As whole runs: by the clock, commits of others would come between one and what vouches for it.
  for (const WaitingRun& run : RunsOf(undelivered())) {
    for (const Undelivered* one : run) {
      if (!IsIn(theirs, one->commit)) mail.Add(one->signed_commit);
    }
  }
  // Whoever has other commits at their places lacks them all the same.
  for (const facts::SignedCommit& one : rep_->aside) mail.Add(one);
  report.mail = mail.Finish();
  writer.Finish();
  return report;
}

absl::StatusOr<sync::BundleFrontier> Replica::Rep::Frontier() const {
  std::map<facts::ChainId, facts::ChainHead> heads;
  BP_ASSIGN_OR_RETURN(const std::vector<facts::ChainId> chains, store->Chains());
  for (const facts::ChainId& one : chains) {
    BP_ASSIGN_OR_RETURN(heads[one], store->HeadOf(one));
  }
  for (const Undelivered& one : undelivered) {
    facts::ChainHead& newest = heads[facts::ChainOf(one.commit.header)];
    if (one.commit.header.seq > newest.seq) newest = facts::HeadAfter(one.commit);
  }
  return sync::BundleFrontier{.point = store->point(), .chains = {heads.begin(), heads.end()}};
}

absl::Status Replica::Rep::WriteLog(sync::BundleWriter& writer,
                                    const std::optional<sync::BundleFrontier>& since,
                                    std::uint64_t last, BundleReport& report) const {
  std::uint64_t before = 0;
  if (since && since->point.arrivals <= last) {
    BP_ASSIGN_OR_RETURN(const Hash hash, store->LogHashAt(since->point.arrivals));
    // Who holds another log gets all of this one: then it shows where they part.
    if (hash == since->point.log_hash) before = since->point.arrivals;
  } else if (since) {
    return absl::OkStatus();
  }
  if (before < last) {
    report.arrivals_first = before + 1;
    report.arrivals_last = last;
  }
  while (before < last) {
    BP_ASSIGN_OR_RETURN(const store::LogSlice slice,
                        store->ReadLog(before, sync::kChunkBytesTarget));
    if (slice.count == 0) break;
    sync::BundleLog log{.arrivals_before = before, .records = slice.records};
    if (before + slice.count > last) {
      BP_ASSIGN_OR_RETURN(log.records, facts::FirstRecords(slice.records, last - before));
    }
    writer.Add(log);
    before += slice.count;
  }
  return absl::OkStatus();
}

absl::StatusOr<BundleReport> Replica::ReadBundle(std::istream& in) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  // Whether what a bundle carries has arrived is not known before the history is here.
  BP_RETURN_IF_ERROR(rep_->store->CheckHistory());
  const Hash ours = cooperative();
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Head> known, LastHead());
  BundleSurvey survey(*rep_->store, ours, known);
  absl::Status fault;  // what is before it is taken
  BP_RETURN_IF_ERROR(EachBlock(
      in, [&](const sync::BundleBlock& block) { return survey.Add(block); }, &fault));
  // Before the mail: what has arrived once is not to go out as new because this was cut off.
  BP_RETURN_IF_ERROR(rep_->KeepFindings(in, survey));
  BP_ASSIGN_OR_RETURN(BundleReport report, rep_->TakeBundle(in, survey));
  const std::optional<Doubt>& doubt = survey.doubt();
  if (doubt && !fault.ok()) return Annotate(ErrorOf(*doubt), std::string(fault.message()));
  if (doubt) return ErrorOf(*doubt);
  BP_RETURN_IF_ERROR(fault);
  return report;
}

absl::Status Replica::Rep::KeepFindings(std::istream& in, const BundleSurvey& survey) {
  if (survey.doubt()) BP_RETURN_IF_ERROR(KeepDoubt(*store, *survey.doubt()));
  if (!survey.lost_head()) return absl::OkStatus();
  BP_RETURN_IF_ERROR(Rewind(in));
  LostLogIntake lost(*store, *survey.lost_head());
  BP_RETURN_IF_ERROR(EachBlock(in, [&](const sync::BundleBlock& block) {
    return block.log ? lost.Add(*block.log) : absl::OkStatus();
  }));
  BP_ASSIGN_OR_RETURN(const LostLog found, lost.Finish());
  return KeepLostLog(*store, found);
}

absl::StatusOr<BundleReport> Replica::Rep::TakeBundle(std::istream& in,
                                                      const BundleSurvey& survey) {
  BP_RETURN_IF_ERROR(Rewind(in));
  BundleReport report;
  BundleLogIntake log(*ledger, chain(), survey.stages());
  const Hash ours = ledger->cooperative();
  MailIntake mail(*store, ours, OwnKey(), [this](const DeviceId& device) { return KeyOf(device); });
  BP_RETURN_IF_ERROR(mail.Load());
  BP_RETURN_IF_ERROR(ForgetProvisional(*store));
  const bool carries_log = !survey.vouching() && survey.is_other_log();
  absl::Status taken = EachBlock(in, [&](const sync::BundleBlock& block) -> absl::Status {
    Count(block, report);
    if (block.log) {
      CountLog(*block.log, report);
      BP_RETURN_IF_ERROR(log.Add(*block.log));
    }
    BP_RETURN_IF_ERROR(mail.Add(block.mail, report));
    return block.log && carries_log ? CarryMissing(*block.log, mail, report) : absl::OkStatus();
  });
  if (taken.ok()) taken = log.Finish();
  report.arrivals_taken = log.taken();
  if (report.arrivals_last > 0) report.passed_over = survey.passed_over();
  if (survey.vouching() && report.arrivals_taken > 0) {
    BP_RETURN_IF_ERROR(KeepVouching(*store, *survey.vouching()));
  }
  BP_RETURN_IF_ERROR(Refold());
  BP_RETURN_IF_ERROR(taken);
  BP_RETURN_IF_ERROR(MendForks());
  BP_ASSIGN_OR_RETURN(report.mail_restated, StateLost(mail.lost()));
  report.mail_known += mail.lost().size() - report.mail_restated;
  return report;
}

}  // namespace broodpact::replica
