#pragma once

// How a device comes by a certificate for its connections: always with a fresh TLS key.

#include <functional>
#include <string>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/sync/connection.h"

namespace broodpact::replica {

// Has a server sign a certificate for a key, and returns it as PEM: by joining, claiming or
// renewing (sync/joining.h).
using Certifier = std::function<absl::StatusOr<std::string>(const PublicKey& tls_key)>;

// Makes a TLS key, has it certified, and puts both into `credentials`. Errors: those of
// `certifier`; nothing is changed then.
absl::Status Certify(sync::Credentials& credentials, const Certifier& certifier);

}  // namespace broodpact::replica
