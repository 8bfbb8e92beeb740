#include "cli/text_file.h"

#include <filesystem>
#include <fstream>
#include <system_error>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::cli {

absl::Status WriteText(const std::string& file, std::string_view text) {
  const std::string neighbour = file + ".new";
  std::ofstream out(neighbour, std::ios::binary | std::ios::trunc);
  out.write(text.data(), static_cast<std::streamsize>(text.size()));
  out.close();
  std::error_code error;
  if (out) std::filesystem::rename(neighbour, file, error);
  if (out && !error) return absl::OkStatus();
  std::error_code ignored;
  std::filesystem::remove(neighbour, ignored);
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("{} could not be written{}; look at the folder and its space", file,
                          error ? ": " + error.message() : ""));
}

}  // namespace broodpact::cli
