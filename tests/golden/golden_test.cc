// Goal: what was written once is read for ever: the bytes of commits, their hashes, the log's, the
// digest of the state that they fold to, and a home folder of each released format.
// Method: one small history by fixed keys, clock and ids. vectors.txt has it as it was when it was
// written, replica-1.tar.gz the founder's home folder then. BROODPACT_REWRITE=1 writes both anew:
// only where a format is given up, or a new one is added beside.

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "client/base/hash.h"
#include "client/base/text.h"
#include "client/device/key.h"
#include "client/facts/arrival.h"
#include "client/registry/fold.h"
#include "client/registry/state.h"
#include "client/replica/acts_animal.h"
#include "client/replica/acts_clutch.h"
#include "client/replica/acts_loan.h"
#include "client/store/state_digest.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::On;

const std::filesystem::path kVectors = std::filesystem::path(BROODPACT_GOLDEN) / "vectors.txt";
const std::filesystem::path kReplica = std::filesystem::path(BROODPACT_GOLDEN) / "replica-1.tar.gz";

bool Rewrites() {
  return std::getenv("BROODPACT_REWRITE") != nullptr;  // NOLINT(concurrency-mt-unsafe): one thread
}

// The history: a loan that is signed and handed over, a pairing, a sac, a count, a split, a parcel
// with a loss, a sling that is raised, and one commit that is superseded.
class GoldenSociety {
 public:
  GoldenSociety() {
    UseKey("mira", 'm');
    UseKey("tomas", 't');
    society_.Found("mira", "CZ");
    society_.Enter("tomas", "AT");
    const GroupId group = testing::AddGroup(society_, "mira", "hamorii-colima");
    const AnimalId male = testing::AddAnimal(
        society_, "mira", {.group = group, .name = "milo", .sex = facts::Sex::kMale});
    society_.Deliver();
    const AnimalId female = testing::AddAnimal(
        society_, "tomas", {.group = group, .name = "frida", .sex = facts::Sex::kFemale});
    const LoanId loan = Offer(male, "milo to frida");
    society_.Deliver();
    Count(SignLoan(society_.At("tomas"), loan));
    society_.Deliver();
    Count(SendAnimal(society_.At("mira"), loan, On("2026-11-20")));
    society_.Deliver();
    Count(ReceiveAnimal(society_.At("tomas"), {.loan = loan, .day = On("2026-11-21")}));
    Id(RecordPairing(society_.At("tomas"), {.male = male,
                                            .female = female,
                                            .day = On("2026-11-22"),
                                            .outcome = facts::PairingOutcome::kInsertionSeen,
                                            .loan = loan}));
    const ClutchId clutch = Id(
        RecordSac(society_.At("tomas"), {.female = female, .day = On("2026-11-23"), .loan = loan}));
    Count(RecordCount(
        society_.At("tomas"),
        {.clutch = clutch, .day = On("2026-11-24"), .slings_living = 100, .slings_dead = 3}));
    Count(RecordSplit(society_.At("tomas"), clutch));
    society_.Deliver();
    const std::vector<LotId> lots = LotsOf(clutch);
    const LotId parcel = Id(SendSlings(society_.At("tomas"), {.lot = lots.at(0),
                                                              .receiver = society_.IdOf("mira"),
                                                              .slings = 20,
                                                              .day = On("2026-11-24")}));
    society_.Deliver();
    Count(ReceiveSlings(
        society_.At("mira"),
        {.parcel = parcel, .slings_living = 19, .slings_dead = 1, .day = On("2026-11-25")}));
    Id(RaiseSling(society_.At("mira"), {.lot = parcel, .name = "filo", .day = On("2026-11-25")}));
    // Mira takes an offer back, and Tomas, who does not know, signs it.
    const AnimalId second = testing::AddAnimal(
        society_, "mira", {.group = group, .name = "otto", .sex = facts::Sex::kMale});
    const LoanId offer = Offer(second, "otto to frida");
    society_.Deliver();
    Count(RefuseLoan(society_.At("mira"), offer, "he is not well"));
    Count(SignLoan(society_.At("tomas"), offer));
    society_.Deliver();
  }

