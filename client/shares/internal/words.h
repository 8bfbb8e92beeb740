#pragma once

// The lines of a ratio as sentences.

#include <string>
#include <vector>

#include "client/facts/terms.h"
#include "client/shares/split.h"

namespace broodpact::shares::internal {

using Names = std::vector<std::string>;

// For lines of kQuota, kRemainder, kQuotient, kMargin, kCarried, kRunning, kSireSide and kSirePart.
std::string RatioSentence(const Step& step, const facts::Terms& terms, const Names& names);

// " Of equal parts, the larger share comes first.", or nothing.
std::string TieSentence(TieRule tie);

}  // namespace broodpact::shares::internal
