#include "cli/commands/bundle.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <optional>
#include <system_error>

#include <fmt/format.h>

#include "cli/show/show.h"
#include "client/base/day.h"
#include "client/base/status.h"
#include "client/replica/bundle.h"

namespace broodpact::cli {
namespace {

void DescribeWrite(Command& command, WriteBundleOptions& options) {
  command.Positional("file", options.file, "File to write; replaced if it is there");
  command.Option("--for", "bundle", options.for_bundle,
                 "Leave out what the writer of this bundle has");
  command.Note(
      "All that you have goes in: the log as the server signed it, and what no server has yet, "
      "yours and what you carry for others. Everything in it is signed by its author; whoever "
      "reads it is a member, or gets nothing that members could not show him.");
  command.AddExample("For a keeper at a show without a network", "broodpact bundle write mira.bp");
  command.AddExample("Only what tomas lacks, by a bundle of his",
                     "broodpact bundle write mira.bp --for tomas.bp");
}

void DescribeRead(Command& command, ReadBundleOptions& options) {
  command.Positional("file", options.file, "File to read");
  command.Note(
      "What the server has signed counts at once as it would after a sync. What is not delivered "
      "is provisional here too, and your next sync delivers it for its authors. Reading a bundle "
      "twice, or an old one, does no harm; of one that is cut short, what is whole is taken.");
  command.AddExample("What mira gave you", "broodpact bundle read mira.bp");
}

void DescribeShow(Command& command, ShowBundleOptions& options) {
  command.Positional("file", options.file, "File to look into");
  command.AddExample("Who wrote it, and what is in it", "broodpact bundle show mira.bp");
}

absl::StatusOr<std::ifstream> OpenFile(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  if (in) return in;
  return Fail(absl::StatusCode::kNotFound, "FILE_MISSING",
              fmt::format("the file {} cannot be opened; check its name", file));
}

absl::Status WriteError(const std::string& file) {
  return Fail(
      absl::StatusCode::kUnavailable, "FILE_WRITE",
      fmt::format("the file {} cannot be written; free some space, or write elsewhere", file));
}

std::uint32_t Narrow(std::uint64_t value) {
  return static_cast<std::uint32_t>(std::min<std::uint64_t>(value, 0xFFFF'FFFF));
}

std::string WordOf(replica::PassedOver passed_over) {
  switch (passed_over) {
    case replica::PassedOver::kNothing:
      break;
    case replica::PassedOver::kOtherServer:
      return "other server";
    case replica::PassedOver::kAfterLoss:
      return "after a loss";
    case replica::PassedOver::kLost:
      return "lost";
    case replica::PassedOver::kBeginsLater:
      return "begins later";
  }
  return "";
}

v1::BundleResult ResultOf(const std::string& file, const replica::BundleReport& report) {
  v1::BundleResult result;
  result.set_file(file);
  result.set_device_id(ToText(report.header.writer));
  result.set_time(InstantText(report.header.time_ms));
  result.set_cooperative_id(ToHex(report.header.cooperative));
  result.set_arrivals_first(Narrow(report.arrivals_first));
  result.set_arrivals_last(Narrow(report.arrivals_last));
  result.set_heads(Narrow(report.heads));
  result.set_mail(Narrow(report.mail));
  result.set_arrivals_taken(Narrow(report.arrivals_taken));
  result.set_mail_taken(Narrow(report.mail_taken));
  result.set_mail_known(Narrow(report.mail_known));
  result.set_mail_early(Narrow(report.mail_early));
  result.set_mail_forked(Narrow(report.mail_forked));
  result.set_mail_refused(Narrow(report.mail_refused));
  result.set_passed_over(WordOf(report.passed_over));
  result.set_mail_restated(Narrow(report.mail_restated));
  return result;
}

// Names the writer, if it is a member's device.
void NameWriter(const replica::Replica& replica, const DeviceId& writer, v1::BundleResult& result) {
  const replica::View view = ViewOf(replica);
  const auto read = registry::Read<registry::Device>(view.source(), writer);
  const std::optional<registry::Device> device = read.ok() ? *read : std::nullopt;
  if (!device) return;
  const absl::StatusOr<v1::Keeper> keeper = view.Keeper(device->keeper);
  if (!keeper.ok()) return;
  result.mutable_writer()->set_id(keeper->id());
  result.mutable_writer()->set_name(keeper->name());
}

}  // namespace

absl::Status RunWriteBundle(const Desk& desk, const WriteBundleOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  std::optional<sync::BundleFrontier> since;
  if (!options.for_bundle.empty()) {
    BP_ASSIGN_OR_RETURN(std::ifstream in, OpenFile(options.for_bundle));
    const absl::StatusOr<sync::BundleFrontier> frontier = replica::FrontierIn(in);
    if (!frontier.ok()) return Annotate(frontier.status(), options.for_bundle);
    since = *frontier;
  }
  // A neighbour first: a file of that name is whole, or not there.
  const std::string part = options.file + ".part";
  std::ofstream out(part, std::ios::binary | std::ios::trunc);
  if (!out) return WriteError(options.file);
  BP_ASSIGN_OR_RETURN(const replica::BundleReport report, replica->WriteBundle(out, since));
  out.close();
  std::error_code error;
  if (out) std::filesystem::rename(part, options.file, error);
  if (!out || error) {
    std::filesystem::remove(part, error);
    return WriteError(options.file);
  }
  v1::BundleResult result = ResultOf(options.file, report);
  NameWriter(*replica, report.header.writer, result);
  return Present(desk, result);
}

absl::Status RunReadBundle(const Desk& desk, const ReadBundleOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  BP_ASSIGN_OR_RETURN(std::ifstream in, OpenFile(options.file));
  BP_ASSIGN_OR_RETURN(const replica::BundleReport report, replica->ReadBundle(in));
  v1::BundleResult result = ResultOf(options.file, report);
  NameWriter(*replica, report.header.writer, result);
  return Present(desk, result);
}

absl::Status RunShowBundle(const Desk& desk, const ShowBundleOptions& options) {
  BP_ASSIGN_OR_RETURN(std::ifstream in, OpenFile(options.file));
  BP_ASSIGN_OR_RETURN(const replica::BundleReport report, replica::SurveyBundle(in));
  v1::BundleResult result = ResultOf(options.file, report);
  // A bundle can be looked into without being a keeper: then nobody is known by name.
  const auto replica = OpenToRead(desk);
  if (replica.ok()) NameWriter(**replica, report.header.writer, result);
  return Present(desk, result);
}

void AddBundleCommands(Command& root) {
  Command& bundle = root.AddGroup("bundle", "Exchange by a file, without a network");
  bundle.Add("write", "Write what you have to a file", DescribeWrite, RunWriteBundle);
  bundle.Add("read", "Take in what a file holds", DescribeRead, RunReadBundle);
  bundle.Add("show", "Say what a file holds", DescribeShow, RunShowBundle);
}

}  // namespace broodpact::cli
