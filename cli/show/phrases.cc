#include "cli/show/phrases.h"

#include <fmt/format.h>

namespace broodpact::cli {

std::string NamesOf(const google::protobuf::RepeatedPtrField<v1::Ref>& refs) {
  std::string names;
  for (const v1::Ref& ref : refs) names += (names.empty() ? "" : ", ") + ref.name();
  return names;
}

std::string DistanceText(const std::string& word, std::int32_t km) {
  return km > 0 ? fmt::format("{}, {} km", word, km) : word;
}

}  // namespace broodpact::cli
