// Any bytes as arrival records: an error with a reason, or a range that is the same when its parts
// are written again. Never a crash, and never a range that is believed without a key.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/facts/range.h"

namespace facts = broodpact::facts;

namespace {

void CheckRead(const facts::Range& range, std::string_view records) {
  std::string again;
  for (std::size_t i = 0; i < range.arrivals.size(); ++i) {
    facts::AppendArrival(again, {.commit = range.bytes[i],
                                 .time_ms = range.arrivals[i].time_ms,
                                 .first_time_ms = range.arrivals[i].first_time_ms,
                                 .signature = range.signatures[i]});
  }
  BP_CHECK(again == records);

  facts::RangeContext context;
  context.head_of = [](const facts::ChainId&) { return facts::ChainHead{}; };
  context.key_of = [](const broodpact::DeviceId&) { return std::optional<broodpact::PublicKey>(); };
  const auto heads = facts::CheckRange(range, context);
  BP_CHECK(heads.ok() ? range.empty() : !broodpact::ReasonOf(heads.status()).empty());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view records(reinterpret_cast<const char*>(data), size);
  facts::Range range;
  const absl::Status status = facts::ReadOnto(range, records);
  if (status.ok()) {
    CheckRead(range, records);
  } else {
    BP_CHECK(!broodpact::ReasonOf(status).empty());
  }
  return 0;
}
