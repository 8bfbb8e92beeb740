#include "cli/commands/kin_chart.h"

#include <fmt/format.h>

#include "cli/show/kin_chart.h"
#include "cli/text_file.h"
#include "client/base/status.h"
#include "client/replica/kin_chart.h"

namespace broodpact::cli {
namespace {

void DescribeKinChart(Command& command, KinChartOptions& options) {
  command.Note(
      "Every animal is drawn once, however many lines lead to it: \"by 2 lines\" marks a shared "
      "ancestor, F the inbreeding, founder one whose parents are not known. Clutch-mates are one "
      "node with their number.");
  command.Positional("animal", options.animal, "Animal, by name or id");
  command.Option("--svg", "file", options.svg, "Write the picture to a file instead");
  command.Number("--generations", "n", options.generations,
                 "Generations of ancestors, 12 at most (default: 5)");
  command.AddExample("Where does rosa come from?", "broodpact kin chart rosa");
  command.AddExample("A picture for the wall", "broodpact kin chart rosa --svg rosa.svg");
}

}  // namespace

absl::Status RunKinChart(const Desk& desk, const KinChartOptions& options) {
  const std::uint32_t generations = options.generations.value_or(replica::kChartGenerations);
  if (generations > replica::kChartGenerationsMax) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                fmt::format("--generations is {} at most, not {}", replica::kChartGenerationsMax,
                            generations));
  }
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId animal, view.AnimalNamed(options.animal));
  BP_ASSIGN_OR_RETURN(const v1::KinChart chart, replica::ChartOf(view, animal, generations));
  if (options.svg.empty()) return Present(desk, chart);
  BP_RETURN_IF_ERROR(WriteText(options.svg, SvgOf(chart)));
  desk.terminal.messages << fmt::format("The chart is in {}.\n", Clean(options.svg));
  return absl::OkStatus();
}

void AddKinChartCommand(Command& kin) {
  kin.Add("chart", "Draw the pedigree of an animal", DescribeKinChart, RunKinChart);
}

}  // namespace broodpact::cli
