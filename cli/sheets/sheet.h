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
#include "client/shares/curve.h"

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
  std::string note{};         // at the foot
  std::string svg{};          // a picture, on pages of HTML only; empty: none
  std::string svg_heading{};  // what the picture shows
};

// The agreement of a loan: parties, clauses, what is remarkable about them, who signed when. With
// what each gets of clutches of many sizes, unless `curve` is empty.
Sheet AgreementSheet(const v1::Loan& loan, const v1::SplitCurve& curve = {});

// The heading of the section that tells how things stood on the day of the page: it is no part of
// what was agreed or shared out, and changes.
inline constexpr std::string_view kOfTheDay = "How it stood when this page was made";

// The sizes of clutch that the picture of a page is of; nothing where it has none.
std::optional<shares::SizeRange> SizesIn(std::string_view page);

// The settlement of a clutch that is shared out: counts, working, parts, handovers. `clutch` and
// `split` are of one clutch.
Sheet SettlementSheet(const v1::Clutch& clutch, const v1::Split& split);

}  // namespace broodpact::cli
