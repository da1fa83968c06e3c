#include "service/backup.h"

#include <sqlite3.h>
#include <unistd.h>

#include <algorithm>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "core/ledger/whole.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "core/time/civil.h"
#include "nlohmann/json.hpp"
#include "openssl/rand.h"
#include "service/file_work.h"
#include "service/version.h"

namespace ferrule::service {
namespace {

using Json = nlohmann::json;
using SqliteHandle = std::unique_ptr<sqlite3, decltype(&sqlite3_close)>;

constexpr int kManifestFormat = 1;
constexpr int kBusyMs = 10'000;
constexpr size_t kEpochBytes = 8;

constexpr store::Sql kHeadRow{"backup_head",
                              "SELECT sequence, digest, epoch FROM ledger_head WHERE id = 1"};
constexpr store::Sql kPutEpoch{"put_epoch", "UPDATE ledger_head SET epoch = $1 WHERE id = 1"};

std::string ManifestOf(const std::string& backup) { return absl::StrCat(backup, ".manifest.json"); }

absl::Status EngineError(sqlite3* handle, const std::string& doing) {
  const int code = sqlite3_extended_errcode(handle);
  const std::string text = absl::StrCat(doing, " failed with SQLite's code ", code);
  switch (code & 0xFF) {
    case SQLITE_FULL:
      return absl::ResourceExhaustedError(absl::StrCat(text, ": the disk is full; make room"));
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return absl::UnavailableError(absl::StrCat(text, ": the depot is busy; run it again"));
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return absl::DataLossError(absl::StrCat(text, ": the file is damaged; restore a backup"));
    default:
      return absl::UnavailableError(absl::StrCat(text, "; check disk, owner and mode"));
  }
}

// Opens a file to read only. It never checkpoints, so it may stand beside the process that owns
// the depot (core/store/sqlite.cc says why that matters).
absl::StatusOr<SqliteHandle> OpenToRead(const std::string& path) {
  sqlite3* raw = nullptr;
  const int opened =
      sqlite3_open_v2(path.c_str(), &raw, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, nullptr);
  SqliteHandle handle(raw, &sqlite3_close);
  if (opened != SQLITE_OK) return EngineError(raw, absl::StrCat("opening ", path));
  sqlite3_extended_result_codes(raw, 1);
  sqlite3_busy_timeout(raw, kBusyMs);
  sqlite3_db_config(raw, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
  sqlite3_wal_autocheckpoint(raw, 0);
  return handle;
}

absl::Status VacuumInto(sqlite3* handle, const std::string& to) {
  sqlite3_stmt* raw = nullptr;
  sqlite3_prepare_v2(handle, "VACUUM INTO ?1", -1, &raw, nullptr);
  const std::unique_ptr<sqlite3_stmt, decltype(&sqlite3_finalize)> statement(raw,
                                                                             &sqlite3_finalize);
  if (raw == nullptr) return EngineError(handle, "the copy");
  sqlite3_bind_text(raw, 1, to.data(), static_cast<int>(to.size()), SQLITE_STATIC);
  if (sqlite3_step(raw) != SQLITE_DONE) return EngineError(handle, "the copy");
  return absl::OkStatus();
}

absl::Status IntegrityCheck(const std::string& path) {
  auto handle = OpenToRead(path);
  if (!handle.ok()) return handle.status();
  sqlite3_stmt* raw = nullptr;
  sqlite3_prepare_v2(handle->get(), "PRAGMA integrity_check(1)", -1, &raw, nullptr);
  const std::unique_ptr<sqlite3_stmt, decltype(&sqlite3_finalize)> statement(raw,
                                                                             &sqlite3_finalize);
  if (raw == nullptr || sqlite3_step(raw) != SQLITE_ROW) {
    return EngineError(handle->get(), "the integrity check");
  }
  const auto* text = reinterpret_cast<const char*>(sqlite3_column_text(raw, 0));
  const std::string answer = text == nullptr ? "" : text;
  if (answer == "ok") return absl::OkStatus();
  return absl::DataLossError(
      absl::StrCat("the copy fails SQLite's integrity check (", answer, "); check the disk"));
}

absl::Status CopyInto(const std::string& depot_file, const std::string& to) {
  auto source = OpenToRead(depot_file);
  if (!source.ok()) return source.status();
  if (absl::Status copied = VacuumInto(source->get(), to); !copied.ok()) return copied;
  if (absl::Status synced = SyncFile(to); !synced.ok()) return synced;
  return IntegrityCheck(to);
}

absl::Status MustBeFree(const std::string& path) {
  if (!FileExists(path)) return absl::OkStatus();
  return absl::FailedPreconditionError(
      absl::StrCat(path, " exists and is not overwritten; choose another name or move it away"));
}

// Whether the file is a depot of this program's schema, asked through the store when nobody owns
// the file. A file that is owned was found good by its owner.
absl::Status CheckDepot(const std::string& depot_file) {
  store::SqliteOptions options;
  options.path = depot_file;
  options.lock_wait = std::chrono::milliseconds(0);
  auto database = store::OpenSqlite(options);
  if (absl::IsUnavailable(database.status())) return absl::OkStatus();
  if (!database.ok()) return database.status();
  auto writer = (*database)->OpenWriter();
  if (!writer.ok()) return writer.status();
  return store::CheckSchema(**writer);
}

absl::StatusOr<BackupReport> ReadHead(store::Database& database) {
  BackupReport report;
  auto writer = database.OpenWriter();
  if (!writer.ok()) return writer.status();
  const auto schema = store::SchemaVersion(**writer);
  if (!schema.ok()) return schema.status();
  report.schema_version = *schema;
  const absl::Status status = (*writer)->Run(kHeadRow, {}, [&](const store::Row& row) {
    report.head_sequence = row.Int(0);
    report.head_digest = absl::BytesToHexString(std::string(row.Bytes(1)));
    report.epoch = std::string(row.Bytes(2));
  });
  if (!status.ok()) return status;
  return report;
}

absl::Status VerifyError(const ledger::WholeReport& report) {
  if (!report.engine_faults.empty()) {
    return absl::DataLossError(
        absl::StrCat("the store is damaged: ", report.engine_faults.front()));
  }
  if (report.first_broken_sequence != 0) {
    return absl::DataLossError(
        absl::StrCat("entry ", report.first_broken_sequence, " is broken: ", report.broken));
  }
  return absl::DataLossError(
      absl::StrCat(report.differing_states.front(), "; run: ferruled rebuild"));
}

// Opens a copy that nobody else has, verifies it, and says what is in it. With `epoch`, that goes
// in, after older tables were brought up to date.
absl::StatusOr<BackupReport> ExamineOpen(const std::string& copy, const std::string& epoch,
                                         const ProgressFn& progress) {
  store::SqliteOptions options;
  options.path = copy;
  auto database = store::OpenSqlite(options);
  if (!database.ok()) return database.status();
  if (!epoch.empty()) {
    auto writer = (*database)->OpenWriter();
    if (!writer.ok()) return writer.status();
    const absl::StatusOr<int> version = store::SchemaVersion(**writer);
    if (!version.ok()) return version.status();
    if (absl::Status moved = store::Migrate(**writer); !moved.ok()) return moved;
    const store::Value values[] = {store::Value::Text(epoch)};
    if (absl::Status put = (*writer)->Run(kPutEpoch, values); !put.ok()) return put;
    writer->reset();
    if (*version < store::ProgramSchemaVersion()) {
      // A new table may hold what follows from the facts.
      const auto facts = ledger::Rebuild(**database, progress);
      if (!facts.ok()) return facts.status();
    }
  }
  const auto verified = ledger::CheckWhole(**database, progress);
  if (!verified.ok()) return verified.status();
  if (!verified->ok()) return VerifyError(*verified);
  absl::StatusOr<BackupReport> report = ReadHead(**database);
  if (report.ok()) report->facts = verified->facts;
  return report;
}

// The same; afterwards the copy is one closed file.
absl::StatusOr<BackupReport> Examine(const std::string& copy, const std::string& epoch,
                                     const ProgressFn& progress) {
  absl::StatusOr<BackupReport> report = ExamineOpen(copy, epoch, progress);
  if (report.ok() && FileExists(absl::StrCat(copy, "-wal"))) {
    return absl::UnavailableError(
        absl::StrCat(copy, " could not be closed cleanly; check the disk and run it again"));
  }
  return report;
}

std::string ManifestText(const BackupReport& report, int64_t created_us) {
  Json json;
  json["format"] = kManifestFormat;
  json["created_time"] = time::FormatUtc(created_us);
  json["bytes"] = report.bytes;
  json["sha256"] = report.sha256;
  json["schema_version"] = report.schema_version;
  json["head_sequence"] = report.head_sequence;
  json["head_digest"] = report.head_digest;
  json["epoch"] = report.epoch;
  json["facts"] = report.facts;
  json["program_version"] = kVersion;
  return absl::StrCat(json.dump(2), "\n");
}

template <class T>
std::optional<T> Field(const Json& json, const char* key) {
  const auto it = json.find(key);
  if (it == json.end()) return std::nullopt;
  if constexpr (std::is_same_v<T, std::string>) {
    if (!it->is_string()) return std::nullopt;
  } else {
    if (!it->is_number_integer()) return std::nullopt;
  }
  return it->get<T>();
}

absl::StatusOr<BackupReport> ReadManifest(const std::string& path) {
  const absl::StatusOr<std::string> text = ReadSmallFile(path);
  if (absl::IsNotFound(text.status())) {
    return absl::NotFoundError(absl::StrCat(
        "there is no ", path, ": a backup is the copy and its manifest; bring both together"));
  }
  if (!text.ok()) return text.status();
  const Json json = Json::parse(*text, nullptr, /*allow_exceptions=*/false);
  const auto wrong = [&path] {
    return absl::DataLossError(absl::StrCat(path, " is no manifest of a backup; use another one"));
  };
  if (!json.is_object() || Field<int>(json, "format") != kManifestFormat) return wrong();
  const auto bytes = Field<int64_t>(json, "bytes");
  const auto sha256 = Field<std::string>(json, "sha256");
  const auto sequence = Field<int64_t>(json, "head_sequence");
  const auto digest = Field<std::string>(json, "head_digest");
  const auto schema = Field<int>(json, "schema_version");
  if (!bytes || !sha256 || !sequence || !digest || !schema) return wrong();
  BackupReport report;
  report.bytes = *bytes;
  report.sha256 = *sha256;
  report.head_sequence = *sequence;
  report.head_digest = *digest;
  report.schema_version = *schema;
  return report;
}

std::string NewEpoch() {
  unsigned char bytes[kEpochBytes];
  RAND_bytes(bytes, sizeof(bytes));
  return absl::BytesToHexString(std::string(reinterpret_cast<const char*>(bytes), sizeof(bytes)));
}

absl::Status MatchesManifest(const std::string& from, const BackupReport& manifest) {
  const absl::StatusOr<FileDigest> digest = DigestFile(from);
  if (!digest.ok()) return digest.status();
  if (digest->bytes == manifest.bytes && digest->sha256 == manifest.sha256) {
    return absl::OkStatus();
  }
  return absl::DataLossError(absl::StrCat(from, " is not what its manifest says (", digest->bytes,
                                          " bytes of ", manifest.bytes, ", SHA-256 ",
                                          digest->sha256 == manifest.sha256 ? "equal" : "different",
                                          "): it was cut off or changed; use another backup"));
}

// A backup that was killed after its copy got its name and before its manifest did is no backup:
// the name goes with the rest of it. That it was a backup's, the manifest's temporary file shows.
void TakeBackHalfNamed(const std::string& to) {
  if (!FileExists(to) || FileExists(ManifestOf(to))) return;
  const std::vector<Leftover> leftovers = LeftoversBeside(to);
  const bool manifest = std::any_of(leftovers.begin(), leftovers.end(), [&](const Leftover& l) {
    return l.ended && l.name == ManifestOf(to);
  });
  for (const Leftover& leftover : leftovers) {
    if (manifest && leftover.ended && SameFile(leftover.path, to)) unlink(to.c_str());
  }
}

}  // namespace

absl::StatusOr<BackupReport> Backup(const std::string& depot_file, const std::string& to,
                                    int64_t created_us, const ProgressFn& progress) {
  TakeBackHalfNamed(to);
  std::vector<std::string> left_alone = RemoveLeftovers(to);
  for (const std::string& name : {to, ManifestOf(to)}) {
    if (absl::Status free = MustBeFree(name); !free.ok()) return free;
  }
  if (absl::Status depot = CheckDepot(depot_file); !depot.ok()) return depot;
  TemporaryFile copy(to);
  if (absl::Status copied = CopyInto(depot_file, copy.path()); !copied.ok()) return copied;
  absl::StatusOr<BackupReport> report = Examine(copy.path(), "", progress);
  if (!report.ok()) return report;
  if (absl::Status synced = SyncFile(copy.path()); !synced.ok()) return synced;
  const absl::StatusOr<FileDigest> digest = DigestFile(copy.path());
  if (!digest.ok()) return digest.status();
  report->path = to;
  report->left_alone = std::move(left_alone);
  report->bytes = digest->bytes;
  report->sha256 = digest->sha256;
  TemporaryFile manifest(ManifestOf(to));
  if (absl::Status s = WriteFile(manifest.path(), ManifestText(*report, created_us)); !s.ok()) {
    return s;
  }
  // The manifest comes last: a copy without one is not taken for a backup.
  if (absl::Status kept = copy.KeepAs(to); !kept.ok()) return kept;
  if (absl::Status kept = manifest.KeepAs(ManifestOf(to)); !kept.ok()) return kept;
  return report;
}

absl::StatusOr<BackupReport> Restore(const std::string& from, const std::string& depot_file,
                                     const ProgressFn& progress) {
  std::vector<std::string> left_alone = RemoveLeftovers(depot_file);
  for (const char* suffix : {"", "-wal", "-shm"}) {
    if (absl::Status free = MustBeFree(absl::StrCat(depot_file, suffix)); !free.ok()) return free;
  }
  if (!FileExists(from)) {
    return absl::NotFoundError(absl::StrCat("there is no backup ", from, "; check the path"));
  }
  const absl::StatusOr<BackupReport> manifest = ReadManifest(ManifestOf(from));
  if (!manifest.ok()) return manifest.status();
  if (absl::Status same = MatchesManifest(from, *manifest); !same.ok()) return same;
  TemporaryFile copy(depot_file);
  if (absl::Status copied = CopyFile(from, copy.path()); !copied.ok()) return copied;
  absl::StatusOr<BackupReport> report = Examine(copy.path(), NewEpoch(), progress);
  if (!report.ok()) return report;
  if (report->head_sequence != manifest->head_sequence ||
      report->head_digest != manifest->head_digest) {
    return absl::DataLossError(absl::StrCat(
        from, " ends at entry ", report->head_sequence, ", its manifest says ",
        manifest->head_sequence, " with another digest or position; use another backup"));
  }
  if (absl::Status synced = SyncFile(copy.path()); !synced.ok()) return synced;
  if (absl::Status kept = copy.KeepAs(depot_file); !kept.ok()) return kept;
  report->path = depot_file;
  report->left_alone = std::move(left_alone);
  report->bytes = manifest->bytes;
  return report;
}

absl::Status PlainCopy(const std::string& depot_file, const std::string& to) {
  if (absl::Status free = MustBeFree(to); !free.ok()) return free;
  TemporaryFile copy(to);
  if (absl::Status copied = CopyInto(depot_file, copy.path()); !copied.ok()) return copied;
  return copy.KeepAs(to);
}

}  // namespace ferrule::service
