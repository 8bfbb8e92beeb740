#include "cli/commands/sealed.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/device/seal.h"
#include "client/replica/acts_sealed.h"
#include "client/replica/sealed_notes.h"

namespace broodpact::cli {
namespace {

using facts::SealedField;
using facts::SealedSubject;

constexpr std::size_t kTextBytesMax = 4'096;  // above any sealed text; bounds what is read

// The words of --kind that have a field, as the registry sees it.
constexpr std::pair<std::string_view, std::string_view> kKindsOfFields[] = {
    {"locality", "animal, group"},
    {"address", "keeper"},
    {"price", "animal, loan, clutch"},
    {"note", "animal, keeper, loan, clutch"},
};

SealedField FieldOf(const std::string& word) {
  if (word == "locality") return SealedField::kLocality;
  if (word == "address") return SealedField::kAddress;
  if (word == "price") return SealedField::kPrice;
  return SealedField::kNote;
}

constexpr std::pair<std::string_view, SealedSubject> kKinds[] = {
    {"animal", SealedSubject::kAnimal}, {"loan", SealedSubject::kLoan},
    {"clutch", SealedSubject::kClutch}, {"group", SealedSubject::kGroup},
    {"keeper", SealedSubject::kKeeper},
};

// The kind that is meant where none is named: whose field it usually is.
std::string KindFor(const std::string& kind, SealedField field) {
  if (!kind.empty()) return kind;
  if (field == SealedField::kAddress) return "keeper";
  return field == SealedField::kPrice ? "loan" : "animal";
}

template <typename AnyId>
absl::StatusOr<IdBytes> BytesOf(absl::StatusOr<AnyId> id) {
  if (!id.ok()) return id.status();
  return id->bytes;
}

absl::StatusOr<IdBytes> SubjectNamed(const replica::View& view, SealedSubject kind,
                                     const std::string& text) {
  switch (kind) {
    case SealedSubject::kUnspecified:
    case SealedSubject::kAnimal:
      break;
    case SealedSubject::kGroup:
      return BytesOf(view.GroupNamed(text));
    case SealedSubject::kKeeper:
      return BytesOf(view.KeeperNamed(text));
    case SealedSubject::kLoan:
      return BytesOf(view.LoanNamed(text));
    case SealedSubject::kClutch:
      return BytesOf(view.ClutchNamed(text));
  }
  return BytesOf(view.AnimalNamed(text));
}

SealedSubject KindNamed(std::string_view word) {
  for (const auto& [name, kind] : kKinds) {
    if (name == word) return kind;
  }
  return SealedSubject::kAnimal;
}

// The one subject of any kind that has this name.
absl::StatusOr<IdBytes> AnySubjectNamed(const replica::View& view, const std::string& text) {
  std::optional<IdBytes> found;
  std::string found_kind;
  for (const auto& [word, kind] : kKinds) {
    absl::StatusOr<IdBytes> subject = SubjectNamed(view, kind, text);
    if (!subject.ok()) {
      if (ReasonOf(subject.status()) == "UNKNOWN_SUBJECT") continue;
      return subject;
    }
    if (found) {
      return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT",
                  fmt::format("'{}' is a name of {} and {}; say which with --kind", text,
                              found_kind, word));
    }
    found = *subject;
    found_kind = std::string(word);
  }
  if (found) return *found;
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
              fmt::format("nothing here is called '{}'; sync, or look in the lists", text));
}

// Whether a kind that was said has the field.
absl::Status CheckHasField(const std::string& kind, const std::string& field) {
  for (const auto& [of, kinds] : kKindsOfFields) {
    const bool has = kind.empty() || kinds.find(kind) != std::string_view::npos;
    if (of != field || has) continue;
    return Fail(absl::StatusCode::kInvalidArgument, "FIELD_OTHER",
                fmt::format("a {} has no {}; --kind can be {} for it", kind, field, kinds));
  }
  return absl::OkStatus();
}

absl::StatusOr<replica::SealedAt> PlaceNamed(const replica::View& view, const std::string& subject,
                                             const std::string& field, const std::string& kind) {
  BP_RETURN_IF_ERROR(CheckHasField(kind, field));
  replica::SealedAt at{.field = FieldOf(field)};
  at.kind = KindNamed(KindFor(kind, at.field));
  BP_ASSIGN_OR_RETURN(at.subject, SubjectNamed(view, at.kind, subject));
  return at;
}

absl::StatusOr<replica::Audience> AudienceOf(const Desk& desk, const replica::View& view,
                                             const std::vector<std::string>& readers,
                                             const std::string& until) {
  replica::Audience audience;
  for (const std::string& reader : readers) {
    BP_ASSIGN_OR_RETURN(audience.readers.emplace_back(), view.KeeperNamed(reader));
  }
  if (!until.empty()) {
    BP_ASSIGN_OR_RETURN(audience.until, OneDayOf(desk, "--until", until));
  }
  return audience;
}

// A text has no line ends; those that were typed are shown as " / ".
std::string OneLine(std::string text) {
  std::erase(text, '\r');
  while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.pop_back();
  std::string line;
  for (const char c : text) line += c == '\n' ? std::string(" / ") : std::string(1, c);
  return line;
}

