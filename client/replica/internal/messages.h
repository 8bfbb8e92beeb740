#pragma once

// Subjects of the registry as the messages that are shown.

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

#include "broodpact/v1/registry.pb.h"
#include "client/registry/layer.h"
#include "client/registry/motion.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/replica/internal/ref_book.h"

namespace broodpact::replica {

// A number of arrivals as messages carry it; the highest one stands for all beyond.
inline std::uint32_t Narrow(std::uint64_t value) {
  return static_cast<std::uint32_t>(std::min<std::uint64_t>(value, 0xFFFF'FFFF));
}

// A row names the other subjects that it touches; a whole message has their particulars too.
enum class Detail { kRow, kWhole };

// Whether a subject has its place in the log. `provisional` may be nullptr.
v1::Standing StandingOf(const registry::Layer* provisional, registry::Kind kind, const IdBytes& id);

// Writes messages for one answer. Its first error of reading is kept: ask status() at the end.
class Messages {
 public:
  // What is passed outlives the writer. `provisional` may be nullptr.
  Messages(const registry::Source& source, const registry::Layer* provisional)
      : source_(source), provisional_(provisional), refs_(source) {}

  v1::Keeper Of(const registry::Keeper& keeper);
  v1::Group Of(const registry::Group& group);
  v1::Animal Of(const registry::Animal& animal, Detail detail);
  v1::Loan Of(const registry::Loan& loan);
  v1::LoanVersion Of(const registry::LoanVersion& version, const registry::Loan& loan);
  v1::Pairing Of(const registry::Pairing& pairing);
  v1::Clutch Of(const registry::Clutch& clutch);
  v1::Lot Of(const registry::Lot& lot);
  v1::Clash Of(const registry::Clash& clash);
  // messages_device.cc
  v1::Device Of(const registry::Device& device);
  v1::Motion Of(const registry::Motion& motion, const registry::Votes& votes);
  v1::Lease Of(const registry::Lease& lease);
  v1::SavedTerms Of(const registry::Form& form);
  v1::Settlement Of(const registry::Clash& clash, const registry::SettlementRecord& settlement);

  // The story of a lot from the sac to now (story.cc).
  std::vector<v1::StoryLine> StoryOf(const registry::Lot& lot);
  // What became of the slings of a clutch, in all its lots.
  std::vector<v1::StoryLine> StoryOf(const registry::Clutch& clutch);

  // The clashes about a subject, ended ones too, in order of arrival.
  std::vector<registry::Clash> ClashesAbout(const IdBytes& subject);

  // Reads the names that rows of these animals refer to, in one go.
  void Fetch(const std::vector<registry::Animal>& animals);

  // What is remarkable about a clutch, a sentence each.
  std::vector<std::string> WarningsOf(const registry::Clutch& clutch);

  // The males that may have sired a clutch.
  std::vector<AnimalId> SiresOf(const registry::Clutch& clutch);

  RefBook& refs() { return refs_; }
  absl::Status status() const { return status_.ok() ? refs_.status() : status_; }

  // A subject, or nothing; an error is kept.
  template <typename Subject, typename AnyId>
  std::optional<Subject> Find(const AnyId& id) {
    if (id.empty()) return std::nullopt;
    absl::StatusOr<std::optional<Subject>> found = registry::Read<Subject>(source_, id);
    if (found.ok()) return *std::move(found);
    if (status_.ok()) status_ = found.status();
    return std::nullopt;
  }

 private:
  // Whether a keeper signs motions.
  bool Votes(const KeeperId& keeper, const registry::Electorate& electorate);

  // Signers, clauses, findings and day of return of an agreement, into a message that has these
  // fields.
  template <typename Message>
  void WriteTerms(const facts::Agreement& agreement,
                  const std::vector<registry::SignatureRecord>& signatures, Message& message);

  // The due of a loan in which `keeper` stands in the place of `party`.
  v1::RunningDue DueOf(const registry::Loan& loan, const KeeperId& party, const KeeperId& keeper);
  void AddDues(const registry::Animal& animal, v1::Animal& message);
  void AddParties(const registry::Clutch& clutch, v1::Clutch& message);
  v1::Standing StandingOf(registry::Kind kind, const IdBytes& id) const;

  const registry::Source& source_;
  const registry::Layer* provisional_;
  RefBook refs_;
  absl::Status status_;
};

}  // namespace broodpact::replica
