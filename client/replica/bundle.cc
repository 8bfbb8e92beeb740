#include "client/replica/bundle.h"

#include <algorithm>
#include <map>
#include <optional>
#include <ostream>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/loss.h"
#include "client/replica/internal/mail.h"
#include "client/replica/internal/rep.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kMailBlockBytes = 1'048'576;
// Heads that one bundle is read for.
constexpr std::size_t kHeadsMax = 64;

// Goes back to the beginning of a bundle.
absl::Status Rewind(std::istream& in) {
  in.clear();
  in.seekg(0);
  if (in) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "BUNDLE_FORM",
              "the bundle cannot be read twice; copy it to a file first");
}

void Count(const sync::BundleBlock& block, BundleReport& report) {
  if (block.header) report.header = *block.header;
  if (block.head) ++report.heads;
  report.mail += block.mail.size();
}

// The records up to arrival `last`, of those from after `before` on.
absl::StatusOr<std::string> CutAfter(std::string_view records, std::uint64_t before,
                                     std::uint64_t last) {
  std::string cut;
  facts::ArrivalReader reader(records);
  for (; !reader.at_end() && before < last; ++before) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    facts::AppendArrival(cut, arrival);
  }
  return cut;
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

absl::Status CheckCooperative(const std::optional<sync::BundleHeader>& header,
                              const Hash& cooperative) {
  if (!header || header->cooperative == cooperative) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER",
              "the bundle is of another cooperative than this replica");
}

// The first reading: what a known server's head vouches for, and which heads convict it.
class Survey {
 public:
  // `known` is the last head of the server, if any. All that is passed outlives this.
  Survey(store::Store& database, const Hash& cooperative, const std::optional<sync::Head>& known)
      : store_(database), cooperative_(cooperative), known_(known) {}

  absl::Status Add(const sync::BundleBlock& block) {
    BP_RETURN_IF_ERROR(CheckCooperative(block.header, cooperative_));
    if (block.head) BP_RETURN_IF_ERROR(AddHead(*block.head));
    if (block.log) BP_RETURN_IF_ERROR(AddLog(*block.log));
    return absl::OkStatus();
  }

  // The head up to which the log of the bundle may be taken.
  const std::optional<sync::Head>& vouching() const { return vouching_; }
  const std::optional<Doubt>& doubt() const { return doubt_; }
  // Whether its log is signed by the server that is known, and is another one than here.
  bool is_other_log() const { return lost_ || after_loss_ || doubt_.has_value(); }

  // Why none of its log was taken, where it has some.
  PassedOver passed_over() const {
    if (vouching_) return PassedOver::kNothing;
    if (of_other_server_) return PassedOver::kOtherServer;
    if (after_loss_) return PassedOver::kAfterLoss;
    if (lost_) return PassedOver::kLost;
    return begins_later_ ? PassedOver::kBeginsLater : PassedOver::kNothing;
  }

