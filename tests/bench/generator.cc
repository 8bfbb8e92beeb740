#include "tests/bench/generator.h"

#include <algorithm>
#include <array>
#include <memory>
#include <vector>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/device/key.h"
#include "client/facts/arrival.h"
#include "client/facts/chain.h"
#include "client/facts/commit.h"
#include "client/sync/invite_code.h"

namespace broodpact::bench {
namespace {

using facts::Statement;

// 2026-01-01, and a moment to the next arrival.
constexpr std::int64_t kFirstMillis = 1'767'225'600'000;
constexpr std::int64_t kStepMillis = 250;
constexpr std::int32_t kFirstDay = 20'454;

class SplitMix64 {
 public:
  explicit SplitMix64(std::uint64_t seed) : state_(seed) {}
  std::uint64_t Next() {
    state_ += 0x9E37'79B9'7F4A'7C15;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30)) * 0xBF58'476D'1CE4'E5B9;
    z = (z ^ (z >> 27)) * 0x94D0'49BB'1331'11EB;
    return z ^ (z >> 31);
  }
  // 0 .. bound-1.
  std::uint32_t Below(std::uint32_t bound) { return static_cast<std::uint32_t>(Next() % bound); }

 private:
  std::uint64_t state_;
};

Hash SeedOf(std::string_view what, std::uint64_t seed, std::uint64_t number) {
  return Sha256(fmt::format("broodpact bench {} {} {}", what, seed, number));
}

struct PlayedAnimal {
  AnimalId id;
  std::uint32_t group = 0;
  std::uint32_t owner = 0;
  facts::Sex sex = facts::Sex::kUnknown;
  bool mature = false;
  bool lent = false;
  Token holder_token{};
  std::string name{};
};

struct PlayedKeeper {
  explicit PlayedKeeper(device::SecretKey secret) : key(std::move(secret)) {}
  device::SecretKey key;
  KeeperId id;
  std::string name;
  facts::ChainHead head;
  std::vector<std::size_t> animals;  // indexes of its own
};

class Player {
 public:
  explicit Player(const Shape& shape) : shape_(shape), random_(shape.seed) {}

  GeneratedLog Play() {
    Found();
    JoinAll();
    EnterGroups();
    while (log_.arrivals + 1 < shape_.commits) PlayRun();
    for (std::uint32_t i = 0; i < shape_.open_invitations; ++i) {
      const std::string secret(ViewOf(SeedOf("open", shape_.seed, i)));
      WriteInvitation(log_.open_secrets.emplace_back(secret.substr(0, 16)));
    }
    EndRun(0);
    NameWhatToLookFor();
    return std::move(log_);
  }

 private:
  template <typename AnyId>
  AnyId Fresh() {
    return FirstHalf<AnyId>(SeedOf("id", shape_.seed, ids_made_++));
  }
  DaySpan SomeDay() {
    const Day day{kFirstDay - 400 + static_cast<std::int32_t>(random_.Below(400))};
    return {.earliest = day, .latest = day};
  }

  // Writes one commit of a keeper; the run goes on until EndRun.
  Token Write(std::uint32_t keeper, std::vector<Statement> statements) {
    PlayedKeeper& author = *keepers_[keeper];
    const facts::CommitHeader header{.cooperative = log_.cooperative,
                                     .device = DeviceOf(author.key.public_key()),
                                     .incarnation = 1,
                                     .seq = author.head.seq + 1,
                                     .prev = author.head.hash,
                                     .clock_ms = now_ms_};
    // It has seen nothing: a bench lets the commits arrive at a server at other times, and every
    // replica would find that this is another log.
    FlushHeld(false);
    held_ = facts::BuildCommit(header, statements);
    held_hash_ = Sha256(held_);
    author.head = {.seq = header.seq, .hash = held_hash_};
    if (log_.arrivals == 0) log_.cooperative = held_hash_;
    return FirstHalf<Token>(held_hash_);
  }

  // Signs the newest commit: the run of its device ends here.
  void EndRun(std::uint32_t keeper) {
    if (held_.empty()) return;
    held_signature_ = facts::SignCommit(keepers_[keeper]->key, held_hash_);
    FlushHeld(true);
  }

