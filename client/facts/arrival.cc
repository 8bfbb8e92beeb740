#include "client/facts/arrival.h"

#include <array>
#include <tuple>

#include "client/base/bytes.h"
#include "client/base/check.h"
#include "client/base/merkle.h"
#include "client/base/status.h"

namespace broodpact::facts {
namespace {

template <typename Number>
std::array<char, sizeof(Number)> BigEndian(Number number) {
  std::array<char, sizeof(Number)> bytes{};
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    bytes[bytes.size() - 1 - i] = static_cast<char>((number >> (8 * i)) & 0xff);
  }
  return bytes;
}

template <std::size_t kSize>
std::string_view ArrayBytes(const std::array<char, kSize>& bytes) {
  return {bytes.data(), bytes.size()};
}

// What the flags of a record say that there is.
constexpr std::uint8_t kWithSignature = 1;
constexpr std::uint8_t kWithFirstTime = 2;

std::int64_t TimeOf(std::string_view bytes) {
  std::uint64_t number = 0;
  for (const char byte : bytes) number = (number << 8) | static_cast<std::uint8_t>(byte);
  return static_cast<std::int64_t>(number);
}

std::string TimesBytes(const ArrivalTimes& times) {
  std::string bytes(ArrayBytes(BigEndian(static_cast<std::uint64_t>(times.time_ms))));
  if (!times.first_time_ms) return bytes;
  const auto first = BigEndian(static_cast<std::uint64_t>(*times.first_time_ms));
  return bytes.append(ArrayBytes(first));
}

absl::Status RecordFault(const std::string& wrong) {
  return Fail(absl::StatusCode::kInvalidArgument, "RECORD_FORM",
              "an arrival record " + wrong + "; the bytes may be damaged, fetch them again");
}

}  // namespace

absl::StatusOr<std::string> FirstRecords(std::string_view records, std::uint64_t count) {
  std::string first;
  ArrivalReader reader(records);
  for (std::uint64_t i = 0; i < count && !reader.at_end(); ++i) {
    BP_ASSIGN_OR_RETURN(const ArrivalView arrival, reader.Next());
    AppendArrival(first, arrival);
  }
  return first;
}

void AppendArrival(std::string& records, const ArrivalView& arrival) {
  BP_CHECK(!arrival.commit.empty() && arrival.commit.size() <= kCommitBytesMax);
  ByteWriter writer(records);
  writer.Text(arrival.commit);
  const std::string times = TimesBytes(TimesOf(arrival));
  writer.Raw(std::string_view(times).substr(0, sizeof(std::uint64_t)));
  records.push_back(static_cast<char>((arrival.signature ? kWithSignature : 0) |
                                      (arrival.first_time_ms ? kWithFirstTime : 0)));
  writer.Raw(std::string_view(times).substr(sizeof(std::uint64_t)));
  if (arrival.signature) writer.Raw(ViewOf(*arrival.signature));
}

absl::StatusOr<ArrivalView> ArrivalReader::Next() {
  ByteReader reader(rest_);
  const std::uint64_t size = reader.Unsigned();
  if (!reader.ok()) return RecordFault("does not begin with a size");
  if (size == 0 || size > kCommitBytesMax) return RecordFault("has a size that no commit has");

  ArrivalView arrival;
  arrival.commit = reader.Raw(static_cast<std::size_t>(size));
  arrival.time_ms = TimeOf(reader.Raw(sizeof(std::uint64_t)));
  const std::string_view flag = reader.Raw(1);
  if (!reader.ok()) return RecordFault("is cut short");
  const auto flags = static_cast<std::uint8_t>(flag.front());
  if (flags > (kWithSignature | kWithFirstTime)) return RecordFault("has an unknown flag");
  if ((flags & kWithFirstTime) != 0) {
    arrival.first_time_ms = TimeOf(reader.Raw(sizeof(std::uint64_t)));
  }
  if ((flags & kWithSignature) != 0) {
    arrival.signature = SignatureOfBytes(reader.Raw(std::tuple_size_v<Signature>));
  }
  if (!reader.ok()) return RecordFault("is cut short");
  const std::int64_t first = arrival.first_time_ms.value_or(0);
  if (arrival.first_time_ms && (first < 0 || first >= arrival.time_ms)) {
    return RecordFault("has a first time that is not before its time");
  }
  rest_ = reader.rest();
  return arrival;
}

Hash NextLogHash(const Hash& log_hash, const Hash& commit_hash, const ArrivalTimes& times) {
  return Sha256({ViewOf(log_hash), ViewOf(commit_hash), TimesBytes(times)});
}

Hash LogLeafHash(const Hash& commit_hash, const ArrivalTimes& times) {
  return MerkleLeafHash(std::string(ViewOf(commit_hash)).append(TimesBytes(times)));
}

std::string HeadMessage(const Hash& cooperative, const HeadClaim& claim) {
  using namespace std::string_literals;
  return "broodpact head v1\0"s.append(ViewOf(cooperative))
      .append(ArrayBytes(BigEndian(claim.epoch)))
      .append(ArrayBytes(BigEndian(claim.point.arrivals)))
      .append(ViewOf(claim.point.log_hash))
      .append(ViewOf(claim.tree_root))
      .append(ArrayBytes(BigEndian(static_cast<std::uint64_t>(claim.time_ms))));
}

LogPoint PointAfter(const LogPoint& before, const ArrivalView& arrival) {
  return {.arrivals = before.arrivals + 1,
          .log_hash = NextLogHash(before.log_hash, Sha256(arrival.commit), TimesOf(arrival))};
}

Hash LogLeafHash(const ArrivalView& arrival) {
  return LogLeafHash(Sha256(arrival.commit), TimesOf(arrival));
}

}  // namespace broodpact::facts
