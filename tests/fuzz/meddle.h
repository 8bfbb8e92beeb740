#pragma once

// Changes messages where they mean something: another number in a field, another one's id, a
// statement twice or gone. Bytes that are changed blindly seldom get past the parser.
//
// By hand, because Debian 12 has no library that does it.

#include <random>
#include <string>
#include <vector>

#include <google/protobuf/message.h>

namespace broodpact::fuzz {

class Meddler {
 public:
  Meddler();

  // From here on it does as `seed` wants.
  void Begin(unsigned seed) { random_.seed(seed); }

  // Remembers the ids, hashes and other bytes of a message: what Meddle puts in their places.
  void Learn(const google::protobuf::Message& message);

  // Changes one thing in the message, or in one that it holds.
  void Meddle(google::protobuf::Message& message);

  // A number below `end`, which is not 0.
  std::size_t Below(std::size_t end) { return random_() % end; }

 private:
  using Message = google::protobuf::Message;
  using Field = google::protobuf::FieldDescriptor;

  void MeddleRepeated(Message& message, const Field& field);
  void MeddleSingle(Message& message, const Field& field);
  void SetScalar(Message& message, const Field& field);
  std::int64_t Number(std::int64_t present);
  std::string Bytes(const std::string& present);

  std::minstd_rand random_;
  std::vector<std::string> learnt_;
};

}  // namespace broodpact::fuzz