  void FlushHeld(bool signed_one) {
    if (held_.empty()) return;
    facts::ArrivalView view{.commit = held_, .time_ms = now_ms_};
    if (signed_one) view.signature = held_signature_;
    facts::AppendArrival(log_.arrivals == 0 ? log_.founding : log_.records, view);
    log_.commit_bytes += held_.size();
    ++log_.arrivals;
    now_ms_ += kStepMillis;
    held_.clear();
  }

  void AddKeeper(std::string name, const Hash& seed) {
    keepers_.push_back(
        std::make_unique<PlayedKeeper>(device::SecretKey::OfSeed(std::string(ViewOf(seed)))));
    keepers_.back()->id = Fresh<KeeperId>();
    keepers_.back()->name = std::move(name);
  }

  void Found() {
    AddKeeper(kFounderName, SeedOf("device", shape_.seed, 0));
    const PlayedKeeper& founder = *keepers_[0];
    Write(0, {facts::Founding{.name = "The bench cooperative",
                              .keeper = founder.id,
                              .keeper_name = founder.name,
                              .device_key = founder.key.public_key(),
                              .region = "CZ"}});
    EndRun(0);
  }

  PublicKey WriteInvitation(const std::string& secret) {
    const Hash seed = sync::InviteSeed(log_.cooperative, secret);
    invite_keys_.push_back(device::SecretKey::OfSeed(std::string(ViewOf(seed))));
    const PublicKey key = invite_keys_.back().public_key();
    Write(0, {facts::Invitation{.invite_key = key, .role = facts::Role::kKeeper}});
    return key;
  }

  void JoinAll() {
    for (std::uint32_t i = 1; i < shape_.keepers; ++i) {
      const std::string secret(ViewOf(SeedOf("invite", shape_.seed, i)));
      const PublicKey invite = WriteInvitation(secret.substr(0, 16));
      EndRun(0);
      AddKeeper(fmt::format("keeper-{:04}", i), SeedOf("device", shape_.seed, i));
      const PlayedKeeper& keeper = *keepers_[i];
      facts::Joining joining{.invite_key = invite,
                             .keeper = keeper.id,
                             .keeper_name = keeper.name,
                             .device_key = keeper.key.public_key(),
                             .region = i % 3 == 0 ? "PL" : "CZ"};
      joining.invite_signature = invite_keys_.back().Sign(
          facts::JoiningMessage(log_.cooperative, keeper.id, joining.device_key));
      Write(i, {joining});
      EndRun(i);
    }
  }

  void EnterGroups() {
    for (std::uint32_t i = 0; i < shape_.groups; ++i) {
      groups_.push_back(Fresh<GroupId>());
      Write(0, {facts::GroupEntry{.group = groups_.back(),
                                  .name = fmt::format("group-{:04}", i),
                                  .taxon = fmt::format("Exemplum species{}", i % 40),
                                  .locality = fmt::format("valley {}", i)}});
    }
    EndRun(0);
    males_.resize(shape_.groups);
    females_.resize(shape_.groups);
    group_sizes_.resize(shape_.groups);
  }

  void PlayRun() {
    const std::uint32_t keeper = random_.Below(static_cast<std::uint32_t>(keepers_.size()));
    const std::uint32_t length = 1 + random_.Below(12);
    for (std::uint32_t i = 0; i < length && log_.arrivals + 1 < shape_.commits; ++i) {
      PlayAct(keeper);
    }
    EndRun(keeper);
  }

