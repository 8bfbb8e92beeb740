#pragma once

// Who decides about registrars: more than half of them; or, where those apart from the one that it
// is about are too few for that, more than half of all keepers. So a stolen key of a registrar
// alone makes nobody a registrar as soon as there are two, and removes nobody as soon as there are
// three: of two the other one is removed by keepers, and whoever has the key can invite as many of
// those as there are. A registrar who is lost, even the only one, can be co-signed away.
//
// Pure.

#include <cstdint>

namespace broodpact::registry {

// Keepers who have a device.
struct Votes {
  std::uint64_t registrars = 0;
  std::uint64_t voters = 0;      // registrars and keepers, no observers
  bool about_registrar = false;  // whether the one that it is about is among the registrars
};

struct Electorate {
  bool of_registrars = true;  // else of all voters
  std::uint64_t needed = 1;   // signatures; the one that it is about does not sign
};

Electorate ElectorateFor(const Votes& votes);

}  // namespace broodpact::registry
