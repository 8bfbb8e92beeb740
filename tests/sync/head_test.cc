// Goal: only a head that was signed as it is passes. Method: the way there and back, and a law that
// changes one thing.

#include "client/sync/head.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/status.h"
#include "client/device/key.h"

namespace broodpact::sync {
namespace {

v1::SignedHead AnyHead(const Hash& cooperative) {
  const device::SecretKey key = device::SecretKey::OfSeed(std::string(32, 'k'));
  v1::SignedHead message;
  Write(SignHead(key, cooperative,
                 {.epoch = 1,
                  .point = {.arrivals = 7, .log_hash = Sha256("log")},
                  .tree_root = Sha256("root"),
                  .time_ms = 1'000}),
        message);
  return message;
}

TEST(Head, IsReadAsItWasSigned) {
  const auto head = ReadHead(AnyHead(Sha256("c")), Sha256("c"));
  ASSERT_TRUE(head.ok()) << head.status();
  EXPECT_EQ(head->epoch, 1U);
  EXPECT_EQ(head->point, (facts::LogPoint{.arrivals = 7, .log_hash = Sha256("log")}));
  EXPECT_EQ(head->tree_root, Sha256("root"));
  EXPECT_EQ(head->time_ms, 1'000);
}

TEST(Head, OfAnotherCooperativeIsRefused) {
  EXPECT_EQ(ReasonOf(ReadHead(AnyHead(Sha256("c")), Sha256("d")).status()), "HEAD_SIGNATURE_BAD");
}

RC_GTEST_PROP(Head, WithAnythingChangedIsRefused, ()) {
  v1::SignedHead message = AnyHead(Sha256("c"));
  const auto flip = [](std::string* bytes) {
    const auto at = *rc::gen::inRange<std::size_t>(0, bytes->size());
    (*bytes)[at] = static_cast<char>((*bytes)[at] ^ (1 << *rc::gen::inRange(0, 8)));
  };
  switch (*rc::gen::inRange(0, 7)) {
    case 0:
      message.set_epoch(2);
      break;
    case 1:
      message.set_arrivals(8);
      break;
    case 2:
      message.set_time_ms(999);
      break;
    case 3:
      flip(message.mutable_log_hash());
      break;
    case 4:
      flip(message.mutable_tree_root());
      break;
    case 5:
      flip(message.mutable_signature());
      break;
    default:
      flip(message.mutable_server_key());
      break;
  }
  RC_ASSERT(ReasonOf(ReadHead(message, Sha256("c")).status()) == "HEAD_SIGNATURE_BAD");
}

TEST(Head, WithAFieldOfAnotherLengthIsRefused) {
  v1::SignedHead message = AnyHead(Sha256("c"));
  message.mutable_signature()->push_back('x');
  EXPECT_EQ(ReasonOf(ReadHead(message, Sha256("c")).status()), "HEAD_SIGNATURE_BAD");
  EXPECT_EQ(ReasonOf(ReadHead(v1::SignedHead(), Sha256("c")).status()), "HEAD_SIGNATURE_BAD");
}

}  // namespace
}  // namespace broodpact::sync