  void PlayAct(std::uint32_t keeper) {
    const std::vector<std::size_t>& own = keepers_[keeper]->animals;
    const std::uint32_t dice = random_.Below(10'000);
    if (own.size() < 3 || dice < shape_.entries_per_10000) return EnterAnimal(keeper);
    const std::size_t index = own[random_.Below(static_cast<std::uint32_t>(own.size()))];
    PlayedAnimal& animal = animals_[index];
    if (dice % 100 < 4 && animal.sex == facts::Sex::kMale && animal.mature && !animal.lent) {
      return PlayLoan(index);
    }
    if (dice % 100 < 12 && animal.sex == facts::Sex::kUnknown) {
      animal.sex = random_.Below(2) == 0 ? facts::Sex::kMale : facts::Sex::kFemale;
      if (animal.sex == facts::Sex::kFemale) females_[animal.group].push_back(index);
      Write(keeper, {facts::SexClaim{.animal = animal.id,
                                     .sex = animal.sex,
                                     .method = facts::SexMethod::kShedSkin,
                                     .day = SomeDay()}});
      return;
    }
    if (dice % 100 < 20 && animal.sex == facts::Sex::kMale && !animal.mature) {
      animal.mature = true;
      Write(keeper, {facts::Maturity{.animal = animal.id, .day = SomeDay()}});
      return;
    }
    Write(keeper, {facts::Moult{
                      .animal = animal.id, .day = SomeDay(), .moult_count = 3 + random_.Below(9)}});
  }

  // One of a commit that enters several: known to the others once the commit is written.
  PlayedAnimal DrawAnimal(std::uint32_t keeper, std::size_t number, facts::AnimalEntry& entry) {
    PlayedAnimal animal{.id = Fresh<AnimalId>(),
                        .group = random_.Below(shape_.groups),
                        .owner = keeper,
                        .name = fmt::format("a-{:06}", number)};
    entry = {.animal = animal.id,
             .group = groups_[animal.group],
             .name = animal.name,
             .hatching = SomeDay()};
    const std::uint32_t dice = random_.Below(10);
    if (dice < 4) animal.sex = dice < 2 ? facts::Sex::kMale : facts::Sex::kFemale;
    entry.sex = animal.sex;
    if (animal.sex == facts::Sex::kMale && dice == 0) {
      animal.mature = true;
      entry.maturity = SomeDay();
    }
    const std::vector<std::size_t>& fathers = males_[animal.group];
    const std::vector<std::size_t>& mothers = females_[animal.group];
    if (!fathers.empty() && !mothers.empty() && random_.Below(3) > 0) {
      entry.sire = animals_[fathers[random_.Below(static_cast<std::uint32_t>(fathers.size()))]].id;
      entry.dam = animals_[mothers[random_.Below(static_cast<std::uint32_t>(mothers.size()))]].id;
    }
    return animal;
  }

  void EnterAnimal(std::uint32_t keeper) {
    std::vector<PlayedAnimal> entered;
    std::vector<facts::Statement> statements;
    for (std::uint32_t i = 0; i < shape_.animals_an_entry; ++i) {
      facts::AnimalEntry entry;
      entered.push_back(DrawAnimal(keeper, animals_.size() + i, entry));
      statements.emplace_back(std::move(entry));
    }
    const Token token = Write(keeper, std::move(statements));
    for (PlayedAnimal& animal : entered) {
      animal.holder_token = token;
      const std::size_t index = animals_.size();
      if (animal.sex == facts::Sex::kMale) males_[animal.group].push_back(index);
      if (animal.sex == facts::Sex::kFemale) females_[animal.group].push_back(index);
      ++group_sizes_[animal.group];
      keepers_[keeper]->animals.push_back(index);
      animals_.push_back(std::move(animal));
      ++log_.animals;
    }
  }

  // A whole loan: offered, signed, sent, received, paired, laid, counted, split, one lot handed
  // over, sent back and closed. Other keepers' commits arrive in between in real life; here they
  // come in runs.
  void PlayLoan(std::size_t male_index) {
    PlayedAnimal& male = animals_[male_index];
    const std::vector<std::size_t>& mothers = females_[male.group];
    if (mothers.empty()) return EnterAnimal(male.owner);
    const std::size_t female_index =
        mothers[random_.Below(static_cast<std::uint32_t>(mothers.size()))];
    const PlayedAnimal& female = animals_[female_index];
    if (female.owner == male.owner) return EnterAnimal(male.owner);
    const std::uint32_t lender = male.owner;
    const std::uint32_t borrower = female.owner;
    const KeeperId lender_id = keepers_[lender]->id;
    const KeeperId borrower_id = keepers_[borrower]->id;

    facts::Agreement agreement{.loan = Fresh<LoanId>(),
                               .cooperative = log_.cooperative,
                               .animal = male.id,
                               .lender = lender_id,
                               .borrower = borrower_id,
                               .return_day = Day{kFirstDay + 200}};
    agreement.terms.parties = {{lender_id, facts::PartyRole::kMaleOwner},
                               {borrower_id, facts::PartyRole::kFemaleOwner}};
    // Its females meet several males; what is measured is not how often that refuses a split.
    agreement.terms.apportioning.sires = facts::SireRule::kAsWritten;
    agreement.terms.shares = {{0, 1}, {1, 1}};
    const std::string bytes = facts::BuildAgreement(agreement);
    const Hash digest = Sha256(bytes);
    Write(lender, {facts::LoanProposal{.agreement = bytes, .agreement_digest = digest}});
    EndRun(lender);
    Write(borrower, {facts::LoanSignature{.loan = agreement.loan, .agreement_digest = digest}});
    EndRun(borrower);
    Write(lender, {facts::Dispatch{.loan = agreement.loan,
                                   .receiver = borrower_id,
                                   .holder_token = male.holder_token,
                                   .day = SomeDay()}});
    EndRun(lender);
    PlayClutch({.borrower = borrower,
                .loan = agreement.loan,
                .male = male.id,
                .female = female.id,
                .lender_id = lender_id,
                .borrower_id = borrower_id});
    Write(lender, {facts::Receipt{.loan = agreement.loan, .day = SomeDay()}});
    Token returned = Write(lender, {facts::LoanClosure{.loan = agreement.loan, .day = SomeDay()}});
    EndRun(lender);
    male.lent = true;  // once is enough
    male.holder_token = returned;
  }

  struct LentPair {
    std::uint32_t borrower = 0;
    LoanId loan;
    AnimalId male;
    AnimalId female;
    KeeperId lender_id;
    KeeperId borrower_id;
  };

  void PlayClutch(const LentPair& pair) {
    const std::uint32_t keeper = pair.borrower;
    Token held = Write(keeper, {facts::Receipt{.loan = pair.loan, .day = SomeDay()}});
    Write(keeper, {facts::Pairing{.pairing = Fresh<PairingId>(),
                                  .male = pair.male,
                                  .female = pair.female,
                                  .day = SomeDay(),
                                  .outcome = facts::PairingOutcome::kInsertionSeen,
                                  .loan = pair.loan}});
    const ClutchId clutch = Fresh<ClutchId>();
    Write(keeper,
          {facts::SacLaying{
              .clutch = clutch, .female = pair.female, .day = SomeDay(), .loan = pair.loan}});
    const std::uint32_t half = 20 + random_.Below(300);
    const Token count = Write(keeper, {facts::Count{.clutch = clutch,
                                                    .day = SomeDay(),
                                                    .slings_living = 2 * half,
                                                    .slings_dead = random_.Below(20),
                                                    .moult_count = 2}});
    const LotId lender_lot = Fresh<LotId>();
    Write(keeper, {facts::SplitRecord{.clutch = clutch,
                                      .count_token = count,
                                      .shares = {{pair.lender_id, half, lender_lot},
                                                 {pair.borrower_id, half, Fresh<LotId>()}}}});
    Write(keeper, {facts::LotDispatch{.lot = lender_lot,
                                      .parcel = Fresh<LotId>(),
                                      .receiver = pair.lender_id,
                                      .slings = half,
                                      .day = SomeDay()}});
    Write(keeper, {facts::Dispatch{.loan = pair.loan,
                                   .receiver = pair.lender_id,
                                   .holder_token = held,
                                   .day = SomeDay()}});
    EndRun(keeper);
  }

  void NameWhatToLookFor() {
    const auto largest = std::max_element(group_sizes_.begin(), group_sizes_.end());
    const auto group = static_cast<std::size_t>(largest - group_sizes_.begin());
    log_.busiest_group = fmt::format("group-{:04}", group);
    if (females_[group].empty()) return;
    const PlayedAnimal& female = animals_[females_[group].back()];
    log_.some_female = fmt::format("{}/{}", keepers_[female.owner]->name, female.name);
  }

  Shape shape_;
  SplitMix64 random_;
  GeneratedLog log_;
  std::vector<std::unique_ptr<PlayedKeeper>> keepers_;
  std::vector<device::SecretKey> invite_keys_;
  std::vector<GroupId> groups_;
  std::vector<PlayedAnimal> animals_;
  std::vector<std::vector<std::size_t>> males_;
  std::vector<std::vector<std::size_t>> females_;
  std::vector<std::uint64_t> group_sizes_;
  std::string held_;
  Hash held_hash_{};
  Signature held_signature_{};
  std::int64_t now_ms_ = kFirstMillis;
  std::uint64_t ids_made_ = 0;
};

}  // namespace

std::string FounderSeed(std::uint64_t seed) {
  return std::string(ViewOf(SeedOf("device", seed, 0)));
}

GeneratedLog Generate(const Shape& shape) {
  BP_CHECK(shape.keepers >= 2 && shape.groups >= 1);
  return Player(shape).Play();
}

}  // namespace broodpact::bench
