#pragma once

// The dues that run with a mated female: the loans under which she was paired in her present
// interval. A keeper who gives her away discloses them, and who takes her takes them over.

#include <vector>

#include "client/registry/subject.h"

namespace broodpact::registry {

// What the answer follows from: her pairings, the loans that they were under, and her clutches.
struct Mating {
  std::vector<Pairing> pairings{};
  std::vector<Loan> loans{};
  std::vector<Clutch> clutches{};
};

// The keeper who stands in this loan for `keeper`: itself where it is a party, or the party whose
// place it took with her. Empty: it does not stand in it.
KeeperId SeatOf(const Animal& female, const Loan& loan, const KeeperId& keeper);

// The version of the loan's agreement that shares what she lays on a day: the one in force then, as
// far as who took her over has signed it.
Hash VersionOfSac(const Animal& female, const Loan& loan, const DaySpan& laying);

// The same for what she may lay yet: the version of the due that runs with her.
Hash VersionOfDue(const Animal& female, const Loan& loan);

// The loans, in order of id, whose dues run with her: in force or closed since, her owner stands in
// them, she was paired under them since her last moult without refusing, and the sacs that they
// cover are not all laid. None of a dead one.
std::vector<LoanId> DuesOf(const Animal& female, const Mating& mating);

}  // namespace broodpact::registry
