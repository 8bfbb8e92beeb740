#include "client/device/random.h"

#include <limits>

#include <openssl/rand.h>

namespace broodpact::device {
namespace {

class MachineRandomness final : public Randomness {
 public:
  std::string Bytes(std::size_t size) override {
    BP_CHECK(size <= static_cast<std::size_t>(std::numeric_limits<int>::max()));
    std::string bytes(size, '\0');
    // A machine without randomness cannot make keys or ids: there is nothing to go on with.
    BP_CHECK(RAND_bytes(reinterpret_cast<unsigned char*>(bytes.data()), static_cast<int>(size)) ==
             1);
    return bytes;
  }
};

}  // namespace

Randomness& SystemRandomness() {
  static MachineRandomness randomness;
  return randomness;
}

}  // namespace broodpact::device
