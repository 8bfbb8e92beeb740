#include "client/facts/epoch.h"

#include <array>
#include <cstddef>
#include <string_view>

namespace broodpact::facts {
namespace {

// A number in big-endian bytes, onto the end of `message`.
template <typename Number>
void AppendBigEndian(std::string& message, Number number) {
  for (std::size_t i = sizeof(Number); i > 0; --i) {
    message.push_back(static_cast<char>((number >> (8 * (i - 1))) & 0xFFU));
  }
}

}  // namespace

std::string EpochMessage(const Hash& cooperative, const EpochClaim& claim) {
  using namespace std::string_literals;
  std::string message = "broodpact epoch v1\0"s;
  message.append(ViewOf(cooperative));
  AppendBigEndian(message, claim.epoch);
  AppendBigEndian(message, claim.common.arrivals);
  message.append(ViewOf(claim.common.log_hash));
  AppendBigEndian(message, claim.lost_arrivals);
  AppendBigEndian(message, static_cast<std::uint64_t>(claim.time_ms));
  return message;
}

}  // namespace broodpact::facts
