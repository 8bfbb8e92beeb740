#pragma once

// The agreement sheet and the settlement sheet: what keepers print, sign and keep in the box. A
// sheet is data here; html.h and pdf.h lay it out.
//
// Every sheet carries its mark, as text and as a QR code: "broodpact:agreement:<loan>:<digest>" or
// "broodpact:settlement:<clutch>:<digest>". Whoever has a replica can hold it against that.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "broodpact/v1/registry.pb.h"
#include "cli/sheets/page.h"

namespace broodpact::cli {

enum class SheetKind { kAgreement, kSettlement };

// "agreement", "settlement".
std::string_view WordOf(SheetKind kind);

// What a sheet vouches for.
struct SheetMark {
  SheetKind kind = SheetKind::kAgreement;
  std::string subject{};  // id of the loan or the clutch, 26 characters
  std::string digest{};   // 64 hexadecimal digits

  friend bool operator==(const SheetMark&, const SheetMark&) = default;
};

// The mark as text.
std::string TextOf(const SheetMark& mark);

// The first mark in the bytes of a sheet: a PDF or HTML page of ours, or what a QR reader said.
// Nothing where there is none.
std::optional<SheetMark> MarkIn(std::string_view bytes);

struct Sheet {
  SheetMark mark{};
  std::string title{};
  std::vector<SheetSection> sections{};
  std::string note{};  // at the foot
  std::string svg{};   // a picture, on pages of HTML only; empty: none
};

// The agreement of a loan: parties, clauses, what is remarkable about them, who signed when. With
// what each gets of clutches of many sizes, unless `curve` is empty.
Sheet AgreementSheet(const v1::Loan& loan, const v1::SplitCurve& curve = {});

// A clause as a line of that sheet; `index` from 0.
std::string ClauseLine(int index, std::string_view clause);

// The settlement of a clutch that is shared out: counts, working, parts, handovers. `clutch` and
// `split` are of one clutch.
Sheet SettlementSheet(const v1::Clutch& clutch, const v1::Split& split);

}  // namespace broodpact::cli
