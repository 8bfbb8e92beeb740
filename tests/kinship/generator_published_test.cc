// Goal: the generated pedigrees have the published inbreeding and mean kinship. Method: the
// generator of tests/published/kinship/synthetic_generator.json, written out, and its checksums.

#include <algorithm>
#include <cstdint>

#include <gtest/gtest.h>

#include "client/kinship/pedigree.h"
#include "tests/kinship/published_cases.h"

namespace broodpact::kinship {
namespace {

constexpr double kTolerance = 1e-12;

// The generator as the file describes it. Animals are counted from 0 here, from 1 in the file.
class Generator {
 public:
  explicit Generator(const Json& one)
      : state_(one.at("seed").get<std::uint64_t>()),
        count_(one.at("N").get<std::size_t>()),
        founders_(one.at("founders").get<std::size_t>()),
        window_(one.at("window").get<std::uint64_t>()),
        miss_sire_(one.at("miss_sire").get<std::uint64_t>()),
        miss_dam_(one.at("miss_dam").get<std::uint64_t>()) {}

  std::vector<Parents> Make() {
    for (std::size_t i = 0; i < count_; ++i) {
      const std::uint64_t drawn = Random(2);
      const std::uint64_t sex = i < 2 ? i : drawn;
      Parents parents;
      if (i >= founders_) {
        const std::uint64_t missed = Random(1'000);
        parents.sire = Pick(0);
        parents.dam = Pick(1);
        if (missed < miss_sire_) {
          parents.sire = kUnknown;
        } else if (missed < miss_sire_ + miss_dam_) {
          parents.dam = kUnknown;
        }
      }
      animals_.push_back(parents);
      sexes_.push_back(sex);
    }
    return animals_;
  }

 private:
  std::uint64_t Random(std::uint64_t bound) {
    state_ = state_ * 6'364'136'223'846'793'005U + 1'442'695'040'888'963'407U;
    return (state_ >> 33) % bound;
  }

  // From some place in the window downwards, wrapping, to the first of that sex.
  Node Pick(std::uint64_t sex) {
    const std::size_t before = animals_.size();
    std::size_t at = before - 1 - Random(std::min<std::uint64_t>(window_, before));
    for (std::size_t tried = 0; tried < before; ++tried) {
      if (sexes_[at] == sex) return static_cast<Node>(at);
      at = at == 0 ? before - 1 : at - 1;
    }
    return kUnknown;
  }

  std::uint64_t state_;
  std::size_t count_;
  std::size_t founders_;
  std::uint64_t window_;
  std::uint64_t miss_sire_;
  std::uint64_t miss_dam_;
  std::vector<Parents> animals_;
  std::vector<std::uint64_t> sexes_;
};

TEST(PublishedGenerator, HasTheInbreedingAndMeanKinshipOfItsChecksums) {
  const auto cases = CasesOf("synthetic_generator");
  ASSERT_EQ(cases.size(), 2U);
  for (const Json& one : cases) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const std::vector<Parents> animals = Generator(one).Make();
    for (const Json& row : one.at("first_rows")) {
      const Parents& parents = animals[row[0].get<std::size_t>() - 1];
      EXPECT_EQ(std::to_string(parents.sire + 1), row[1].get<std::string>()) << row[0];
      EXPECT_EQ(std::to_string(parents.dam + 1), row[2].get<std::string>()) << row[0];
    }
    const auto pedigree = Pedigree::Of(animals);
    ASSERT_TRUE(pedigree.ok()) << pedigree.status();
    double sum = 0;
    double squares = 0;
    double most = 0;
    std::vector<Node> all;
    for (Node i = 0; i < animals.size(); ++i) {
      const double inbreeding = pedigree->Inbreeding(i);
      sum += inbreeding;
      squares += inbreeding * inbreeding;
      most = std::max(most, inbreeding);
      all.push_back(i);
    }
    const Json& summary = one.at("summary");
    EXPECT_NEAR(sum / static_cast<double>(animals.size()), summary.at("mean_F").get<double>(),
                kTolerance);
    EXPECT_NEAR(most, summary.at("max_F").get<double>(), kTolerance);
    EXPECT_NEAR(squares, summary.at("sum_F2").get<double>(), 1e-10);  // a sum over thousands
    for (const auto& [number, inbreeding] : summary.at("F_at").items()) {
      EXPECT_NEAR(pedigree->Inbreeding(static_cast<Node>(std::stoul(number) - 1)),
                  inbreeding.get<double>(), kTolerance)
          << number;
    }
    EXPECT_NEAR(pedigree->MeanKinshipOf(all).overall,
                summary.at("mean_kinship_all_pairs_incl_self").get<double>(), kTolerance);
  }
}

}  // namespace
}  // namespace broodpact::kinship
