#pragma once

// Lexicographic order by criteria, of which some may be ignored: what all searches share.
//
// A search has an enum of criteria, an array of all of them in their order, a function that says
// below, at or above 0 which of two candidates comes first by one criterion, and a function ToText
// that names one.

#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "client/match/candidates.h"

namespace broodpact::match {

// A number for sorting, where what is not known comes after all that is.
template <typename Number>
std::pair<bool, Number> UnknownLast(const std::optional<Number>& number) {
  return {!number.has_value(), number.value_or(Number{})};
}

inline std::optional<double> Negated(const std::optional<double>& number) {
  return number ? std::optional(-*number) : std::nullopt;
}

// Below, at or above 0 as the key of `a` comes before, with or after that of `b`.
template <typename Key>
int Compared(const Key& a, const Key& b) {
  return a < b ? -1 : b < a ? 1 : 0;
}

inline int ComparedByPlace(const std::pair<Nearness, std::optional<std::uint32_t>>& a,
                           const std::pair<Nearness, std::optional<std::uint32_t>>& b) {
  return Compared(std::pair(a.first, UnknownLast(a.second)),
                  std::pair(b.first, UnknownLast(b.second)));
}

template <typename Criterion, std::size_t kCount>
std::vector<Criterion> Without(const std::array<Criterion, kCount>& all,
                               std::span<const Criterion> ignored) {
  std::vector<Criterion> left(all.begin(), all.end());
  std::erase_if(left, [&](Criterion criterion) {
    return std::ranges::find(ignored, criterion) != ignored.end();
  });
  return left;
}

template <typename Criterion, typename Candidate>
using Comparing = int(Criterion, const Candidate&, const Candidate&);

// Sorts; equals go by `id`, a member of the candidate.
template <typename Candidate, typename Criterion, typename Id>
void SortBy(const std::vector<Criterion>& criteria, Comparing<Criterion, Candidate>& compare,
            Id Candidate::*id, std::vector<Candidate>& candidates) {
  std::ranges::sort(candidates, [&](const Candidate& a, const Candidate& b) {
    for (const Criterion criterion : criteria) {
      if (const int order = compare(criterion, a, b); order != 0) return order < 0;
    }
    return a.*id < b.*id;
  });
}

template <typename Candidate, typename Criterion>
std::optional<Criterion> FirstDifference(const std::vector<Criterion>& criteria,
                                         Comparing<Criterion, Candidate>& compare,
                                         const Candidate& a, const Candidate& b) {
  for (const Criterion criterion : criteria) {
    if (compare(criterion, a, b) != 0) return criterion;
  }
  return std::nullopt;
}

template <typename Criterion>
std::string OrderText(const std::vector<Criterion>& criteria) {
  std::string order;
  for (const Criterion criterion : criteria) {
    order += (order.empty() ? "" : ", ") + std::string(ToText(criterion));
  }
  return order.empty() ? "in order of id" : order;
}

// Bounds keep what is at them, and what has no data.
template <typename Number>
bool IsAbove(const std::optional<Number>& number, const std::optional<Number>& most) {
  return most && number && *number > *most;
}

// Who has not said where he is stays.
inline bool IsAcrossBorder(Nearness nearness, Borders borders) {
  return borders == Borders::kKept && nearness == Nearness::kAbroad;
}

}  // namespace broodpact::match
