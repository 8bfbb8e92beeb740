#pragma once

// What a command says after it has stated something: what is so now, whether the server has it,
// and at most one next step.

#include <string>

#include "broodpact/v1/registry.pb.h"
#include "cli/desk.h"

namespace broodpact::cli {

struct Said {
  std::string message{};  // what is so now: one sentence with its full stop
  v1::Ref subject{};      // what it is about
  std::string next{};     // a command or what another keeper does; empty: nothing particular
};

// A name that can be typed and the id behind it; the beginning of the id where `name` is empty.
template <typename AnyId>
v1::Ref RefOf(const AnyId& id, const std::string& name) {
  v1::Ref ref{};
  ref.set_id(ToText(id));
  ref.set_name(name.empty() ? ToShortText(id) : name);
  return ref;
}

// Prints the result of an act: the message, then on the messages what the server does not have
// yet and the next step.
absl::Status ReportAct(const Desk& desk, const replica::Replica& replica,
                       const replica::Acted& acted, const Said& said);

}  // namespace broodpact::cli
