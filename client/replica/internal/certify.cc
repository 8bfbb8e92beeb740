#include "client/replica/internal/certify.h"

#include "client/base/status.h"
#include "client/device/key.h"

namespace broodpact::replica {

absl::Status Certify(sync::Credentials& credentials, const Certifier& certifier) {
  const device::SecretKey tls_key = device::SecretKey::Generate();
  BP_ASSIGN_OR_RETURN(credentials.certificate_pem, certifier(tls_key.public_key()));
  credentials.key_pem = tls_key.Pem();
  return absl::OkStatus();
}

}  // namespace broodpact::replica
