// What a name that somebody typed stands for.

#include <algorithm>

#include "absl/strings/ascii.h"
#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/ref_book.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

using registry::Kind;

constexpr std::size_t kShortIdMin = 4;
constexpr std::size_t kCandidatesShown = 5;
// Subjects of one name that are looked at: far more than one cooperative gives one name to.
constexpr std::size_t kNamesakesMax = 200;

// A subject that a text may mean.
struct Found {
  IdBytes id{};
  std::string name;
  KeeperId owner;        // whose it is; empty where that is no question
  bool own = false;      // of the keeper who looks
  bool living = true;    // not dead, closed or lost: meant rather than its namesakes
  bool of_named = true;  // of the keeper named before a "/"
};

bool Has(const std::vector<KeeperId>& keepers, const KeeperId& keeper) {
  return std::ranges::find(keepers, keeper) != keepers.end();
}

// Fills in what the kinds differ in. `keeper`: the one named, or the one who looks.
template <typename Subject>
struct Belonging;

template <>
struct Belonging<registry::Animal> {
  static KeeperId Owner(const registry::Animal& animal) { return animal.owner; }
  static bool Of(const registry::Animal& animal, const KeeperId& keeper) {
    return animal.owner == keeper || animal.holder == keeper;
  }
  static bool Living(const registry::Animal& animal) { return !animal.death; }
};

template <>
struct Belonging<registry::Loan> {
  static KeeperId Owner(const registry::Loan& loan) { return loan.lender; }
  static bool Of(const registry::Loan& loan, const KeeperId& keeper) {
    return loan.lender == keeper || loan.borrower == keeper || Has(loan.parties, keeper);
  }
  static bool Living(const registry::Loan& loan) {
    return loan.state <= registry::LoanState::kInForce;
  }
};

template <>
struct Belonging<registry::Clutch> {
  static KeeperId Owner(const registry::Clutch& clutch) { return clutch.owner; }
  static bool Of(const registry::Clutch& clutch, const KeeperId& keeper) {
    const auto shares = std::ranges::find(clutch.shares, keeper, &facts::SplitShare::keeper);
    return clutch.owner == keeper || clutch.holder == keeper || shares != clutch.shares.end();
  }
  static bool Living(const registry::Clutch& clutch) { return !clutch.loss; }
};

template <>
struct Belonging<registry::Lot> {
  static KeeperId Owner(const registry::Lot& lot) { return lot.owner; }
  static bool Of(const registry::Lot& lot, const KeeperId& keeper) {
    return lot.owner == keeper || lot.holder == keeper || lot.receiver == keeper;
  }
  static bool Living(const registry::Lot& lot) { return lot.slings > 0; }
};

template <typename Subject>
void Describe(std::string_view bytes, const KeeperId& self, const KeeperId& named, Found& found) {
  const std::optional<Subject> subject = registry::Decode<Subject>(bytes);
  if (!subject) return;
  using Rules = Belonging<Subject>;
  found.owner = Rules::Owner(*subject);
  found.own = !self.empty() && Rules::Of(*subject, self);
  found.living = Rules::Living(*subject);
  found.of_named = named.empty() || Rules::Of(*subject, named);
}

// The command that lists the subjects of a kind.
std::string ListCommandOf(Kind kind) {
  if (kind == Kind::kClash) return "clashes";
  if (kind == Kind::kClutch) return "sac list";
  if (kind == Kind::kForm) return "terms list";
  return fmt::format("{} list", KindWord(kind));
}

// Whether subjects of a kind are somebody's, so that "keeper/name" can say whose.
bool HasKeepers(Kind kind) {
  return kind != Kind::kKeeper && kind != Kind::kGroup && kind != Kind::kForm;
}

class Finder {
 public:
  Finder(const registry::Source& source, const KeeperId& self, Kind kind)
      : source_(source), self_(self), kind_(kind), refs_(source) {}

  // Errors: as View::AnimalNamed.
  absl::StatusOr<IdBytes> Find(std::string_view text) {
    if (const std::optional<IdBytes> whole = ParseIdText(text)) {
      BP_ASSIGN_OR_RETURN(const auto value, source_.Subject({kind_, *whole}));
      if (value) return *whole;
    }
    BP_ASSIGN_OR_RETURN(const std::vector<Found> named, OfName(text));
    if (!named.empty()) return Choose(text, named);
    BP_ASSIGN_OR_RETURN(const std::vector<Found> begun, OfShortId(text));
    if (!begun.empty()) return Choose(text, begun);
    return Unknown(text);
  }

