#include <utility>

#include "fmt/core.h"

#include "client/base/status.h"
#include "client/registry/internal/instances.h"
#include "client/registry/state.h"

namespace broodpact::registry {
namespace {

class Nothing final : public Source {
 public:
  absl::StatusOr<std::optional<std::string>> Subject(const SubjectKey&) const override {
    return std::optional<std::string>();
  }
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view,
                                                        std::size_t) const override {
    return std::vector<std::string>();
  }
  absl::StatusOr<std::vector<StoredSubject>> SubjectsOfKind(Kind, std::optional<IdBytes>,
                                                            std::size_t) const override {
    return std::vector<StoredSubject>();
  }
};

}  // namespace

absl::StatusOr<std::vector<std::optional<std::string>>> Source::Subjects(
    const std::vector<SubjectKey>& keys) const {
  std::vector<std::optional<std::string>> values;
  values.reserve(keys.size());
  for (const SubjectKey& key : keys) {
    BP_ASSIGN_OR_RETURN(std::optional<std::string> value, Subject(key));
    values.push_back(std::move(value));
  }
  return values;
}

const Source& EmptySource() {
  static const Nothing nothing;
  return nothing;
}

template <typename Subject, typename AnyId>
absl::StatusOr<std::optional<Subject>> Read(const Source& source, const AnyId& id) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                      source.Subject({Subject::kKind, BytesOf(id)}));
  if (!bytes.has_value()) return std::optional<Subject>();
  std::optional<Subject> value = Decode<Subject>(*bytes);
  if (!value.has_value()) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                fmt::format("subject {} of kind {} cannot be read; run verify, then rebuild",
                            IdText(BytesOf(id)), static_cast<int>(Subject::kKind)));
  }
  return value;
}

#define BP_READ(Subject, AnyId) \
  template absl::StatusOr<std::optional<Subject>> Read<Subject>(const Source&, const AnyId&)
BP_FOR_EVERY_SUBJECT(BP_READ);
#undef BP_READ

}  // namespace broodpact::registry
