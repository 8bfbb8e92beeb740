#pragma once

// A clutch from pairing to slings with names, in as many commits as it takes a keeper.

#include <string>
#include <vector>

#include "client/device/random.h"
#include "tests/replica/testing/society.h"

namespace broodpact::testing {

// What `keeper`, who owns the dam, does. All of it has to count.
class Brood {
 public:
  Brood(Society& society, std::string keeper, AnimalId dam)
      : society_(society), keeper_(std::move(keeper)), dam_(dam) {}

  void Pair(const AnimalId& male, const std::string& day) {
    State(facts::Pairing{
        .pairing = Fresh<PairingId>(), .male = male, .female = dam_, .day = On(day)});
  }

  // Lays, counts and shares out: the keeper has all slings.
  void Hatch(std::uint32_t slings, const std::string& laying, const std::string& counted) {
    Lay(laying);
    CountOut(slings, counted);
  }

  void Lay(const std::string& day) {
    clutch_ = Fresh<ClutchId>();
    State(facts::SacLaying{.clutch = clutch_, .female = dam_, .day = On(day)});
  }

  void Pull(const std::string& day) { State(facts::SacPulling{.clutch = clutch_, .day = On(day)}); }

  void Lose(const std::string& day, const std::string& cause) {
    State(facts::SacLoss{.clutch = clutch_, .day = On(day), .cause = cause});
  }

  void CountOut(std::uint32_t slings, const std::string& counted) {
    lot_ = Fresh<LotId>();
    State(facts::Count{.clutch = clutch_, .day = On(counted), .slings_living = slings});
    const Token count = FirstHalf<Token>(society_.At(keeper_).undelivered().back().commit.hash);
    State(facts::SplitRecord{.clutch = clutch_,
                             .count_token = count,
                             .shares = {{society_.IdOf(keeper_), slings, lot_}}});
  }

  AnimalId Raise(const std::string& name, const std::string& day) {
    const auto animal = Fresh<AnimalId>();
    State(facts::LotRaising{.lot = lot_, .animal = animal, .name = name, .day = On(day)});
    return animal;
  }

  const ClutchId& clutch() const { return clutch_; }

 private:
  template <typename AnyId>
  AnyId Fresh() {
    return device::FreshId<AnyId>(society_.randomness());
  }

  void State(facts::Statement statement) {
    const auto acted = society_.At(keeper_).Act({std::move(statement)});
    ASSERT_TRUE(acted.ok()) << acted.status();
  }

  Society& society_;
  std::string keeper_;
  AnimalId dam_;
  ClutchId clutch_{};
  LotId lot_{};
};

}  // namespace broodpact::testing
