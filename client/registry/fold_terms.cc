// Terms under a name, and who confirms a count: TermsForm, CountWitness.

#include <algorithm>

#include "fmt/core.h"

#include "client/registry/index.h"
#include "client/registry/internal/basis.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CheckFormName(Case& c, const std::string& name) {
  if (!c.state.IsNamed(NamePrefix(Kind::kForm, name))) return std::nullopt;
  return Refused(
      "NAME_TAKEN",
      fmt::format("there are terms named {} already; save a new version of them, or take "
                  "another name",
                  name));
}

bool IsRegistrar(Case& c) {
  const Keeper* author = c.state.Find<Keeper>(c.author());
  return author != nullptr && author->role == facts::Role::kRegistrar;
}

Finding CheckReplaced(Case& c, const facts::TermsForm& s, const Form& form) {
  if (form.keeper != c.author() && !IsRegistrar(c)) {
    return Void("NOT_YOUR_FORM", fmt::format("{} was saved by {}; he or a registrar saves a new "
                                             "version of it",
                                             form.name, NameOf(c, form.keeper)));
  }
  if (form.token != s.form_token) {
    return Superseded("FORM_REPLACED",
                      fmt::format("{} has a newer version, by {}; read it, and save yours on top",
                                  form.name, NameOf(c, form.entry.keeper)),
                      form.entry.arrival);
  }
  return s.name == form.name ? std::nullopt : CheckFormName(c, s.name);
}

void Write(Case& c, const facts::TermsForm& s, Form& form) {
  form.name = s.name;
  form.terms = s.terms;
  form.token = c.token;
  form.entry = c.entry;
}

}  // namespace

Finding Apply(Case& c, const facts::TermsForm& s) {
  if (Finding f = CheckTermsNames(c, s.parsed)) return f;
  const Form* form = c.state.Find<Form>(s.form);
  if (s.form_token.empty()) {
    if (form != nullptr) return IdTaken("form", s.form.bytes);
    if (Finding f = CheckFormName(c, s.name)) return f;
    Form& saved = c.state.Create<Form>(s.form);
    saved.keeper = c.author();
    Write(c, s, saved);
    return std::nullopt;
  }
  if (form == nullptr) return UnknownSubject("form", s.form.bytes);
  if (Finding f = CheckReplaced(c, s, *form)) return f;
  Form& saved = c.state.Edit<Form>(s.form);
  ++saved.version;
  Write(c, s, saved);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::CountWitness& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  SplitBasis basis;
  if (!clutch->loan.empty()) {
    if (Finding f = SplitBasisOf(c, *clutch, basis)) return f;
  }
  const KeeperId& witness = basis.terms.counting.witness;
  if (witness.empty() || !ActsFor(c, witness)) {
    return Void("NOT_WITNESS",
                fmt::format("the terms of {} do not name you as a witness", NameOf(*clutch)));
  }
  const auto count = std::ranges::find(clutch->counts, s.count_token, &CountRecord::token);
  if (count == clutch->counts.end()) {
    return Refused("NOT_COUNTED", fmt::format("{} has no such count", NameOf(*clutch)));
  }
  if (count->entry.keeper == c.author()) {
    return Refused("WITNESS_COUNTED",
                   fmt::format("you counted {} yourself; a witness confirms what another counted",
                               NameOf(*clutch)));
  }
  FlagFuture(c, s.day);
  const std::ptrdiff_t place = count - clutch->counts.begin();
  (c.state.Edit<Clutch>(s.clutch).counts.begin() + place)->witness = witness;
  return std::nullopt;
}

}  // namespace broodpact::registry
