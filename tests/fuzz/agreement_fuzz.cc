// Any bytes as an agreement: an error with a reason, or one that can be built and read again to the
// same values. Never a crash.

#include <cstddef>
#include <cstdint>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/facts/terms.h"

namespace facts = broodpact::facts;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto agreement = facts::ParseAgreement({reinterpret_cast<const char*>(data), size});
  if (!agreement.ok()) {
    BP_CHECK(!broodpact::ReasonOf(agreement.status()).empty());
    return 0;
  }
  const auto again = facts::ParseAgreement(facts::BuildAgreement(*agreement));
  BP_CHECK(again.ok() && *again == *agreement);
  return 0;
}
