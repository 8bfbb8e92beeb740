#pragma once

// Text that people enter: its form and its bounds.

#include <cstddef>
#include <string_view>

#include "absl/status/status.h"

namespace broodpact {

inline constexpr std::size_t kNameBytesMax = 64;
inline constexpr std::size_t kTaxonBytesMax = 128;
inline constexpr std::size_t kReasonBytesMax = 256;
inline constexpr std::size_t kRemarksBytesMax = 1024;

// What no text may hold, called control characters here: C0, DEL, C1, the line and paragraph
// separators, and the bidirectional embeddings, overrides and isolates, by which one name could be
// shown as another.

// Whether `text` is well-formed UTF-8 (RFC 3629: no overlong forms, surrogates, or above U+10FFFF).
bool IsUtf8(std::string_view text);

// Checks a name of `what` ("name of the animal"): 1 to `bytes_max` bytes of UTF-8, no control
// characters, no white space at its ends, no '/'.
// Errors: INVALID_ARGUMENT with reason NAME_EMPTY, NAME_TOO_LONG or TEXT_MALFORMED.
absl::Status CheckName(std::string_view what, std::string_view text,
                       std::size_t bytes_max = kNameBytesMax);

// Checks a remark: 0 to `bytes_max` bytes of UTF-8, no control characters.
// Errors: INVALID_ARGUMENT with reason NAME_TOO_LONG or TEXT_MALFORMED.
absl::Status CheckText(std::string_view what, std::string_view text, std::size_t bytes_max);

}  // namespace broodpact
