// Goal: a value has one encoding, and hostile bytes cost nothing. Method: published varints and
// zigzags, laws over every kind of value, and bytes that are cut, too long or not in shortest form.

#include "client/base/bytes.h"

#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/base/published.h"

namespace broodpact {
namespace {

using namespace std::string_literals;

std::string Unsigned(std::uint64_t value) {
  std::string bytes;
  ByteWriter(bytes).Unsigned(value);
  return bytes;
}

std::string Signed(std::int64_t value) {
  std::string bytes;
  ByteWriter(bytes).Signed(value);
  return bytes;
}

// Source: Protocol Buffers documentation, "Encoding"; see the file.
TEST(Bytes, AreThePublishedVarints) {
  for (const auto& each : PublishedCases("crypto/protobuf_wire.json", "varint")) {
    const std::string bytes = BytesAt(each, "bytes");
    EXPECT_EQ(Unsigned(std::stoull(TextAt(each, "value"))), bytes) << each;
    ByteReader reader(bytes);
    EXPECT_EQ(reader.Unsigned(), std::stoull(TextAt(each, "value"))) << each;
    EXPECT_TRUE(reader.ok() && reader.at_end());
  }
}

// Source: as above.
TEST(Bytes, AreThePublishedZigzags) {
  for (const auto& each : PublishedCases("crypto/protobuf_wire.json", "zigzag")) {
    const auto value = each.at("signed").get<std::int64_t>();
    const auto encoded = each.at("encoded").get<std::uint64_t>();
    EXPECT_EQ(Signed(value), Unsigned(encoded)) << each;
  }
}

// Numbers of every length, with both ends of the range likely.
rc::Gen<std::uint64_t> AnyNumber() {
  return rc::gen::map(rc::gen::pair(rc::gen::inRange(0, 65), rc::gen::arbitrary<std::uint64_t>()),
                      [](const std::pair<int, std::uint64_t>& drawn) {
                        if (drawn.first == 64)
                          return std::numeric_limits<std::uint64_t>::max() - drawn.second % 2;
                        return drawn.first == 0 ? drawn.second % 2
                                                : drawn.second >> (64 - drawn.first);
                      });
}

RC_GTEST_PROP(Bytes, ReadBackAsTheValuesWritten, ()) {
  const auto number = *AnyNumber();
  const auto any = static_cast<std::int64_t>(*AnyNumber());
  const auto text = *rc::gen::arbitrary<std::string>();
  AnimalId id;
  id.bytes.fill(static_cast<std::uint8_t>(*rc::gen::inRange(0, 256)));

  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(number);
  writer.Signed(any);
  writer.Text(text);
  writer.Name(id);

  ByteReader reader(bytes);
  RC_ASSERT(reader.Unsigned() == number);
  RC_ASSERT(reader.Signed() == any);
  RC_ASSERT(reader.Text() == text);
  RC_ASSERT(reader.Name<AnimalId>() == id);
  RC_ASSERT(reader.ok() && reader.at_end());
}

RC_GTEST_PROP(Bytes, ReadOneFormOfANumberAlone, ()) {
  const auto bytes = *rc::gen::container<std::string>(
      rc::gen::element('\0', '\1', '\x7f', '\x80', '\x81', '\xff'));
  ByteReader reader(bytes);
  const std::uint64_t value = reader.Unsigned();
  if (!reader.ok()) {
    RC_ASSERT(value == 0U);
    RC_ASSERT(reader.at_end());
    return;
  }
  RC_ASSERT(Unsigned(value) == bytes.substr(0, bytes.size() - reader.rest().size()));
}

RC_GTEST_PROP(Bytes, AreNeverReadPastTheirEnd, (const std::string& bytes)) {
  ByteReader reader(bytes);
  std::size_t read = 0;
  while (reader.ok() && !reader.at_end()) {
    switch (*rc::gen::inRange(0, 4)) {
      case 0:
        reader.Unsigned();
        break;
      case 1:
        read += reader.Text().size();
        break;
      case 2:
        read += reader.Raw(*rc::gen::inRange<std::size_t>(1, 20)).size();
        break;
      default:
        RC_ASSERT(reader.Count(2) <= bytes.size() / 2);
    }
  }
  RC_ASSERT(read <= bytes.size());
}

TEST(Bytes, AreRefusedWhereANumberIsCutTooLongOrNotShortest) {
  const std::string max = "\xff\xff\xff\xff\xff\xff\xff\xff\xff\x01"s;
  ByteReader fits(max);
  EXPECT_EQ(fits.Unsigned(), std::numeric_limits<std::uint64_t>::max());
  EXPECT_TRUE(fits.ok());
  for (const std::string& bytes :
       {""s, "\x80"s, "\x80\x00"s, "\xff\xff\xff\xff\xff\xff\xff\xff\xff\x02"s,
        "\xff\xff\xff\xff\xff\xff\xff\xff\xff\x81\x00"s}) {
    ByteReader reader(bytes);
    EXPECT_EQ(reader.Unsigned(), 0U);
    EXPECT_FALSE(reader.ok()) << BytesToHex(bytes);
  }
}

// A caller reserves memory for a count before it has seen one element.
TEST(Bytes, NeverPromiseMoreElementsThanFitIntoTheRest) {
  const std::string bytes = Unsigned(3) + "sixsix";
  ByteReader reader(bytes);
  EXPECT_EQ(reader.Count(2), 3U);
  EXPECT_TRUE(reader.ok());

  ByteReader larger(bytes);
  EXPECT_EQ(larger.Count(3), 0U);
  EXPECT_FALSE(larger.ok());

  const std::string hostile = Unsigned(std::numeric_limits<std::uint64_t>::max());
  ByteReader huge(hostile);
  EXPECT_EQ(huge.Count(1), 0U);
  EXPECT_FALSE(huge.ok());
}

TEST(Bytes, StayWorthlessAfterTheFirstFault) {
  const std::string bytes = Unsigned(9) + "short";
  ByteReader reader(bytes);
  EXPECT_EQ(reader.Text(), "");
  EXPECT_EQ(reader.Unsigned(), 0U);
  EXPECT_EQ(reader.Raw(1), "");
  EXPECT_FALSE(reader.ok());
}

}  // namespace
}  // namespace broodpact
