#pragma once

// Names behind ids, each read once: what messages and sentences refer to subjects by.

#include <map>
#include <string>
#include <vector>

#include "absl/status/status.h"

#include "broodpact/v1/registry.pb.h"
#include "client/registry/encode.h"
#include "client/registry/state.h"

namespace broodpact::replica {

class RefBook {
 public:
  // `source` outlives the book.
  explicit RefBook(const registry::Source& source) : source_(source) {}

  // Reads several names in one go, so that asking for each does not read again.
  void Fetch(const std::vector<registry::SubjectKey>& keys);

  // The short name of a subject; its short id where it has none, or is not there. Empty for an
  // empty id.
  std::string Name(registry::Kind kind, const IdBytes& id);
  std::string Name(const KeeperId& id) { return Name(registry::Kind::kKeeper, id.bytes); }
  std::string Name(const GroupId& id) { return Name(registry::Kind::kGroup, id.bytes); }
  std::string Name(const AnimalId& id) { return Name(registry::Kind::kAnimal, id.bytes); }
  std::string Name(const LoanId& id) { return Name(registry::Kind::kLoan, id.bytes); }
  std::string Name(const ClutchId& id) { return Name(registry::Kind::kClutch, id.bytes); }
  std::string Name(const LotId& id) { return Name(registry::Kind::kLot, id.bytes); }
  std::vector<std::string> Names(const std::vector<KeeperId>& keepers);

  // Id and name.
  template <typename AnyId>
  v1::Ref Ref(const AnyId& id) {
    v1::Ref ref;
    ref.set_id(ToText(id));
    ref.set_name(Name(id));
    return ref;
  }

  // The first error of the source, if any: names since then are ids only.
  const absl::Status& status() const { return status_; }

 private:
  const registry::Source& source_;
  std::map<registry::SubjectKey, std::string> names_;
  absl::Status status_;
};

// The short name in the bytes of a subject; empty where its kind has none.
std::string NameIn(registry::Kind kind, std::string_view bytes);

}  // namespace broodpact::replica