 private:
  // The subjects of exactly that name, or "keeper/name".
  absl::StatusOr<std::vector<Found>> OfName(std::string_view text) {
    KeeperId owner;
    const std::size_t slash = text.find('/');
    if (slash != std::string_view::npos && HasKeepers(kind_)) {
      BP_ASSIGN_OR_RETURN(const IdBytes keeper,
                          Finder(source_, self_, Kind::kKeeper).Find(text.substr(0, slash)));
      owner = KeeperId{keeper};
      text = text.substr(slash + 1);
    }
    if (text.empty()) return std::vector<Found>();
    BP_ASSIGN_OR_RETURN(const std::vector<std::string> entries,
                        source_.IndexEntries(registry::NamePrefix(kind_, text), kNamesakesMax));
    BP_ASSIGN_OR_RETURN(std::vector<Found> found, FoundBehind(entries, owner));
    std::erase_if(found, [](const Found& one) { return !one.of_named; });
    return found;
  }

  absl::StatusOr<std::vector<Found>> FoundBehind(const std::vector<std::string>& entries,
                                                 const KeeperId& named) {
    std::vector<registry::SubjectKey> keys;
    keys.reserve(entries.size());
    for (const std::string& entry : entries) keys.push_back({kind_, registry::IdOfEntry(entry)});
    BP_ASSIGN_OR_RETURN(const auto values, source_.Subjects(keys));
    std::vector<Found> found;
    for (std::size_t i = 0; i < keys.size(); ++i) {
      const std::optional<std::string>& value = values[i];
      if (value) found.push_back(FoundOf(keys[i].id, *value, named));
    }
    return found;
  }

  Found FoundOf(const IdBytes& id, std::string_view bytes, const KeeperId& named) const {
    Found found;
    found.id = id;
    found.name = NameIn(kind_, bytes);
    if (kind_ == Kind::kAnimal) Describe<registry::Animal>(bytes, self_, named, found);
    if (kind_ == Kind::kLoan) Describe<registry::Loan>(bytes, self_, named, found);
    if (kind_ == Kind::kClutch) Describe<registry::Clutch>(bytes, self_, named, found);
    if (kind_ == Kind::kLot) Describe<registry::Lot>(bytes, self_, named, found);
    return found;
  }

  // The subjects whose id begins so: they lie together in order of id.
  absl::StatusOr<std::vector<Found>> OfShortId(std::string_view text) {
    std::vector<Found> found;
    if (text.size() < kShortIdMin || text.size() > kIdTextSize) return found;
    std::string begin(text);
    absl::AsciiStrToLower(&begin);
    // 'a' is the digit zero: the lowest id that begins so.
    const std::optional<IdBytes> lowest =
        ParseIdText(begin + std::string(kIdTextSize - begin.size(), 'a'));
    if (!lowest) return found;
    BP_ASSIGN_OR_RETURN(const auto stored,
                        source_.SubjectsOfKind(kind_, Before(*lowest), kCandidatesShown + 1));
    for (const registry::StoredSubject& one : stored) {
      if (IdText(one.id).starts_with(begin)) found.push_back(FoundOf(one.id, one.value, {}));
    }
    return found;
  }

  // The id before `id`; nothing before the first.
  static std::optional<IdBytes> Before(IdBytes id) {
    for (std::size_t i = id.size(); i > 0; --i) {
      if (id[i - 1]-- != 0) return id;
    }
    return std::nullopt;
  }

  // Own subjects before those of others; and among one's own the living.
  absl::StatusOr<IdBytes> Choose(std::string_view text, const std::vector<Found>& found) {
    if (found.size() == 1) return found.front().id;
    std::vector<Found> meant;
    std::ranges::copy_if(found, std::back_inserter(meant), &Found::own);
    if (meant.empty()) meant = found;
    if (meant.size() > 1) {
      std::vector<Found> living;
      std::ranges::copy_if(meant, std::back_inserter(living), &Found::living);
      if (living.size() == 1) meant = living;
    }
    if (meant.size() == 1) return meant.front().id;
    return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT",
                fmt::format("'{}' is ambiguous: {}; say which, by the id in brackets", text,
                            Listed(meant)));
  }

  absl::Status Unknown(std::string_view text) {
    const std::vector<Found> near = Near(text);
    return Fail(
        absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
        near.empty()
            ? fmt::format("there is no {} '{}'; `broodpact {}` shows what there is",
                          KindWord(kind_), text, ListCommandOf(kind_))
            : fmt::format("there is no {} '{}'; near: {}", KindWord(kind_), text, Listed(near)));
  }

  // Subjects whose names begin as the text does, as far as any does.
  std::vector<Found> Near(std::string_view text) {
    const std::size_t slash = text.find('/');
    if (slash != std::string_view::npos) text = text.substr(slash + 1);
    for (; !text.empty(); text = text.substr(0, text.size() / 2)) {
      std::string prefix = registry::NamePrefix(kind_, text);
      prefix.pop_back();  // the zero that ends a whole name
      const auto entries = source_.IndexEntries(prefix, kCandidatesShown);
      if (!entries.ok()) return {};
      auto found = FoundBehind(*entries, {});
      if (!found.ok()) return {};
      if (!found->empty()) return *std::move(found);
    }
    return {};
  }

  std::string Listed(const std::vector<Found>& found) {
    std::string text;
    for (std::size_t i = 0; i < std::min(found.size(), kCandidatesShown); ++i) {
      const std::string owner = refs_.Name(found[i].owner);
      text += fmt::format("{}{}{}{} ({})", i == 0 ? "" : ", ", owner,
                          owner.empty() || found[i].name.empty() ? "" : "/", found[i].name,
                          IdText(found[i].id).substr(0, kIdShortSize));
    }
    if (found.size() > kCandidatesShown) text += ", ...";
    return text;
  }

  const registry::Source& source_;
  KeeperId self_;
  Kind kind_;
  RefBook refs_;
};

