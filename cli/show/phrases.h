#pragma once

// Phrases that several tables have.

#include <cstdint>
#include <string>

#include "broodpact/v1/registry.pb.h"

namespace broodpact::cli {

// "mira, tomas".
std::string NamesOf(const google::protobuf::RepeatedPtrField<v1::Ref>& refs);

// The word, and how far it is: "near, 40 km".
std::string DistanceText(const std::string& word, std::int32_t km);

}  // namespace broodpact::cli