 private:
  // A head of another key, or badly signed, says nothing of this server.
  absl::Status AddHead(const sync::Head& head) {
    if (!known_ || heads_.size() >= kHeadsMax) return absl::OkStatus();
    if (!sync::VerifyHead(head, cooperative_)) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(store_));
    if (head.server_key != known_->server_key) {
      of_other_server_ = of_other_server_ || !known.IsServer(head.server_key);
      return absl::OkStatus();
    }
    if (sync::IsVoid(known.epochs, head)) {
      lost_ = true;
      return absl::OkStatus();
    }
    BP_ASSIGN_OR_RETURN(const HeadFit fit, FitOf(store_, head));
    if (fit == HeadFit::kAhead) heads_[head.point.arrivals] = head;
    if (fit == HeadFit::kOther) NoteOther(head);
    return absl::OkStatus();
  }

  // A head of another log than the one here. In a later epoch its server itself says that it has
  // lost something.
  void NoteOther(const sync::Head& head) {
    if (head.epoch > known_->epoch) {
      after_loss_ = true;
    } else if (!doubt_) {
      doubt_ = TwoHistories(*known_, head);
    }
  }

  absl::Status AddLog(const sync::BundleLog& log) {
    if (!at_) {
      begins_later_ = log.arrivals_before > store_.point().arrivals;
      if (begins_later_) return absl::OkStatus();
      BP_ASSIGN_OR_RETURN(const Hash hash, store_.LogHashAt(log.arrivals_before));
      at_ = facts::LogPoint{log.arrivals_before, hash};
    }
    if (log.arrivals_before != at_->arrivals) return absl::OkStatus();  // does not follow
    facts::ArrivalReader reader(log.records);
    while (!reader.at_end()) {
      BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
      at_->log_hash =
          facts::NextLogHash(at_->log_hash, Sha256(arrival.commit), facts::TimesOf(arrival));
      ++at_->arrivals;
      if (at_->arrivals == store_.point().arrivals && at_->log_hash != store_.point().log_hash) {
        parts_ = true;
      }
      const auto head = heads_.find(at_->arrivals);
      if (head == heads_.end() || head->second.point.log_hash != at_->log_hash) continue;
      if (parts_) {
        NoteOther(head->second);
      } else {
        vouching_ = head->second;
      }
    }
    return absl::OkStatus();
  }

  store::Store& store_;
  const Hash& cooperative_;
  const std::optional<sync::Head>& known_;
  std::map<std::uint64_t, sync::Head> heads_;  // of more arrivals than there are here
  std::optional<facts::LogPoint> at_;
  std::optional<sync::Head> vouching_;
  std::optional<Doubt> doubt_;
  bool of_other_server_ = false;
  bool after_loss_ = false;
  bool lost_ = false;  // it is the log of a head that does not hold any more
  bool begins_later_ = false;
  bool parts_ = false;  // it is not the log here that goes on in it
};

// The second reading, of the log: appends what is new, up to the vouching head.
class LogIntake {
 public:
  LogIntake(Ledger& ledger, const facts::ChainId& own, std::uint64_t last)
      : ledger_(ledger), own_(own), last_(last) {
    range_.before = range_.after = ledger.point();
  }

  absl::Status Add(const sync::BundleLog& log) {
    const std::uint64_t here = range_.after.arrivals;
    if (log.arrivals_before > here || here >= last_) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const std::string known, CutAfter(log.records, log.arrivals_before, here));
    const std::string_view rest = std::string_view(log.records).substr(known.size());
    BP_ASSIGN_OR_RETURN(const std::string fresh, CutAfter(rest, here, last_));
    BP_RETURN_IF_ERROR(facts::ReadOnto(range_, fresh));
    bytes_ += fresh.size();
    const bool full =
        range_.arrivals.size() >= sync::kRangeCommitsMax || bytes_ >= sync::kRangeBytesMax;
    return full || range_.after.arrivals == last_ ? Flush() : absl::OkStatus();
  }

  std::uint64_t taken() const { return taken_; }

 private:
  absl::Status Flush() {
    BP_RETURN_IF_ERROR(ledger_.Append(range_, own_, store::Durability::kSynced).status());
    taken_ += range_.arrivals.size();
    range_ = {.before = range_.after, .after = range_.after};
    bytes_ = 0;
    return absl::OkStatus();
  }

  Ledger& ledger_;
  facts::ChainId own_;
  std::uint64_t last_;
  facts::Range range_;
  std::size_t bytes_ = 0;
  std::uint64_t taken_ = 0;
};

// Takes what is missing here of a log that the server does not tell any more: perhaps nobody else
// has it. The rest is not counted: it is not what the bundle was written for.
absl::Status CarryMissing(const sync::BundleLog& log, MailIntake& mail, BundleReport& report) {
  std::vector<facts::SignedCommit> commits;
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end()) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    commits.push_back({.bytes = std::string(arrival.commit),
                       .signature = arrival.signature.value_or(Signature{})});
  }
  BundleReport carried;
  const absl::Status status = mail.Add(commits, carried);
  report.mail_taken += carried.mail_taken;
  return status;
}

