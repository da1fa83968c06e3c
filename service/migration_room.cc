#include "service/migration_room.h"

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <optional>

#include "absl/strings/str_cat.h"
#include "service/file_work.h"

namespace ferrule::service {
namespace {

constexpr int64_t kMib = 1 << 20;
// What the depot grows by, in the log and then in the file: pages that are less full than they
// were, and intervals, which came with version 2 and may take half as much as everything else. The
// rest is what the smallest depot needs.
constexpr int kFirstWithIntervals = 2;
constexpr int64_t kMarginPart = 4;
constexpr int64_t kLeastMargin = kMib;

int64_t WholeMib(int64_t bytes) { return (bytes + kMib - 1) / kMib; }

}  // namespace

absl::Status RoomToMigrate(const std::string& depot_file, int from_version, bool with_copy) {
  const int64_t depot = SizeOf(depot_file) + SizeOf(absl::StrCat(depot_file, "-wal"));
  // One that was cut off may have its intervals still to come.
  const bool grown = with_copy && from_version >= kFirstWithIntervals;
  const int64_t margin = std::max(grown ? depot / kMarginPart : depot, kLeastMargin);
  const int64_t needed = (with_copy ? 2 : 1) * depot + margin;
  const std::optional<int64_t> free = FreeBytesAt(depot_file);
  if (!free.has_value() || *free >= needed) return absl::OkStatus();
  const std::string folder = std::filesystem::absolute(depot_file).parent_path().string();
  return absl::ResourceExhaustedError(
      absl::StrCat("the migration needs about ", WholeMib(needed), " MiB of room in ", folder,
                   with_copy ? ", for a copy of the depot and for what it writes anew"
                             : ", for what it writes anew",
                   ", and ", *free / kMib,
                   " MiB are free there. Make room on that disk, or move the depot to a "
                   "larger one, then run it again. Nothing was changed"));
}

}  // namespace ferrule::service