// The text that was said, or that is read; of one that is far too long only that it is.
absl::StatusOr<std::string> TextOf(const Desk& desk, const std::string& text) {
  if (!text.empty() && text != "-") return OneLine(text);
  if (desk.terminal.messages_are_tty) {
    desk.terminal.messages << "Text, and Ctrl-D after its last line:\n" << std::flush;
  }
  std::string read;
  char c = 0;
  while (read.size() < kTextBytesMax && desk.in.get(c)) read += c;
  if (read.size() == kTextBytesMax && desk.in.get(c)) {
    return Fail(absl::StatusCode::kInvalidArgument, "NAME_TOO_LONG",
                fmt::format("text has more than {} bytes; shorten it to {}", kTextBytesMax,
                            device::kSealedTextBytesMax));
  }
  return OneLine(std::move(read));
}

std::string AudienceText(const std::vector<std::string>& readers, const std::string& until) {
  std::string text = "your devices";
  for (std::size_t i = 0; i < readers.size(); ++i) {
    text += (i + 1 == readers.size() ? " and those of " : ", those of ") + readers[i];
  }
  return until.empty() ? text : fmt::format("{}, until {}", text, until);
}

}  // namespace

absl::Status RunWriteSealed(const Desk& desk, const WriteSealedOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const replica::SealedAt at,
                      PlaceNamed(view, options.subject, options.field, options.kind));
  BP_ASSIGN_OR_RETURN(const replica::Audience audience,
                      AudienceOf(desk, view, options.readers, options.until));
  BP_ASSIGN_OR_RETURN(const std::string text, TextOf(desk, options.text));
  BP_ASSIGN_OR_RETURN(const auto made, WriteSealed(*replica, at, text, audience));
  const bool of_parties = at.kind == SealedSubject::kLoan && at.field == SealedField::kPrice;
  return ReportAct(
      desk, *replica, made.acted,
      {.message = fmt::format("Sealed the {} of {} to {}{}.", options.field, options.subject,
                              AudienceText(options.readers, options.until),
                              of_parties ? ", and to the parties of the loan" : ""),
       .subject = RefOf(made.id, "")});
}

absl::Status RunShareSealed(const Desk& desk, const ShareSealedOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const replica::SealedAt at,
                      PlaceNamed(view, options.subject, options.field, options.kind));
  BP_ASSIGN_OR_RETURN(const replica::Audience audience,
                      AudienceOf(desk, view, options.readers, options.until));
  const auto made = ShareSealed(*replica, at, audience);
  const std::string whom = AudienceText(options.readers, options.until);
  if (ReasonOf(made.status()) == "ALREADY_SHARED") {
    v1::Ref subject;
    subject.set_id(IdText(at.subject));
    subject.set_name(options.subject);
    return ReportAct(desk, *replica, {.undelivered = replica->undelivered().size()},
                     {.message = fmt::format("The {} of {} is sealed to {} already.", options.field,
                                             options.subject, whom),
                      .subject = subject});
  }
  if (!made.ok()) return made.status();
  return ReportAct(desk, *replica, made->acted,
                   {.message = fmt::format("Sealed the {} of {} to {} as well.", options.field,
                                           options.subject, whom),
                    .subject = RefOf(made->id, "")});
}

absl::Status RunWithdrawSealed(const Desk& desk, const WithdrawSealedOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const replica::SealedAt at,
                      PlaceNamed(ViewOf(*replica), options.subject, options.field, options.kind));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, TakeSealedBack(*replica, at));
  v1::Ref subject;
  subject.set_id(IdText(at.subject));
  subject.set_name(options.subject);
  return ReportAct(desk, *replica, acted,
                   {.message = fmt::format("Took back your {} of {}; who has read it has read it.",
                                           options.field, options.subject),
                    .subject = subject});
}

absl::Status RunShowSealed(const Desk& desk, const ShowSealedOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  IdBytes subject{};
  if (options.kind.empty()) {
    BP_ASSIGN_OR_RETURN(subject, AnySubjectNamed(view, options.subject));
  } else {
    BP_ASSIGN_OR_RETURN(subject, SubjectNamed(view, KindNamed(options.kind), options.subject));
  }
  BP_ASSIGN_OR_RETURN(const v1::SealedNoteList list,
                      SealedNotes(*replica, subject, replica::Texts::kShown));
  return Present(desk, list);
}

absl::Status RunListSealed(const Desk& desk, const ListSealedOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::SealedNoteList list,
                      SealedNotes(*replica, std::nullopt, replica::Texts::kLeftOut));
  return Present(desk, list);
}

void AddSealedCommands(Command& root) {
  Command& sealed = root.AddGroup("sealed", "Write what only some may read");
  sealed.Add("write", "Seal a locality, address, price or note", DescribeWriteSealed,
             RunWriteSealed);
  sealed.Add("share", "Seal what you wrote to more keepers", DescribeShareSealed, RunShareSealed);
  sealed.Add("withdraw", "Take back what you wrote", DescribeWithdrawSealed, RunWithdrawSealed);
  sealed.Add("show", "Show what is sealed about a subject", DescribeShowSealed, RunShowSealed);
  sealed.Add("list", "List what you wrote and what is for you", DescribeListSealed, RunListSealed);
}

}  // namespace broodpact::cli