void CountLog(const sync::BundleLog& log, BundleReport& report) {
  facts::ArrivalReader reader(log.records);
  std::uint64_t last = log.arrivals_before;
  while (!reader.at_end() && reader.Next().ok()) ++last;
  if (last == log.arrivals_before) return;
  if (report.arrivals_first == 0) report.arrivals_first = log.arrivals_before + 1;
  report.arrivals_last = last;
}

// Where a frontier has a chain; seq 0 where it has not.
facts::ChainHead HeadIn(const std::map<facts::ChainId, facts::ChainHead>& chains,
                        const facts::ChainId& chain) {
  const auto found = chains.find(chain);
  return found == chains.end() ? facts::ChainHead{} : found->second;
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

absl::StatusOr<sync::BundleFrontier> FrontierIn(std::istream& in) {
  sync::BundleReader reader(in);
  while (true) {
    BP_ASSIGN_OR_RETURN(const std::optional<sync::BundleBlock> block, reader.Next());
    if (block && block->frontier) return *block->frontier;
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
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Head> head, LastHead());
  if (head && head->point.arrivals <= store().point().arrivals) {
    writer.Add(*head);
    report.heads = 1;
    BP_RETURN_IF_ERROR(rep_->WriteLog(writer, since, head->point.arrivals, report));
  }

  std::map<facts::ChainId, facts::ChainHead> theirs;
  if (since) theirs.insert(since->chains.begin(), since->chains.end());
  MailPacker mail(writer);
  for (const Undelivered& one : undelivered()) {
    const facts::CommitHeader& header = one.commit.header;
    const facts::ChainHead known = HeadIn(theirs, facts::ChainOf(header));
    if (header.seq < known.seq || facts::HeadAfter(one.commit) == known) continue;
    mail.Add(one.signed_commit);
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
      BP_ASSIGN_OR_RETURN(log.records, CutAfter(slice.records, before, last));
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
  Survey survey(*rep_->store, ours, known);
  sync::BundleReader first(in);
  absl::Status fault;  // what is before it is taken
  while (fault.ok()) {
    const auto block = first.Next();
    fault = block.status();
    if (!block.ok() || !*block) break;
    BP_RETURN_IF_ERROR(survey.Add(**block));
  }

  BP_RETURN_IF_ERROR(Rewind(in));
  BundleReport report;
  sync::BundleReader second(in);
  LogIntake log(*rep_->ledger, rep_->chain(),
                survey.vouching() ? survey.vouching()->point.arrivals : 0);
  MailIntake mail(*rep_->store, ours, *rep_->key,
                  [this](const DeviceId& device) { return rep_->KeyOf(device); });
  BP_RETURN_IF_ERROR(mail.Load());
  absl::Status taken;
  while (taken.ok()) {
    const auto block = second.Next();
    if (!block.ok() || !*block) break;
    Count(**block, report);
    if ((*block)->log) {
      CountLog(*(*block)->log, report);
      taken = log.Add(*(*block)->log);
    }
    if (taken.ok()) taken = mail.Add((*block)->mail, report);
    if (taken.ok() && (*block)->log && !survey.vouching() && survey.is_other_log()) {
      taken = CarryMissing(*(*block)->log, mail, report);
    }
  }
  report.arrivals_taken = log.taken();
  if (report.arrivals_last > 0) report.passed_over = survey.passed_over();
  BP_RETURN_IF_ERROR(rep_->Refold());
  BP_RETURN_IF_ERROR(taken);
  if (survey.vouching() && report.arrivals_taken > 0) {
    BP_RETURN_IF_ERROR(rep_->store->PutMeta(kMetaHead, sync::EncodeHead(*survey.vouching())));
  }
  BP_RETURN_IF_ERROR(rep_->MendForks());
  BP_ASSIGN_OR_RETURN(report.mail_restated, rep_->StateLost(mail.lost()));
  report.mail_known += mail.lost().size() - report.mail_restated;
  if (survey.doubt()) {
    BP_RETURN_IF_ERROR(KeepDoubt(*rep_->store, *survey.doubt()));
    return ErrorOf(*survey.doubt());
  }
  BP_RETURN_IF_ERROR(fault);
  return report;
}

}  // namespace broodpact::replica