  Replica& At(const std::string& keeper) { return society_.At(keeper); }
  testing::Society& society() { return society_; }

 private:
  void UseKey(const std::string& keeper, char letter) {
    const Home home = society_.HomeOf(keeper);
    std::filesystem::create_directories(home.folder());
    ASSERT_TRUE(device::SecretKey::OfSeed(std::string(32, letter)).Save(home.key_file()).ok());
  }
  // Mira lends a male to Tomas, for one sling in three.
  LoanId Offer(const AnimalId& male, const std::string& name) {
    const KeeperId mira = society_.IdOf("mira");
    const KeeperId tomas = society_.IdOf("tomas");
    facts::Terms terms;
    terms.parties = {{.keeper = mira, .role = facts::PartyRole::kMaleOwner},
                     {.keeper = tomas, .role = facts::PartyRole::kFemaleOwner}};
    terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 2}};
    return Id(ProposeLoan(society_.At("mira"), {.animal = male,
                                                .lender = mira,
                                                .borrower = tomas,
                                                .return_day = {},
                                                .terms = terms,
                                                .name = name,
                                                .open_until = {}}));
  }
  template <typename AnyId>
  AnyId Id(const absl::StatusOr<Made<AnyId>>& made) {
    EXPECT_TRUE(made.ok()) << made.status();
    return made.ok() ? made->id : AnyId{};
  }
  void Count(const absl::StatusOr<Acted>& acted) { EXPECT_TRUE(acted.ok()) << acted.status(); }
  std::vector<LotId> LotsOf(const ClutchId& clutch) {
    const auto found = registry::Read<registry::Clutch>(society_.At("tomas").view(), clutch);
    EXPECT_TRUE(found.ok() && found->has_value());
    return (*found)->lots;
  }

  testing::Society society_;
};

// "counted", "superseded:TOKEN_SPENT" ...
std::string WordOf(const registry::Verdict& verdict) {
  constexpr std::array<const char*, 6> kWords = {"?",       "counted", "superseded",
                                                 "refused", "void",    "held"};
  const std::string word = kWords.at(static_cast<std::size_t>(verdict.kind));
  return verdict.reason.empty() ? word : word + ":" + verdict.reason;
}

// One line an arrival, then what they come to.
std::string VectorsOf(const store::Store& store) {
  std::string text =
      "# A small history by fixed keys (golden_test.cc): computed by this program, as a record of\n"
      "# its formats, not taken from elsewhere.\n"
      "# arrival time-ms commit-hash log-hash verdict commit-bytes, all bytes in hexadecimal\n";
  const absl::Status status = store.VisitArrivals(
      1, store.point().arrivals, [&](std::uint64_t arrival, const store::StoredArrival& stored) {
        text += fmt::format("{} {} {} {} {} {}\n", arrival, stored.time_ms,
                            ToHex(Sha256(stored.bytes)), ToHex(*store.LogHashAt(arrival)),
                            WordOf(stored.verdict), BytesToHex(stored.bytes));
        return absl::OkStatus();
      });
  EXPECT_TRUE(status.ok()) << status;
  text += fmt::format("tree-root {}\n", ToHex(*store.TreeRootAt(store.point().arrivals)));
  text += fmt::format("state-digest {}\n", ToHex(*store.StateDigest()));
  return text;
}

std::vector<std::string> WordsIn(const std::string& line) {
  std::istringstream words(line);
  return {std::istream_iterator<std::string>(words), std::istream_iterator<std::string>()};
}

// The lines of vectors.txt as words: arrivals, and the named values at the end.
struct Vectors {
  std::vector<std::vector<std::string>> arrivals;
  std::map<std::string, std::string> values;
};

Vectors ReadVectors() {
  Vectors vectors;
  std::ifstream file(kVectors);
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with('#')) continue;
    std::vector<std::string> words = WordsIn(line);
    if (words.size() == 2) vectors.values[words[0]] = words[1];
    if (words.size() == 6) vectors.arrivals.push_back(std::move(words));
  }
  return vectors;
}

