#pragma once

// What commands that write terms take, and what they say about terms.

#include "absl/status/status.h"

#include "broodpact/v1/registry.pb.h"
#include "cli/desk.h"
#include "cli/grammar/command.h"
#include "cli/terms/terms.h"
#include "client/shares/curve.h"

namespace broodpact::cli {

// The options of all clauses. `who` stands for a party in help: "keeper" or "role".
void DescribeTerms(Command& command, TermsOptions& options, const std::string& who);

// Finds what terms name in this replica.
TermsLookup LookupIn(const Desk& desk, const replica::View& view);

// Writes what is remarkable about terms to the messages, the gravest first.
void PrintFindings(const Terminal& terminal,
                   const google::protobuf::RepeatedPtrField<v1::Remark>& findings);

// Whether terms may be signed: not while something in them is wrong, unless one says so.
// Errors: FAILED_PRECONDITION with reason TERMS_CONTRADICT.
absl::Status CheckFindings(const google::protobuf::RepeatedPtrField<v1::Remark>& findings);

// The sizes that "FROM..TO" names.
// Errors: INVALID_ARGUMENT with reason USAGE.
absl::StatusOr<shares::SizeRange> SizeRangeOf(const std::string& text);

// Prints a curve, and writes it as a picture to `svg` where that names a file.
// Errors: UNAVAILABLE with reason FILE_WRITE.
absl::Status PresentCurve(const Desk& desk, const v1::SplitCurve& curve, const std::string& svg);

}  // namespace broodpact::cli
