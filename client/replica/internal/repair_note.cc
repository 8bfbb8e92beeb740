#include "client/replica/internal/repair_note.h"

#include <string>

#include "client/base/bytes.h"
#include "client/base/status.h"

namespace broodpact::replica {
namespace {

// Grammar, in the encoding of base/bytes.h: given back, delivered again, refused, one more than the
// arrival to which the log went back (0: it did not), new server (0 or 1).
std::string EncodeRepair(const Repair& repair) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(repair.given_back);
  writer.Unsigned(repair.delivered_again);
  writer.Unsigned(repair.refused);
  writer.Unsigned(repair.rewound_to ? *repair.rewound_to + 1 : 0);
  writer.Unsigned(repair.new_server ? 1 : 0);
  return bytes;
}

}  // namespace

absl::StatusOr<std::optional<Repair>> ReadRepair(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaRepair));
  if (!bytes || bytes->empty()) return std::optional<Repair>();
  ByteReader reader(*bytes);
  Repair repair;
  repair.given_back = reader.Unsigned();
  repair.delivered_again = reader.Unsigned();
  repair.refused = reader.Unsigned();
  const std::uint64_t rewound = reader.Unsigned();
  if (rewound > 0) repair.rewound_to = rewound - 1;
  repair.new_server = reader.Unsigned() > 0;
  return reader.ok() ? std::optional<Repair>(repair) : std::nullopt;
}

absl::Status KeepRepair(store::Store& database, const Repair& repair) {
  BP_ASSIGN_OR_RETURN(const std::optional<Repair> kept, ReadRepair(database));
  Repair all = kept.value_or(Repair{});
  all.Add(repair);
  return database.PutMeta(kMetaRepair, EncodeRepair(all));
}

absl::Status DropRepair(store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaRepair));
  return bytes && !bytes->empty() ? database.PutMeta(kMetaRepair, "") : absl::OkStatus();
}

}  // namespace broodpact::replica