std::string TextOf(const std::filesystem::path& path) {
  std::ostringstream text;
  text << std::ifstream(path).rdbuf();
  return text.str();
}

TEST(Golden, TheSameHistoryGivesTheSameBytes) {
  GoldenSociety golden;
  const std::string now = VectorsOf(golden.At("mira").store());
  if (Rewrites()) std::ofstream(kVectors) << now;
  EXPECT_EQ(TextOf(kVectors), now);
}

TEST(Golden, OldBytesHashAndFoldAsTheyDid) {
  const Vectors vectors = ReadVectors();
  ASSERT_GT(vectors.arrivals.size(), 15U);
  registry::State state(registry::EmptySource());
  Hash log_hash{};
  for (const std::vector<std::string>& words : vectors.arrivals) {
    const std::string bytes = *HexToBytes(words[5]);
    const absl::StatusOr<facts::Commit> commit = facts::ParseCommit(bytes);
    ASSERT_TRUE(commit.ok()) << words[0] << ": " << commit.status();
    EXPECT_EQ(ToHex(commit->hash), words[2]);
    const std::uint64_t arrival = std::stoull(words[0]);
    const std::int64_t time_ms = std::stoll(words[1]);
    if (arrival == 1) log_hash = commit->hash;  // the cooperative's id
    log_hash = facts::NextLogHash(log_hash, commit->hash, {.time_ms = time_ms});
    EXPECT_EQ(ToHex(log_hash), words[3]);
    const registry::Verdict verdict =
        registry::Fold(state, {.commit = *commit, .arrival = arrival, .time_ms = time_ms});
    EXPECT_EQ(WordOf(verdict), words[4]);
  }
  store::StateHasher hasher;
  for (const registry::Change& change : state.TakeChanges()) {
    hasher.Add(registry::KeyText(change.key), change.value);
  }
  EXPECT_EQ(ToHex(hasher.Finish()), vectors.values.at("state-digest"));
}

// What the shell does in tests only: the packed folder is read by what everybody has.
bool Shell(const std::string& command) {
  return std::system(command.c_str()) == 0;  // NOLINT: fixed words and a temporary folder's name
}

TEST(Golden, AHomeFolderOfTheFirstFormatOpensAndGoesOn) {
  if (Rewrites()) {
    GoldenSociety golden;
    golden.society().Close("mira");
    ASSERT_TRUE(Shell(fmt::format("tar --sort=name --owner=0 --group=0 -C {} -czf {} mira",
                                  golden.society().folder().string(), kReplica.string())));
  }
  const testing::TempFolder folder;
  ASSERT_TRUE(Shell(fmt::format("tar -C {} -xpzf {}", folder.path().string(), kReplica.string())));
  testing::FakeClock clock;
  testing::SeededRandomness randomness(7);
  {
    // Other rules are no damage; reading changes nothing.
    const auto reader =
        Replica::Open(Home(folder.path() / "mira"), store::Access::kReadOnly, {clock, randomness});
    ASSERT_TRUE(reader.ok()) << reader.status();
    EXPECT_EQ(ReasonOf((*reader)->Verify().status()), "FOLD_OTHER");
  }
  const auto replica =
      Replica::Open(Home(folder.path() / "mira"), store::Access::kReadWrite, {clock, randomness});
  ASSERT_TRUE(replica.ok()) << replica.status();
  const Vectors vectors = ReadVectors();
  EXPECT_EQ((*replica)->store().point().arrivals, vectors.arrivals.size());
  EXPECT_EQ(ToHex(*(*replica)->store().StateDigest()), vectors.values.at("state-digest"));
  const absl::StatusOr<Verified> verified = (*replica)->Verify();
  ASSERT_TRUE(verified.ok()) << verified.status();
  EXPECT_TRUE(verified->faults.empty()) << verified->faults.front();
  EXPECT_TRUE(EnterGroup(**replica, {.name = "smithi", .taxon = "Brachypelma smithi"}).ok());
}

}  // namespace
}  // namespace broodpact::replica
