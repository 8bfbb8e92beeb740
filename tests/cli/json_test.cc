// Goal: what --json prints is a JSON document with the field names of the registry's messages, and
// errors are one. Method: read it back with a parser that is not ours.

#include "cli/terminal/json.h"

#include <sstream>

#include <gtest/gtest.h>

#include "broodpact/v1/registry.pb.h"
#include "client/base/status.h"
#include <nlohmann/json.hpp>

namespace broodpact::cli {
namespace {

TEST(Json, HasProtoNamesZerosAndEnumWords) {
  std::ostringstream out;
  std::ostringstream messages;
  const Terminal terminal{.out = out, .messages = messages};
  v1::Split split;
  split.set_slings_counted(73);
  split.mutable_clutch()->set_name("rosa-26");
  split.add_parts()->mutable_keeper()->set_name("mira");
  ASSERT_TRUE(PrintJson(terminal, split).ok());
  const nlohmann::json json = nlohmann::json::parse(out.str());
  EXPECT_EQ(json["slings_counted"], 73);
  EXPECT_EQ(json["recorded"], false);
  EXPECT_EQ(json["clutch"]["name"], "rosa-26");
  EXPECT_EQ(json["parts"][0]["slings"], 0);
  EXPECT_EQ(out.str().find('\n'), out.str().size() - 1) << "one line a document";

  v1::Group group;
  group.set_standing(v1::STANDING_PROVISIONAL);
  std::ostringstream group_out;
  ASSERT_TRUE(PrintJson({.out = group_out, .messages = messages}, group).ok());
  EXPECT_EQ(nlohmann::json::parse(group_out.str())["standing"], "STANDING_PROVISIONAL");
}

TEST(Json, TellsAnErrorWithReasonMessageAndExitCode) {
  const nlohmann::json json = nlohmann::json::parse(
      ErrorJson(Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT", "no animal \"a\\b\"\n here")));
  EXPECT_EQ(json["error"]["reason"], "UNKNOWN_SUBJECT");
  EXPECT_EQ(json["error"]["message"], "no animal \"a\\b\"\n here");
  EXPECT_EQ(json["error"]["exit"], 3);
}

TEST(Json, IsJsonWhateverBytesAnErrorNames) {
  const std::string text = "there is no command '\xff\x80\xce\x95 \xf0\x9f\x95\xb7 \"\\\n\xc3'";
  const nlohmann::json json = nlohmann::json::parse(JsonString(text), nullptr, false);
  ASSERT_FALSE(json.is_discarded());
  EXPECT_EQ(
      json.get<std::string>(),
      "there is no command '\xef\xbf\xbd\xef\xbf\xbd\xce\x95 \xf0\x9f\x95\xb7 \"\\\n\xef\xbf\xbd'");
}

}  // namespace
}  // namespace broodpact::cli