template <typename AnyId>
absl::StatusOr<AnyId> Named(const View& view, Kind kind, std::string_view text) {
  BP_ASSIGN_OR_RETURN(const IdBytes id, Finder(view.source(), view.self(), kind).Find(text));
  return AnyId{id};
}

// The lots with slings that a keeper owns of a clutch.
absl::StatusOr<std::vector<registry::Lot>> LotsOfClutch(const registry::Source& source,
                                                        const ClutchId& id, const KeeperId& owner) {
  std::vector<registry::Lot> lots;
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Clutch> clutch,
                      registry::Read<registry::Clutch>(source, id));
  if (!clutch) return lots;
  for (const LotId& lot_id : clutch->lots) {
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Lot> lot,
                        registry::Read<registry::Lot>(source, lot_id));
    const bool concerns = lot && (lot->owner == owner || lot->receiver == owner);
    if (concerns && lot->slings > 0) lots.push_back(*lot);
  }
  return lots;
}

}  // namespace

absl::StatusOr<KeeperId> View::KeeperNamed(std::string_view text) const {
  return Named<KeeperId>(*this, Kind::kKeeper, text);
}
absl::StatusOr<GroupId> View::GroupNamed(std::string_view text) const {
  return Named<GroupId>(*this, Kind::kGroup, text);
}
absl::StatusOr<AnimalId> View::AnimalNamed(std::string_view text) const {
  return Named<AnimalId>(*this, Kind::kAnimal, text);
}
absl::StatusOr<LoanId> View::LoanNamed(std::string_view text) const {
  return Named<LoanId>(*this, Kind::kLoan, text);
}
absl::StatusOr<ClutchId> View::ClutchNamed(std::string_view text) const {
  return Named<ClutchId>(*this, Kind::kClutch, text);
}

absl::StatusOr<ClashId> View::ClashNamed(std::string_view text) const {
  return Named<ClashId>(*this, Kind::kClash, text);
}

absl::StatusOr<FormId> View::FormNamed(std::string_view text) const {
  return Named<FormId>(*this, Kind::kForm, text);
}

absl::StatusOr<LotId> View::LotNamed(std::string_view text) const {
  absl::StatusOr<LotId> by_id = Named<LotId>(*this, Kind::kLot, text);
  if (by_id.ok() || ReasonOf(by_id.status()) == "AMBIGUOUS_SUBJECT") return by_id;
  // A lot has no name of its own, and may be called by its clutch and its owner.
  absl::StatusOr<ClutchId> clutch = ClutchNamed(text);
  KeeperId owner = self_;
  const std::size_t slash = text.rfind('/');
  if (!clutch.ok() && slash != std::string_view::npos) {
    const absl::StatusOr<KeeperId> named = KeeperNamed(text.substr(slash + 1));
    if (named.ok()) {
      owner = *named;
      clutch = ClutchNamed(text.substr(0, slash));
    }
  }
  if (!clutch.ok()) return by_id.status();
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Lot> lots, LotsOfClutch(source_, *clutch, owner));
  if (lots.size() == 1) return lots.front().id;
  if (lots.empty()) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("no slings of clutch '{}' are {}; `broodpact lot list` shows lots",
                            text, owner == self_ ? "yours" : "theirs"));
  }
  std::string listed;
  for (const registry::Lot& lot : lots) {
    listed += fmt::format("{}{} ({})", listed.empty() ? "" : ", ", Slings(lot.slings),
                          ToShortText(lot.id));
  }
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT",
              fmt::format("'{}' is ambiguous: {}; say which, by the id in brackets", text, listed));
}

}  // namespace broodpact::replica
