#pragma once

// A cooperative of four keepers in memory, for tests that state things in order and look at what
// they add up to. Commits are values with hashes of their own making: no bytes are parsed.

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "client/registry/fold.h"
#include "client/registry/state.h"
#include "tests/registry/map_source.h"

namespace broodpact::registry {

// A keeper and its device.
struct Member {
  std::string name{};
  KeeperId id{};
  PublicKey key{};
  DeviceId device{};
};

// The id of number `n`; never empty.
template <typename AnyId>
AnyId Numbered(std::uint32_t n) {
  AnyId id;
  id.bytes[0] = 0xA0;
  for (std::size_t i = 0; i < 4; ++i) id.bytes[15 - i] = static_cast<std::uint8_t>(n >> (8 * i));
  return id;
}

// "2026-05-01", "2026-05", "2026-05-01/2026-05-03".
DaySpan On(std::string_view text);

// "counted", "counted FLAG_FUTURE_DAY", "superseded TOKEN_SPENT by 7", "refused NAME_TAKEN" ...
std::string Short(const Verdict& verdict);

class World {
 public:
  // Founds "brood", enters mira (registrar), tomas, bela and iva, and the group "hamorii-colima".
  World();

  // The next arrival, at noon of 2026-06-01 or seconds later, by a member. Folded, not flushed.
  std::string Say(const Member& member, std::vector<facts::Statement> statements);
  // As Say, for a commit that has not arrived.
  std::string SayProvisionally(const Member& member, std::vector<facts::Statement> statements);
  // As Say, after `change` had its way with the commit.
  template <typename Change>
  std::string SayAs(const Member& member, std::vector<facts::Statement> statements, Change change) {
    facts::Arrived arrived = Next(member, std::move(statements));
    change(arrived);
    return FoldNext(arrived);
  }

  const Verdict& verdict() const { return verdict_; }  // of the last
  const Token& token() const { return token_; }        // of the last
  std::uint64_t arrival() const { return arrival_; }   // of the last

  // Enters things by a statement that has to count.
  AnimalId Enter(const Member& owner, std::string_view name, facts::Sex sex = facts::Sex::kUnknown);
  // A loan in force: the owner gets 1, the borrower `weight` parts of a clutch.
  LoanId Lend(const Member& owner, const Member& borrower, const AnimalId& animal,
              std::uint32_t weight = 1);
  // Proposes a loan; the terms share equally between the parties, lender first.
  LoanId Propose(const Member& author, const facts::Agreement& agreement);
  // Signs it as it stands.
  std::string Sign(const Member& member, const LoanId& loan);
  // A sac of `female`, by its owner.
  ClutchId Lay(const Member& member, const AnimalId& female, const LoanId& loan = {});
  // Its first count.
  Token Count(const Member& member, const ClutchId& clutch, std::uint32_t living,
              std::uint32_t dead = 0);
  // Shares out a counted clutch without a loan: one lot, the owner's.
  LotId ShareOut(const Member& owner, const ClutchId& clutch);

  facts::Agreement AgreementOf(const Member& lender, const Member& borrower, const AnimalId& animal,
                               std::uint32_t weight = 1);
  facts::LoanProposal ProposalOf(const facts::Agreement& agreement) const;

  template <typename AnyId>
  AnyId NewId() {
    return Numbered<AnyId>(++ids_);
  }

  // The last of these, whatever became of it, as another kind of id.
  template <typename AnyId>
  AnyId LastNewId() const {
    return Numbered<AnyId>(ids_);
  }

  // What a subject is now. Fails the test if there is none.
  Animal animal(const AnimalId& id);
  Loan loan(const LoanId& id);
  Clutch clutch(const ClutchId& id);
  Lot lot(const LotId& id);
  std::vector<Clash> clashes();

  // Stores all changes; what is stored then.
  const MapSource& Flush();
  State& state() { return *state_; }

  Member mira{}, tomas{}, bela{}, iva{};
  GroupId group{};
  Hash cooperative{};

  facts::Arrived Next(const Member& member, std::vector<facts::Statement> statements);
  std::string FoldNext(const facts::Arrived& arrived);

  // Every commit so far, as it was folded.
  const std::vector<facts::Arrived>& history() const { return history_; }
  const std::vector<Verdict>& verdicts() const { return verdicts_; }

 private:
  void Join(const Member& member, std::uint8_t seed);

  MapSource source_;
  std::unique_ptr<State> state_;
  Verdict verdict_;
  Token token_;
  std::uint64_t arrival_ = 0;
  std::uint32_t ids_ = 100;
  std::uint32_t commits_ = 0;
  std::vector<facts::Arrived> history_;
  std::vector<Verdict> verdicts_;
};

}  // namespace broodpact::registry
