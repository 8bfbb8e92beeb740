#pragma once

// Sealed text: a short secret (a locality, an address, a price, a private note) that travels with
// everything else and opens only on the devices that it was sealed to.
//
// Method, version 1: a fresh content key for each text. The text, padded, is encrypted once, by
// AES-256-GCM (NIST SP 800-38D) under a key derived from the content key. For each recipient the
// content key is wrapped: a fresh X25519 key (RFC 7748) for this wrap alone meets the recipient's,
// HKDF-SHA-256 (RFC 5869) makes a key of what they have in common and of both public keys, and
// AES-256-GCM encrypts the content key under that. (The steps are those of ECIES, as in RFC 9180.)
// At the end an HMAC-SHA-256 under a third key, derived from the content key too, vouches for all
// before it, wraps of others included.
//
// The place is in every derivation and is the associated data of every encryption: what was sealed
// for one field of one subject of one cooperative opens nowhere else. Who wrote it is not in it:
// the signature of the commit around it says that.
//
// Why the HMAC: one who may read can add a reader without touching the text, and nobody else can
// change the list. And AES-GCM alone lets an author make one text that opens as two under two keys
// (Dodis, Grubbs, Ristenpart & Woodage, 2018); the HMAC commits to the content key, so all who can
// open it read the same.
//
// It hides the text, not that there is one, nor for how many and which keys it is. Who has opened a
// text knows it for good: a recipient cannot be taken off again, only left out of the next text.
//
// Thread-safe, but for the randomness that is passed in.

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/device/random.h"
#include "client/device/sealing_key.h"

namespace broodpact::device {

inline constexpr std::size_t kSealedTextBytesMax = 1'000;
inline constexpr std::size_t kSealRecipientsMax = 64;
// A text of that many bytes for that many recipients; the form is in internal/envelope.h.
inline constexpr std::size_t kSealedBytesMax = 7'220;

// Where a sealed text stands.
struct SealedPlace {
  Hash cooperative{};
  IdBytes subject{};    // the animal, keeper, loan that it is about
  std::string field{};  // such as "locality"; at most kNameBytesMax bytes
};

// Seals `text` (0 .. kSealedTextBytesMax bytes, well-formed as CheckText says) to `recipients` (1
// .. kSealRecipientsMax, a key that is named twice counts once). The author's own devices are among
// them, or the author cannot read it either.
//
// Errors, in this order: INVALID_ARGUMENT with reason NAME_TOO_LONG or TEXT_MALFORMED,
// NO_RECIPIENTS; RESOURCE_EXHAUSTED with reason TOO_MANY_RECIPIENTS; INVALID_ARGUMENT with reason
// RECIPIENT_KEY (no proper X25519 key).
absl::StatusOr<std::string> Seal(std::string_view text, const SealedPlace& place,
                                 std::span<const SealingPublicKey> recipients,
                                 Randomness& randomness);

// The text, for one of its recipients.
//
// Errors, in this order: INVALID_ARGUMENT with reason SEAL_FORM; FAILED_PRECONDITION with reason
// SEAL_NEWER; PERMISSION_DENIED with reason NOT_RECIPIENT; INVALID_ARGUMENT with reason SEAL_BROKEN
// (changed since it was sealed, or sealed for another place) or TEXT_MALFORMED (its author sealed
// what must not be shown).
absl::StatusOr<std::string> OpenSealed(std::string_view sealed, const SealedPlace& place,
                                       const SealingKey& own);

// The same sealed text for `further` recipients as well, made by one who can open it, for a new
// device of someone who may read. The text stays as it was encrypted; a recipient that it has
// already stays as it is. At most kSealRecipientsMax together.
//
// Errors: those of OpenSealed but for TEXT_MALFORMED, then those of Seal.
absl::StatusOr<std::string> SealFurther(std::string_view sealed, const SealedPlace& place,
                                        const SealingKey& own,
                                        std::span<const SealingPublicKey> further,
                                        Randomness& randomness);

// The keys that can open it, in ascending order; by what it says itself, which only one who opens
// it can check. Errors: INVALID_ARGUMENT with reason SEAL_FORM; FAILED_PRECONDITION with reason
// SEAL_NEWER.
absl::StatusOr<std::vector<SealingKeyId>> RecipientsOf(std::string_view sealed);

}  // namespace broodpact::device
