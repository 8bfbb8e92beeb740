// The stories of lots and clutches: every step from the sac to now, with who said so.

#include <algorithm>

#include <fmt/format.h>

#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {
namespace {

using registry::SlingEvent;
using registry::SlingEventKind;

// Lots taken out of lots, one after the other: far more than anybody divides.
constexpr std::size_t kAncestorsMax = 1'000;

std::string Because(std::string_view words) {
  return words.empty() ? "" : fmt::format(": {}", words);
}

class Teller {
 public:
  explicit Teller(RefBook& refs) : refs_(refs) {}

  void Add(const registry::Entry& entry, const std::optional<DaySpan>& day, std::string sentence) {
    v1::StoryLine line;
    line.set_day(day ? ToText(*day) : ToText(DayOfMillis(entry.time_ms)));
    line.set_sentence(std::move(sentence));
    if (!entry.keeper.empty()) *line.mutable_keeper() = refs_.Ref(entry.keeper);
    line.set_arrival(static_cast<std::uint32_t>(entry.arrival));
    lines_.push_back(std::move(line));
  }

  void AddEvent(const SlingEvent& event) { Add(event.entry, event.day, SentenceOf(event)); }

  // The same, where several lots have their say.
  void AddOf(const LotId& lot, const SlingEvent& event) {
    Add(event.entry, event.day, fmt::format("lot {}: {}", refs_.Name(lot), SentenceOf(event)));
  }

  std::vector<v1::StoryLine> Take() { return std::move(lines_); }

 private:
  std::string SentenceOf(const SlingEvent& event) {
    const std::string slings = Slings(event.slings);
    const std::string lot = refs_.Name(event.lot);
    const std::string keeper = refs_.Name(event.keeper);
    switch (event.kind) {
      case SlingEventKind::kShared:
        return fmt::format("{} shared out", slings);
      case SlingEventKind::kTaken:
        return fmt::format("{} taken out of lot {}", slings, lot);
      case SlingEventKind::kSent:
        return fmt::format("{} sent to {} as parcel {}", slings, keeper, lot);
      case SlingEventKind::kReceived:
        return fmt::format("received: {} alive, {} dead", event.slings, event.dead);
      case SlingEventKind::kLost:
        return fmt::format("{} lost{}", slings, Because(event.words));
      case SlingEventKind::kRaised:
        return fmt::format("one raised as {}", refs_.Name(event.animal));
      case SlingEventKind::kReturned:
        return fmt::format("{} given back to the clutch{}", slings, Because(event.words));
      case SlingEventKind::kPassed:
        return fmt::format("{} passed on to {} as lot {}", slings, keeper, lot);
      case SlingEventKind::kDivided:
        return fmt::format("{} divided off as lot {}", slings, lot);
      case SlingEventKind::kMerged:
        return fmt::format("{} merged in from lot {}", slings, lot);
      case SlingEventKind::kMergedInto:
        return fmt::format("{} merged into lot {}", slings, lot);
      case SlingEventKind::kAwarded:
        return fmt::format("{} awarded to {} as lot {}", slings, keeper, lot);
      case SlingEventKind::kHatchedLate:
        return fmt::format("{} more hatched", slings);
      case SlingEventKind::kWaived:
        if (event.other.empty()) return fmt::format("the share of {} given up", keeper);
        return fmt::format("the share of {} passed on to {}", keeper, refs_.Name(event.other));
      case SlingEventKind::kGiven:
        return fmt::format("the clutch given on by {} to {}", refs_.Name(event.other), keeper);
      case SlingEventKind::kReplaced:
        return fmt::format("{} that arrived dead made good", slings);
    }
    return "";
  }

  RefBook& refs_;
  std::vector<v1::StoryLine> lines_;
};

// What has not arrived yet comes last.
bool ArrivedBefore(const v1::StoryLine& a, const v1::StoryLine& b) {
  return a.arrival() - 1 < b.arrival() - 1;
}

}  // namespace

std::vector<v1::StoryLine> Messages::StoryOf(const registry::Clutch& clutch) {
  Teller teller(refs_);
  for (const SlingEvent& event : clutch.events) teller.AddEvent(event);
  for (const LotId& id : clutch.lots) {
    const auto lot = Find<registry::Lot>(id);
    if (!lot) continue;
    for (const SlingEvent& event : lot->events) {
      // How a lot began stands in the story of what it came out of.
      if (event.kind == SlingEventKind::kTaken || event.kind == SlingEventKind::kShared) continue;
      teller.AddOf(lot->id, event);
    }
  }
  std::vector<v1::StoryLine> lines = teller.Take();
  std::ranges::stable_sort(lines, ArrivedBefore);
  return lines;
}

std::vector<v1::StoryLine> Messages::StoryOf(const registry::Lot& lot) {
  Teller teller(refs_);
  if (const auto clutch = Find<registry::Clutch>(lot.clutch)) {
    teller.Add(clutch->entry, clutch->laying,
               fmt::format("{} laid sac {}", refs_.Name(clutch->female), refs_.Name(clutch->id)));
    for (const registry::CountRecord& count : clutch->counts) {
      teller.Add(count.entry, count.day,
                 fmt::format("{} counted alive, {} dead ({})", count.slings_living,
                             count.slings_dead, CountStateWord(count.state)));
    }
    for (const SlingEvent& event : clutch->events) teller.AddEvent(event);
  }
  // From the lot back to the share that it came out of: each by the step that led here.
  LotId child = lot.id;
  LotId source = lot.source;
  for (std::size_t i = 0; i < kAncestorsMax && !source.empty(); ++i) {
    const auto ancestor = Find<registry::Lot>(source);
    if (!ancestor) break;
    for (const SlingEvent& event : ancestor->events) {
      const bool led_here = event.lot == child || event.kind == SlingEventKind::kReceived;
      if (led_here) teller.AddEvent(event);
    }
    child = ancestor->id;
    source = ancestor->source;
  }
  for (const SlingEvent& event : lot.events) {
    if (event.kind == SlingEventKind::kShared) {
      teller.Add(event.entry, event.day,
                 fmt::format("{} of them became lot {}", Slings(event.slings), refs_.Name(lot.id)));
    } else {
      teller.AddEvent(event);
    }
  }
  std::vector<v1::StoryLine> lines = teller.Take();
  std::ranges::stable_sort(lines, ArrivedBefore);
  return lines;
}

}  // namespace broodpact::replica
