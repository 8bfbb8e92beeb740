// Goal: a small secret file is whole, private and durable, or not there. Method: write, replace and
// read in a folder of the test, and fail in every way that a folder can.

#include "client/device/private_file.h"

#include <fstream>
#include <string>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "tests/device/temporary_folder.h"
#include <sys/stat.h>

namespace broodpact::device {
namespace {

unsigned ModeOf(const std::filesystem::path& file) {
  struct stat status {};
  EXPECT_EQ(::stat(file.c_str(), &status), 0);
  return status.st_mode & 07777U;
}

TEST(PrivateFile, ReadsBackWhatWasWrittenAndReplaced) {
  const TemporaryFolder folder;
  ASSERT_TRUE(WritePrivateFile(folder / "server", "one").ok());
  EXPECT_EQ(ReadPrivateFile(folder / "server").value(), "one");
  ASSERT_TRUE(WritePrivateFile(folder / "server", std::string("t\0w\no", 5)).ok());
  EXPECT_EQ(ReadPrivateFile(folder / "server").value(), std::string("t\0w\no", 5));
  EXPECT_EQ(folder.Files(), 1);
}

TEST(PrivateFile, IsForItsOwnerOnlyWhateverStoodThere) {
  const TemporaryFolder folder;
  std::ofstream(folder / "server") << "public";
  ::chmod((folder / "server").c_str(), 0644);
  ASSERT_TRUE(WritePrivateFile(folder / "server", "private").ok());
  EXPECT_EQ(ModeOf(folder / "server"), 0600U);
}

TEST(PrivateFile, IsNotReplacedWhereItMustBeNew) {
  const TemporaryFolder folder;
  ASSERT_TRUE(WriteNewPrivateFile(folder / "key", "first").ok());
  EXPECT_EQ(ModeOf(folder / "key"), 0600U);
  const absl::Status second = WriteNewPrivateFile(folder / "key", "second");
  EXPECT_EQ(ReasonOf(second), "FILE_EXISTS");
  EXPECT_EQ(second.code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(ReadPrivateFile(folder / "key").value(), "first");
  EXPECT_EQ(folder.Files(), 1);
}

TEST(PrivateFile, IsReadUpToItsBoundAndNotBeyond) {
  const TemporaryFolder folder;
  ASSERT_TRUE(WritePrivateFile(folder / "large", std::string(kPrivateFileBytesMax, 'x')).ok());
  EXPECT_EQ(ReadPrivateFile(folder / "large").value().size(), kPrivateFileBytesMax);
  ASSERT_TRUE(WritePrivateFile(folder / "large", std::string(kPrivateFileBytesMax + 1, 'x')).ok());
  const absl::Status status = ReadPrivateFile(folder / "large").status();
  EXPECT_EQ(ReasonOf(status), "FILE_TOO_LARGE");
  EXPECT_EQ(status.code(), absl::StatusCode::kResourceExhausted);
}

TEST(PrivateFile, SaysWhyItCannotBeRead) {
  const TemporaryFolder folder;
  EXPECT_EQ(ReasonOf(ReadPrivateFile(folder / "none").status()), "FILE_MISSING");
  EXPECT_EQ(ReasonOf(ReadPrivateFile(folder / "none/none").status()), "FILE_MISSING");
  EXPECT_EQ(ReasonOf(ReadPrivateFile(folder.path()).status()), "FILE_READ");
}

TEST(PrivateFile, SaysWhyItCannotBeWrittenAndLeavesNothing) {
  const TemporaryFolder folder;
  EXPECT_EQ(ReasonOf(WritePrivateFile(folder / "none/server", "x")), "FILE_WRITE");
  ASSERT_TRUE(std::filesystem::create_directories(folder / "taken/by/folders"));
  EXPECT_EQ(ReasonOf(WritePrivateFile(folder / "taken", "x")), "FILE_WRITE");
  EXPECT_EQ(folder.Files(), 1);
}

}  // namespace
}  // namespace broodpact::device
