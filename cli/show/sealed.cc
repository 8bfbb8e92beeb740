// Sealed notes as a table.

#include "cli/show/phrases.h"
#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string StateText(const v1::SealedNote& note) {
  std::string text = note.state();
  if (note.concurrent()) text += ", one of two";
  const std::string standing = StandingText(note.standing());
  return standing.empty() ? text : text + ", " + standing;
}

}  // namespace

void Print(const Terminal& terminal, const v1::SealedNoteList& list) {
  std::vector<Row> rows;
  for (const v1::SealedNote& note : list.notes()) {
    rows.push_back({note.subject_kind(), note.subject().name(), note.field(), note.keeper().name(),
                    NamesOf(note.readers()), note.until_day(), StateText(note), note.text(),
                    ShortId(note.id())});
  }
  PrintTable(terminal, {"KIND", "SUBJECT", "FIELD", "BY", "FOR", "UNTIL", "STATE", "TEXT", "ID"},
             rows);
}

}  // namespace broodpact::cli
