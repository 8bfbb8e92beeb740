#pragma once

// What stands on a printed sheet, whatever it is printed as: who agreed on what, or who got how
// many slings and why, with a digest by which anybody can check it against the registry.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "broodpact/v1/registry.pb.h"

namespace broodpact::cli {

enum class SheetKind : std::uint8_t { kLoan, kSplit };

// "loan", "split".
std::string_view WordOf(SheetKind kind);

struct SheetSection {
  std::string heading{};
  std::vector<std::pair<std::string, std::string>> fields{};  // an empty value is left out
  std::vector<std::string> sentences{};                       // numbered
};

struct Sheet {
  SheetKind kind = SheetKind::kLoan;
  std::string title{};
  std::string id{};      // of the loan, or of the clutch
  std::string digest{};  // 64 hexadecimal digits
  std::vector<SheetSection> sections{};
  std::string svg{};  // a picture; empty: none
};

// The sheet of a loan: parties, clauses, digest, who signed when. `curve` may be empty.
Sheet SheetOf(const v1::Loan& loan, const v1::SplitCurve& curve);

// The sheet of a split: who gets how many, the working, the lots and where they are.
Sheet SheetOf(const v1::Split& split, const v1::Clutch& clutch);

// The digest of a split: SHA-256 over the ids of clutch and keepers with their slings, as text.
std::string DigestOf(const v1::Split& split);

// What a sheet carries for programs, in its QR code and beside it:
// "broodpact-sheet loan <id> <digest>".
struct SheetMark {
  SheetKind kind = SheetKind::kLoan;
  std::string id{};
  std::string digest{};

  friend bool operator==(const SheetMark&, const SheetMark&) = default;
};
std::string MarkText(const SheetMark& mark);
SheetMark MarkOf(const Sheet& sheet);

// The first mark in the bytes of a file; nothing if there is none.
std::optional<SheetMark> FindMark(std::string_view bytes);

}  // namespace broodpact::cli
