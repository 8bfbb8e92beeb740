#include "client/facts/statement.h"

namespace broodpact::facts {

std::string JoiningMessage(const Hash& cooperative, const KeeperId& keeper,
                           const PublicKey& device_key) {
  using namespace std::string_literals;
  return "broodpact joining v1\0"s.append(ViewOf(cooperative))
      .append(ViewOf(keeper.bytes))
      .append(ViewOf(device_key));
}

std::string RotationMessage(const Hash& cooperative, const DeviceId& device) {
  using namespace std::string_literals;
  return "broodpact rotation v1\0"s.append(ViewOf(cooperative)).append(ViewOf(device.bytes));
}

}  // namespace broodpact::facts
