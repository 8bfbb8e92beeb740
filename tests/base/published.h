#pragma once

// Published check values: read from tests/published, where each file names its source.

#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include <gtest/gtest.h>

#include "client/base/check.h"
#include "client/base/hash.h"
#include <nlohmann/json.hpp>

namespace broodpact {

// The cases of a file, such as "crypto/sha256.json": never none.
inline std::vector<nlohmann::json> PublishedCases(std::string_view file) {
  std::ifstream stream(std::string(BROODPACT_PUBLISHED) + "/" + std::string(file));
  const nlohmann::json content = nlohmann::json::parse(stream);
  std::vector<nlohmann::json> cases = content.at("cases");
  BP_CHECK(!cases.empty());
  return cases;
}

// Those of them whose "kind" is `kind`: never none.
inline std::vector<nlohmann::json> PublishedCases(std::string_view file, std::string_view kind) {
  std::vector<nlohmann::json> chosen;
  for (const nlohmann::json& each : PublishedCases(file)) {
    if (each.at("kind") == kind) chosen.push_back(each);
  }
  BP_CHECK(!chosen.empty());
  return chosen;
}

inline std::string TextAt(const nlohmann::json& object, const char* key) {
  return object.at(key).get<std::string>();
}

// The bytes that hexadecimal digits at `key` say.
inline std::string BytesAt(const nlohmann::json& object, const char* key) {
  const auto bytes = HexToBytes(TextAt(object, key));
  BP_CHECK(bytes.has_value());
  return *bytes;
}

}  // namespace broodpact
