// Goal: an error keeps its reason on the way up. Method: make, annotate and pass on.

#include "client/base/status.h"

#include <string>

#include <gtest/gtest.h>

namespace broodpact {
namespace {

absl::Status Unsigned() {
  return Fail(absl::StatusCode::kFailedPrecondition, "TERMS_UNSIGNED", "ask mira to sign");
}

absl::StatusOr<int> Half(absl::StatusOr<int> whole) {
  BP_ASSIGN_OR_RETURN(const int value, std::move(whole));
  return value / 2;
}

absl::Status Pass(const absl::Status& status) {
  BP_RETURN_IF_ERROR(status);
  return absl::OkStatus();
}

TEST(Errors, CarryACodeAReasonAndAMessage) {
  EXPECT_EQ(Unsigned().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(ReasonOf(Unsigned()), "TERMS_UNSIGNED");
  EXPECT_EQ(std::string(Unsigned().message()), "ask mira to sign");
  EXPECT_EQ(ReasonOf(absl::OkStatus()), "");
  EXPECT_EQ(ReasonOf(absl::UnknownError("from elsewhere")), "");
}

TEST(Errors, KeepCodeAndReasonWhenTheyAreAnnotated) {
  const absl::Status annotated = Annotate(Unsigned(), "arrival 7");
  EXPECT_EQ(annotated.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(ReasonOf(annotated), "TERMS_UNSIGNED");
  EXPECT_EQ(std::string(annotated.message()), "arrival 7: ask mira to sign");
  EXPECT_TRUE(Annotate(absl::OkStatus(), "arrival 7").ok());
}

TEST(Errors, AreReturnedByTheMacrosAndValuesAreNot) {
  EXPECT_EQ(Half(4).value(), 2);
  EXPECT_EQ(ReasonOf(Half(Unsigned()).status()), "TERMS_UNSIGNED");
  EXPECT_EQ(ReasonOf(Pass(Unsigned())), "TERMS_UNSIGNED");
  EXPECT_TRUE(Pass(absl::OkStatus()).ok());
}

}  // namespace
}  // namespace broodpact
