#include "client/base/bytes.h"

namespace broodpact {

void ByteWriter::Unsigned(std::uint64_t value) {
  while (value >= 0x80) {
    out_.push_back(static_cast<char>(0x80 | (value & 0x7f)));
    value >>= 7;
  }
  out_.push_back(static_cast<char>(value));
}

void ByteWriter::Signed(std::int64_t value) {
  const auto bits = static_cast<std::uint64_t>(value);
  Unsigned((bits << 1) ^ (value < 0 ? ~std::uint64_t{0} : 0));
}

void ByteWriter::Text(std::string_view text) {
  Unsigned(text.size());
  out_.append(text);
}

std::uint64_t ByteReader::Unsigned() {
  std::uint64_t value = 0;
  for (std::size_t i = 0; i < rest_.size() && i < 10; ++i) {
    const auto byte = static_cast<std::uint8_t>(rest_[i]);
    if (i == 9 && byte > 1) break;  // past 64 bits
    value |= std::uint64_t{byte & 0x7fU} << (7 * i);
    if (byte < 0x80) {
      if (byte == 0 && i > 0) break;  // not the shortest form
      rest_.remove_prefix(i + 1);
      return value;
    }
  }
  Fail();
  return 0;
}

std::int64_t ByteReader::Signed() {
  const std::uint64_t bits = Unsigned();
  return static_cast<std::int64_t>((bits >> 1) ^ ((bits & 1) != 0 ? ~std::uint64_t{0} : 0));
}

std::string_view ByteReader::Text() {
  const std::uint64_t size = Unsigned();
  if (size > rest_.size()) {
    Fail();
    return {};
  }
  return Raw(static_cast<std::size_t>(size));
}

std::string_view ByteReader::Raw(std::size_t size) {
  if (size > rest_.size()) {
    Fail();
    return {};
  }
  const std::string_view raw = rest_.substr(0, size);
  rest_.remove_prefix(size);
  return raw;
}

std::size_t ByteReader::Count(std::size_t element_size_min) {
  const std::uint64_t count = Unsigned();
  const std::size_t size_min = element_size_min == 0 ? 1 : element_size_min;
  if (count > rest_.size() / size_min) {
    Fail();
    return 0;
  }
  return static_cast<std::size_t>(count);
}

void ByteReader::Fail() {
  ok_ = false;
  rest_ = {};
}

}  // namespace broodpact
