// Any bytes as a bundle: blocks, then an end or an error with a reason. Never a crash, and never
// more in memory than one block.

#include <cstddef>
#include <cstdint>
#include <sstream>
#include <string>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/sync/bundle.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::istringstream in(std::string(reinterpret_cast<const char*>(data), size));
  broodpact::sync::BundleReader reader(in);
  while (true) {
    const auto block = reader.Next();
    if (!block.ok()) {
      BP_CHECK(!broodpact::ReasonOf(block.status()).empty());
      return 0;
    }
    if (!*block) return 0;
    std::size_t bytes = 0;
    for (const auto& commit : (*block)->mail) bytes += commit.bytes.size();
    BP_CHECK(bytes <= broodpact::sync::kBundleBlockBytesMax);
  }
}
