#include "tests/facts/any_chain.h"

namespace broodpact::facts {

device::SecretKey KeyOfDevice(std::uint8_t number) {
  return device::SecretKey::OfSeed(std::string(32, static_cast<char>(number)));
}

Statement AnyMoult(std::uint32_t number) {
  Moult moult = {.day = {.earliest = Day{20'000}, .latest = Day{20'000}}, .moult_count = number};
  moult.animal.bytes.back() = 7;
  return moult;
}

std::string Author::Write(const std::vector<Statement>& statements) {
  const CommitHeader header = {.cooperative = cooperative_,
                               .device = DeviceOf(key_.public_key()),
                               .seq = head_.seq + 1,
                               .prev = head_.hash,
                               .clock_ms = 1'790'000'000'000};
  std::string bytes = BuildCommit(header, statements);
  head_ = {.seq = header.seq, .hash = Sha256(bytes)};
  // The founding commit names no cooperative; those after it name its hash.
  if (cooperative_ == Hash{}) cooperative_ = head_.hash;
  return bytes;
}

std::string TrialLog::Records(std::size_t first) const {
  std::string records;
  for (std::size_t i = first - 1; i < commits.size(); ++i) {
    AppendArrival(records, {.commit = commits[i],
                            .time_ms = 1000 + static_cast<std::int64_t>(i),
                            .signature = signatures[i]});
  }
  return records;
}

TrialLog LogOfTwo(std::size_t rest) {
  TrialLog log;
  const auto arrive = [&log](Author& author, const std::vector<Statement>& statements) {
    log.commits.push_back(author.Write(statements));
    log.signatures.emplace_back(author.Sign());
  };

  Author founder(1, Hash{});
  Founding founding = {.name = "Brachypelma circle", .keeper_name = "mira"};
  founding.keeper.bytes.back() = 1;
  founding.device_key = founder.public_key();
  arrive(founder, {founding});
  log.cooperative = founder.head().hash;

  Author newcomer(2, log.cooperative);
  Joining joining = {.keeper_name = "tomas", .device_key = newcomer.public_key()};
  joining.keeper.bytes.back() = 2;
  joining.invite_key.fill(9);
  joining.invite_signature.fill(9);
  arrive(newcomer, {joining});

  for (std::size_t i = 0; i < rest; ++i) {
    arrive(i % 2 == 0 ? founder : newcomer, {AnyMoult(static_cast<std::uint32_t>(i))});
  }
  return log;
}

}  // namespace broodpact::facts
