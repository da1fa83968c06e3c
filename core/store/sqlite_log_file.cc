#include "core/store/sqlite_log_file.h"

#include <sqlite3.h>

#include <cstddef>
#include <cstring>
#include <new>

namespace ferrule::store {
namespace {

constexpr char kName[] = "ferrule-log";
// 30 pages of 4 KiB with their headers. SQLite's own file takes less than 128 KiB at once.
constexpr int kPieceBytes = 30 * (4096 + 24);

// What SQLite sees of the log; its own file object lies directly behind this one.
struct LogFile {
  sqlite3_file base;
  unsigned char* piece;  // bytes that are not in the file yet; null: nothing is gathered
  int size;              // of the piece
  sqlite3_int64 at;      // where in the file it begins

  sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};
static_assert(sizeof(LogFile) % alignof(std::max_align_t) == 0);

LogFile* Log(sqlite3_file* file) { return reinterpret_cast<LogFile*>(file); }

// A piece is dropped when it fails: SQLite takes back the transaction then, and writes its next one
// from where the last good one ended.
int Flush(LogFile* log) {
  if (log->size == 0) return SQLITE_OK;
  const int size = log->size;
  log->size = 0;
  return log->real()->pMethods->xWrite(log->real(), log->piece, size, log->at);
}

int Write(sqlite3_file* file, const void* bytes, int size, sqlite3_int64 at) {
  LogFile* log = Log(file);
  if (log->piece == nullptr) return log->real()->pMethods->xWrite(log->real(), bytes, size, at);
  if (log->size > 0 && (at != log->at + log->size || size > kPieceBytes - log->size)) {
    if (const int code = Flush(log); code != SQLITE_OK) return code;
  }
  if (size > kPieceBytes) return log->real()->pMethods->xWrite(log->real(), bytes, size, at);
  if (log->size == 0) log->at = at;
  std::memcpy(log->piece + log->size, bytes, static_cast<size_t>(size));
  log->size += size;
  return SQLITE_OK;
}

// A method of SQLite's own file, run once nothing is held back from it.
template <auto kMethod>
struct Flushed;
template <typename... Arguments, int (*sqlite3_io_methods::*kMethod)(sqlite3_file*, Arguments...)>
struct Flushed<kMethod> {
  static int Run(sqlite3_file* file, Arguments... arguments) {
    if (const int code = Flush(Log(file)); code != SQLITE_OK) return code;
    sqlite3_file* real = Log(file)->real();
    return (real->pMethods->*kMethod)(real, arguments...);
  }
};

// One that asks about the device and not about the file.
template <int (*sqlite3_io_methods::*kMethod)(sqlite3_file*)>
int OfDevice(sqlite3_file* file) {
  sqlite3_file* real = Log(file)->real();
  return (real->pMethods->*kMethod)(real);
}

int Close(sqlite3_file* file) {
  LogFile* log = Log(file);
  const int flushed = Flush(log);
  sqlite3_free(log->piece);
  const int closed = log->real()->pMethods->xClose(log->real());
  return flushed != SQLITE_OK ? flushed : closed;
}

// Version 1: a log has no shared memory and is not mapped.
constexpr sqlite3_io_methods Methods() {
  sqlite3_io_methods methods{};
  methods.iVersion = 1;
  methods.xClose = Close;
  methods.xRead = Flushed<&sqlite3_io_methods::xRead>::Run;
  methods.xWrite = Write;
  methods.xTruncate = Flushed<&sqlite3_io_methods::xTruncate>::Run;
  methods.xSync = Flushed<&sqlite3_io_methods::xSync>::Run;
  methods.xFileSize = Flushed<&sqlite3_io_methods::xFileSize>::Run;
  methods.xLock = Flushed<&sqlite3_io_methods::xLock>::Run;
  methods.xUnlock = Flushed<&sqlite3_io_methods::xUnlock>::Run;
  methods.xCheckReservedLock = Flushed<&sqlite3_io_methods::xCheckReservedLock>::Run;
  methods.xFileControl = Flushed<&sqlite3_io_methods::xFileControl>::Run;
  methods.xSectorSize = OfDevice<&sqlite3_io_methods::xSectorSize>;
  methods.xDeviceCharacteristics = OfDevice<&sqlite3_io_methods::xDeviceCharacteristics>;
  return methods;
}
constexpr sqlite3_io_methods kMethods = Methods();

sqlite3_vfs* Own(sqlite3_vfs* vfs) { return static_cast<sqlite3_vfs*>(vfs->pAppData); }

int Open(sqlite3_vfs* vfs, const char* path, sqlite3_file* file, int flags, int* out_flags) {
  sqlite3_vfs* own = Own(vfs);
  if ((flags & SQLITE_OPEN_WAL) == 0) return own->xOpen(own, path, file, flags, out_flags);
  LogFile* log = new (file) LogFile{};
  const int code = own->xOpen(own, path, log->real(), flags, out_flags);
  if (code != SQLITE_OK) {
    // SQLite does not close what has no methods, as this one.
    if (log->real()->pMethods != nullptr) log->real()->pMethods->xClose(log->real());
    return code;
  }
  // Where a power cut may hurt what lies beside a write, SQLite ends a commit in the middle of
  // bytes that are synced: what follows them must not stay here.
  if ((OfDevice<&sqlite3_io_methods::xDeviceCharacteristics>(file) &
       SQLITE_IOCAP_POWERSAFE_OVERWRITE) != 0) {
    log->piece = static_cast<unsigned char*>(sqlite3_malloc(kPieceBytes));
  }
  log->base.pMethods = &kMethods;
  return SQLITE_OK;
}

// A method of SQLite's own file system.
template <auto kMethod>
struct Passed;
template <typename Result, typename... Arguments,
          Result (*sqlite3_vfs::*kMethod)(sqlite3_vfs*, Arguments...)>
struct Passed<kMethod> {
  static Result Run(sqlite3_vfs* vfs, Arguments... arguments) {
    return (Own(vfs)->*kMethod)(Own(vfs), arguments...);
  }
};

// SQLite's own, but for opening. Extensions are never loaded.
const char* Register() {
  sqlite3_vfs* own = sqlite3_vfs_find(nullptr);
  if (own == nullptr || own->iVersion < 2) return "";
  static sqlite3_vfs vfs{};
  vfs.iVersion = 2;
  vfs.szOsFile = own->szOsFile + static_cast<int>(sizeof(LogFile));
  vfs.mxPathname = own->mxPathname;
  vfs.zName = kName;
  vfs.pAppData = own;
  vfs.xOpen = Open;
  vfs.xDelete = Passed<&sqlite3_vfs::xDelete>::Run;
  vfs.xAccess = Passed<&sqlite3_vfs::xAccess>::Run;
  vfs.xFullPathname = Passed<&sqlite3_vfs::xFullPathname>::Run;
  vfs.xRandomness = Passed<&sqlite3_vfs::xRandomness>::Run;
  vfs.xSleep = Passed<&sqlite3_vfs::xSleep>::Run;
  vfs.xCurrentTime = Passed<&sqlite3_vfs::xCurrentTime>::Run;
  vfs.xGetLastError = Passed<&sqlite3_vfs::xGetLastError>::Run;
  vfs.xCurrentTimeInt64 = Passed<&sqlite3_vfs::xCurrentTimeInt64>::Run;
  return sqlite3_vfs_register(&vfs, 0) == SQLITE_OK ? kName : "";
}

}  // namespace

const char* LogGatheringVfs() {
  static const char* const name = Register();
  return name;
}

}  // namespace ferrule::store
