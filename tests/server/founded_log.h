#pragma once

// A log that works by hand, with the commit that founds its cooperative in it.

#include "gtest/gtest.h"

#include "client/base/bytes.h"
#include "server/arrival_log.h"
#include "server/door.h"
#include "tests/facts/any_chain.h"

namespace broodpact::server {

// Has `mira` found a cooperative as the first arrival of the empty log.
inline void Found(ArrivalLog& log, facts::Author& mira) {
  facts::Founding founding{.name = "Brachypelma circle", .keeper_name = "mira"};
  founding.keeper.bytes.back() = 1;
  founding.device_key = mira.public_key();
  const std::string bytes = mira.Write({founding});
  log.Submit({.run = *CheckFounding(bytes, ViewOf(mira.Sign())),
              .meta = {},
              .founds = true,
              .answer = [](const absl::StatusOr<Receipt>& answer) { EXPECT_TRUE(answer.ok()); }});
  while (log.Work()) continue;
}

}  // namespace broodpact::server
